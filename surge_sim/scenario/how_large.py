"""How many patients and visits a simulated surge has to expect, before any is drawn."""

from __future__ import annotations

import math
from itertools import pairwise

from surge_sim.scenario.patients import Epidemic
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import mean_at_most
from surge_sim.scenario.timeline import ExtraPatients
from surge_sim.scenario.yaml_text import Path
from surge_sim.units import DAY_S


def expected_patients(settings: Settings) -> dict[Path, float]:
    """Return the patients to expect in a surge by the place that brings them.

    Extra patients count in full for whatever rises and falls with time.
    """
    arrivals = settings.arrivals
    assert arrivals is not None
    days, steady, highest = settings.horizon / DAY_S, *_factors(settings)
    found: dict[Path, float] = {
        ("arrivals", "baseline"): arrivals.baseline * days * steady,
        ("arrivals", "initial_census"): arrivals.initial_census,
    }
    if settings.run_in:
        ordinary = arrivals.baseline * settings.run_in / DAY_S
        found[("run_in",)] = ordinary + arrivals.initial_census
    for number, cluster in enumerate(arrivals.clusters):
        found["arrivals", "clusters", number] = cluster.patients
    if arrivals.wave is not None:
        length = min(days, 2.6 * arrivals.wave.width / DAY_S)
        found["arrivals", "wave"] = arrivals.wave.extra_at_peak * length * highest
    if arrivals.epidemic is not None:
        one = arrivals.epidemic
        ill = most_ill(one, max(settings.horizon - one.onset_to_admission, 0))
        found["arrivals", "epidemic"] = ill * one.admitted * highest
    if arrivals.daily_counts is not None:
        inside = arrivals.daily_counts.counts[: math.ceil(days)]
        found["arrivals", "daily_counts"] = sum(inside) * arrivals.daily_counts.share * highest
    return found


def most_ill(epidemic: Epidemic, within_s: int) -> float:
    """Return an upper bound of the people who fall ill within a time, beside the first cases.

    The people who can be infected only become fewer, so the epidemic never grows faster than at
    first: the infectious are at most ``first cases x exp(growth x time)``, where (growth + 1 /
    latent) (growth + 1 / infectious) = R x open share / (latent x infectious). Each of them infects
    R x open share in the infectious time.

    Parameters
    ----------
    epidemic : Epidemic
    within_s : int
        Since the first cases are infectious [s].
    """
    latent, infectious, open_share = epidemic.latent, epidemic.infectious, 1 - epidemic.immune
    infects = epidemic.reproduction_number * open_share
    if latent:
        ends = 1 / latent + 1 / infectious
        discriminant = (1 / latent - 1 / infectious) ** 2 + 4 * infects / (latent * infectious)
        growth = (math.sqrt(discriminant) - ends) / 2
    else:
        growth = (infects - 1) / infectious
    everybody = epidemic.population * open_share
    exponent = min(growth * within_s, 100.0)
    # the integral of exp(growth x time), in infectious times
    spent = (math.expm1(exponent) / growth if growth else within_s) / infectious
    return min(epidemic.first_cases * infects * spent, everybody)


def _factors(settings: Settings) -> tuple[float, float]:
    """Return by how much extra patients raise the arrivals: over the horizon, and at most."""
    extra = [event for event in settings.timeline if isinstance(event, ExtraPatients)]
    ends = {min(at, settings.horizon) for one in extra for at in (one.at, one.at + one.lasts)}
    mean, highest = 0.0, 1.0
    for from_s, to_s in pairwise(sorted({0, settings.horizon, *ends})):
        factor = math.prod(one.arrivals for one in extra if one.at <= from_s < one.until)
        mean += factor * (to_s - from_s) / settings.horizon
        highest = max(highest, factor)
    return mean, highest


def expected_visits(settings: Settings) -> dict[Path, float]:
    """Return the visits to expect per patient by class and kind, with or without a kit."""
    found: dict[Path, float] = {}
    for name, one in settings.classes.items():
        days = one.share * min(mean_at_most(one.length_of_isolation), settings.horizon) / DAY_S
        found["classes", name, "entries"] = days * sum(one.entries.values())
        if one.urgent is not None:
            found["classes", name, "urgent"] = days * one.urgent.per_patient * one.urgent.team
    return found or {("classes",): 0.0}
