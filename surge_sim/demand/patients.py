"""Patients of one surge: when they come, of which class, and how long they stay.

Patients present at the start have whole stays or residual ones, as the scenario says. In a unit in
its steady state whoever is found present has a stay drawn with weight in proportion to its length,
and is at an even point of it (renewal theory: Cox, Renewal Theory, 1962; from memory). So the
residual stay has the mean E[S^2] / (2 E[S]) and goes on beyond t with the share integral of
P(S > u) du from t on, over E[S]; a class is found with weight share x mean stay.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from surge_sim.demand.curve import whole_counts
from surge_sim.demand.distributions import Distribution, whole_seconds
from surge_sim.demand.plan import Plan
from surge_sim.errors import Fault, ScenarioError
from surge_sim.randomness import Kind, Purpose, Source, Streams, block_of
from surge_sim.scenario.limits import MOST_PATIENTS
from surge_sim.units import DAY_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Patients(NamedTuple):
    """Patients of one surge in the order of arrival; arrays of shape (patients,)."""

    arrive_s: IntArray
    #: end of isolation [s]; may lie past the horizon
    leave_s: IntArray
    patient_class: IntArray
    #: how long the terminal clean after each takes [s]; 0 where there is none
    clean_s: IntArray
    #: numbers of the patients in the order of drawing, which keeps the order of the sources
    drawn: IntArray
    #: patients of another scenario who do not come in this one; None: all come
    left_out: NDArray[np.bool_] | None = None


def draw_patients(plan: Plan, streams: Streams) -> Patients:
    """Draw when patients come, and the class, the stay and the terminal clean of each.

    They are drawn source by source: those present at the start, the curve, exact counts, extra
    patients, clusters. At the same second they come in this order, and a source added at the end
    moves no patient of the others.
    """
    if plan.expected_patients > MOST_PATIENTS:
        found = f"`arrivals` would bring {plan.expected_patients:,.0f} patients."
        right = f"A simulated surge has {MOST_PATIENTS:,} at most: check rates and counts."
        raise too_large(streams, found, right)
    none = np.zeros(0, dtype=np.int64)
    drawn = [(none, none, none, none)]
    sources = list(_arrivals(plan, streams))
    drawn += [_of_source(plan, streams, source, at_s) for source, at_s in sources]
    at_s, classes, stay_s, clean_s = (np.concatenate(column) for column in zip(*drawn, strict=True))
    order = at_s.argsort(kind="stable")
    number = np.empty_like(order)
    number[order] = np.arange(len(order))
    left_out = None if plan.kept is None else _left_out(plan, streams, sources)[order]
    return Patients(
        at_s[order], (at_s + stay_s)[order], classes[order], clean_s[order], number, left_out
    )


def _left_out(
    plan: Plan, streams: Streams, sources: Sequence[tuple[int, IntArray]]
) -> NDArray[np.bool_]:
    """Return which patients, in the order of drawing, are left out: some of the curve's."""
    assert plan.curve is not None and plan.kept is not None
    parts = [np.zeros(0, dtype=np.bool_)]
    for source, at_s in sources:
        part = np.zeros(len(at_s), dtype=np.bool_)
        if source == Source.CURVE:
            slot = plan.curve.edges_s.searchsorted(at_s, side="right") - 1
            mark = streams.stream(Purpose.LEFT_OUT, source).random(len(at_s))
            part = mark >= plan.kept[slot]
        parts.append(part)
    return np.concatenate(parts)


def too_large(streams: Streams, found: str, right: str) -> ScenarioError:
    """Say that a surge is larger than the limits allow; it is refused before it is drawn."""
    return ScenarioError([Fault(f"surge {streams.surge} of seed {streams.seed}", 0, found, right)])


def _arrivals(plan: Plan, streams: Streams) -> Iterator[tuple[int, IntArray]]:
    """Draw the moments [s] at which the patients of each source come; clusters have numbers."""
    arrivals, curve, horizon_s = plan.settings.arrivals, plan.curve, plan.settings.horizon
    assert arrivals is not None and curve is not None, "patients are drawn where some arrive"

    def stream(source: Source) -> Generator:
        return streams.stream(Purpose.ARRIVALS, source)

    if arrivals.initial_census:
        yield Source.PRESENT, np.zeros(arrivals.initial_census, dtype=np.int64)
    yield Source.CURVE, _moments_in_slots(stream(Source.CURVE), curve.edges_s, curve.drawn)
    if arrivals.daily_counts is not None and arrivals.daily_counts.exact:
        counted_s = _moments_of_counts(stream(Source.COUNTS), plan, whole_counts(arrivals))
        yield Source.COUNTS, counted_s[counted_s < horizon_s]
    if plan.extra is not None:
        yield Source.EXTRA, _moments_in_slots(stream(Source.EXTRA), *plan.extra)
    for source, cluster in enumerate(arrivals.clusters, start=Source.CLUSTERS):
        share = streams.stream(Purpose.CLUSTERS, source).random(cluster.patients)
        at_s = cluster.at + (share * (cluster.within + 1)).astype(np.int64)
        yield source, at_s[at_s < horizon_s]
    if plan.more is not None:
        yield Source.MORE, _moments_in_slots(stream(Source.MORE), *plan.more)


def _moments_in_slots(rng: Generator, edges_s: IntArray, expected: FloatArray) -> IntArray:
    """Draw a Poisson number of moments [s] in each slot, evenly within the slot."""
    counts = rng.poisson(expected)
    from_s, length_s = edges_s[:-1].repeat(counts), np.diff(edges_s).repeat(counts)
    return from_s + (rng.random(len(from_s)) * length_s).astype(np.int64)


def _moments_of_counts(rng: Generator, plan: Plan, counts: IntArray) -> IntArray:
    """Draw the moments [s] of exact daily counts, shaped over the hours of each day."""
    day_s = np.arange(len(counts) + 1) * DAY_S
    busy = plan.arrival_hours.busy(day_s)
    from_busy, length_busy = busy[:-1].repeat(counts), np.diff(busy).repeat(counts)
    at_s = plan.arrival_hours.moment(from_busy + rng.random(len(from_busy)) * length_busy)
    first_s = day_s[:-1].repeat(counts)
    return np.clip(at_s.astype(np.int64), first_s, first_s + DAY_S - 1)


def _of_source(
    plan: Plan, streams: Streams, source: int, at_s: IntArray
) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return when the patients of a source come, their classes, stays [s] and cleans [s]."""
    count = len(at_s)
    # classes of patients who were there before, where they stay for the rest of their stay
    found = plan.found_below if source == Source.PRESENT else None
    luck = streams.stream(Purpose.STAYS, source).random(count)
    classes = _classes(plan, streams, source, count, plan.classes_below if found is None else found)
    part = None
    if found is not None:
        part = streams.stream(Purpose.RESIDUAL_STAYS, source).random(count)
    stay_s = np.ones(count, dtype=np.int64)
    for number, isolation in enumerate(plan.length_of_isolation):
        theirs = np.flatnonzero(classes == number)
        if part is not None:
            stay_s[theirs] = residual_stays(isolation, luck[theirs], part[theirs])
        else:
            stay_s[theirs] = whole_seconds(isolation.quantile(luck[theirs]), 1)
    if plan.clean is None:
        return at_s, classes, stay_s, np.zeros(count, dtype=np.int64)
    clean = streams.stream(Purpose.TERMINAL_CLEAN, block_of(Kind.CLEAN, source)).random(count)
    return at_s, classes, stay_s, whole_seconds(plan.clean.quantile(clean), 0)


def _classes(plan: Plan, streams: Streams, source: int, count: int, below: FloatArray) -> IntArray:
    """Draw the class of each patient by the summed shares, unless a cluster names it."""
    if Source.CLUSTERS <= source < Source.MORE:
        named = plan.cluster_classes[source - Source.CLUSTERS]
        if named is not None:
            return np.full(count, named, dtype=np.int64)
    return below.searchsorted(streams.stream(Purpose.CLASSES, source).random(count), side="right")


def residual_stays(stay: Distribution, luck: FloatArray, part: FloatArray) -> IntArray:
    """Return residual stays [s].

    Parameters
    ----------
    stay : Distribution
        Of the whole stay.
    luck, part : ndarray of float64, shape (patients,)
        Even numbers from 0 to 1, 1 left out: for the whole stay, and for the part still to come.

    Returns
    -------
    ndarray of int64, shape (patients,)
        Of a stay of n seconds: 1 to n, each as likely.
    """
    whole_s = whole_seconds(stay.by_length().quantile(luck), 1)
    return (part * whole_s).astype(np.int64) + 1


def still_there(stay: Distribution, times_s: FloatArray) -> FloatArray:
    """Return the share of patients found present who still stay longer than each time [s].

    Of a stay of s seconds, weighted by its length, the share 1 - t / s goes on beyond t.
    """
    ages, mean = np.maximum(times_s, 0.0), stay.mean_s()
    if mean <= 0:
        return stay.longer_than(ages)
    beyond = stay.by_length().longer_than(ages) - ages * stay.longer_than(ages) / mean
    return np.asarray(np.clip(beyond, 0.0, 1.0))
