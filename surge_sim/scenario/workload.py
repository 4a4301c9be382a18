"""How large a simulated surge would be, from the settings alone: judged before it is drawn.

Expected numbers, with long stays counted rather too high than too low. What is drawn and played is
held against the same limits again: alarms and postponements show only then.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from itertools import pairwise
from statistics import NormalDist
from typing import Any

from surge_sim.errors import Fault
from surge_sim.scenario.faults import Found
from surge_sim.scenario.limits import (
    MOST_CLASSES,
    MOST_LISTED,
    MOST_OF_ANYTHING,
    MOST_PATIENTS,
    MOST_REQUESTS,
)
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.timeline import BatteriesOnLoan, ChargersOnLoan, ExtraPatients, KitsOnLoan
from surge_sim.scenario.yaml_text import Path, Tree
from surge_sim.units import DAY_S


def _size(settings: Settings) -> Iterator[Found]:
    """Judge patients, then entries."""
    if settings.arrivals is None:
        return
    patients = expected_patients(settings)
    total = sum(patients.values())
    source = max(patients, key=lambda place: patients[place])
    if total > MOST_PATIENTS:
        yield Found(
            source,
            f"brings the patients of a surge to some {_rounded(total)}",
            f"A simulated surge has {MOST_PATIENTS:,} patients at most: check rates, counts and "
            "the horizon.",
        )
        return
    visits = expected_visits(settings)
    entries = sum(visits.values()) * total
    if entries > MOST_REQUESTS:
        yield Found(
            max(visits, key=lambda place: visits[place]),
            f"brings the entries of a surge to some {_rounded(entries)}",
            f"A simulated surge has {MOST_REQUESTS:,} requests at most: check rates, teams, the "
            "length of isolation and the horizon.",
        )


def shortened(tree: Tree) -> list[Fault]:
    """Cut lists and sections that are too long, and tell of them: the rest is judged as usual."""
    faults: list[Fault] = []
    looked_at: list[tuple[Path, Any]] = [((), tree.root)]
    while looked_at:
        place, value = looked_at.pop()
        if not isinstance(value, dict | list):
            continue
        most = MOST_CLASSES if place in (("classes",), ("roles",)) else MOST_LISTED
        if len(value) > most:
            found = f"has {len(value):,} items"
            right = f"Use {most:,} at most; long lists of times belong in a file."
            faults.append(tree.fault(place or ("the file",), found, right))
            for name in list(value)[most:] if isinstance(value, dict) else ():
                del value[name]
            if isinstance(value, list):
                del value[most:]
        members = value.items() if isinstance(value, dict) else enumerate(value)
        looked_at += [((*place, name), member) for name, member in members]
    return faults


def _rounded(number: float) -> str:
    """Write a large number with two digits that mean something."""
    if not math.isfinite(number) or number >= 1e15:
        return "a million thousand million or more"
    digits = max(int(math.log10(max(number, 1))) - 1, 0)
    return f"{round(number, -digits):,.0f}"


def _counts(settings: Settings) -> Iterator[Found]:
    """Judge what is on loan."""
    most, stock = MOST_OF_ANYTHING, settings.stock
    for kind, name, total in (
        (KitsOnLoan, "kits", stock.kits),
        (BatteriesOnLoan, "batteries", stock.batteries),
        (ChargersOnLoan, "chargers", 0),
    ):
        for number, event in enumerate(settings.timeline):
            if isinstance(event, kind):
                total += getattr(event, name)
                if total > most:
                    yield Found(
                        ("timeline", number, name),
                        f"makes {total:,} {name}, with those in hand and on loan before",
                        f"Use {most:,} in all at most.",
                    )
                    break


def expected_patients(settings: Settings) -> dict[Path, float]:
    """Return the patients to expect in a surge by the place that brings them.

    Extra patients count in full for whatever rises and falls with time.
    """
    arrivals = settings.arrivals
    assert arrivals is not None
    days, steady, highest = settings.horizon / DAY_S, *_factors(settings)
    found: dict[Path, float] = {
        ("arrivals", "baseline"): arrivals.baseline * days * steady,
        ("arrivals", "present_at_start"): arrivals.present_at_start,
    }
    for number, cluster in enumerate(arrivals.clusters):
        found["arrivals", "clusters", number] = cluster.patients
    if arrivals.wave is not None:
        length = min(days, 2.6 * arrivals.wave.width / DAY_S)
        found["arrivals", "wave"] = arrivals.wave.extra_at_peak * length * highest
    if arrivals.epidemic is not None:
        one = arrivals.epidemic
        found["arrivals", "epidemic"] = one.population * one.admitted * highest
    if arrivals.daily_counts is not None:
        counted = sum(arrivals.daily_counts.counts) * arrivals.daily_counts.share
        found["arrivals", "daily_counts"] = counted * highest
    return found


def _factors(settings: Settings) -> tuple[float, float]:
    """Return by how much extra patients raise the arrivals: over the horizon, and at most."""
    extra = [event for event in settings.timeline if isinstance(event, ExtraPatients)]
    ends = {min(at, settings.horizon) for one in extra for at in (one.at, one.at + one.lasts)}
    mean, highest = 0.0, 1.0
    for from_s, to_s in pairwise(sorted({0, settings.horizon, *ends})):
        there = [one.arrivals for one in extra if one.at <= from_s < one.at + one.lasts]
        factor = math.prod(there)
        mean += factor * (to_s - from_s) / settings.horizon
        highest = max(highest, factor)
    return mean, highest


def expected_visits(settings: Settings) -> dict[Path, float]:
    """Return the visits to expect per patient by class and kind, with or without a kit."""
    found: dict[Path, float] = {}
    for name, one in settings.classes.items():
        days = one.share * min(mean_at_most(one.isolation), settings.horizon) / DAY_S
        found["classes", name, "entries"] = days * sum(one.entries.values())
        if one.urgent is not None:
            found["classes", name, "urgent"] = days * one.urgent.per_patient * one.urgent.team
    return found or {("classes",): 0.0}


def mean_at_most(spread: TimeSpread) -> float:
    """Return the mean of a spread [s]; of one given by quantiles the long-tailed reading."""
    if spread.mean is not None:
        return spread.mean
    if spread.values:
        return sum(spread.values) / len(spread.values)
    low, high = spread.quantiles[0], spread.quantiles[-1]
    normal = NormalDist()
    apart = normal.inv_cdf(high.p) - normal.inv_cdf(low.p)
    sigma = math.log(max(high.time_s, 1) / max(low.time_s, 1)) / apart if apart > 0 else 0.0
    log_median = math.log(max(low.time_s, 1)) - normal.inv_cdf(low.p) * sigma
    return math.exp(min(log_median + sigma**2 / 2, 50.0))


#: what is judged of a scenario; one that meets a field that is wrong in itself ends there
SIZE_CHECKS: tuple[Callable[[Settings], Iterator[Found]], ...] = (_counts, _size)
