"""When the patients of one surge come: draws around the expected curve, and from other sources."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from surge_sim.demand.blocks import Source
from surge_sim.demand.curve import whole_counts
from surge_sim.demand.plan import Plan
from surge_sim.demand.size import refuse_patients
from surge_sim.randomness import Purpose, Streams
from surge_sim.units import DAY_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Arrivals(NamedTuple):
    """Moments [s] at which the patients of one source come, in the order of drawing."""

    #: a `Source`; clusters are numbered from ``Source.CLUSTERS`` on
    source: int
    at_s: IntArray


def draw_arrivals(plan: Plan, streams: Streams) -> list[Arrivals]:
    """Draw when patients come, source by source.

    A source added at the end (a cluster, extra patients) moves no patient of the others.
    """
    if plan.curve is None:
        return []
    refuse_patients(streams, plan.expected_patients)
    return [Arrivals(source, at_s) for source, at_s in _sources(plan, streams)]


def _sources(plan: Plan, streams: Streams) -> Iterator[tuple[int, IntArray]]:
    arrivals, curve, horizon_s = plan.settings.arrivals, plan.curve, plan.settings.horizon
    assert arrivals is not None and curve is not None

    def stream(source: Source) -> Generator:
        return streams.stream(Purpose.ARRIVALS, source)

    if arrivals.present_at_start:
        yield Source.PRESENT, np.zeros(arrivals.present_at_start, dtype=np.int64)
    yield Source.CURVE, moments_in_slots(stream(Source.CURVE), curve.edges_s, curve.drawn)
    if arrivals.daily_counts is not None and arrivals.daily_counts.exact:
        counted_s = _moments_of_counts(stream(Source.COUNTS), plan)
        yield Source.COUNTS, counted_s[counted_s < horizon_s]
    if plan.extra is not None:
        yield Source.EXTRA, moments_in_slots(stream(Source.EXTRA), *plan.extra)
    for source, cluster in enumerate(arrivals.clusters, start=Source.CLUSTERS):
        share = streams.stream(Purpose.CLUSTERS, source).random(cluster.patients)
        at_s = cluster.at + (share * (cluster.within + 1)).astype(np.int64)
        yield source, at_s[at_s < horizon_s]


def moments_in_slots(rng: Generator, edges_s: IntArray, expected: FloatArray) -> IntArray:
    """Draw a Poisson number of moments [s] in each slot, evenly within the slot.

    Parameters
    ----------
    rng : Generator
    edges_s, expected : ndarray, shapes (slots + 1,) and (slots,)
        Edges of the slots [s] and how many moments are expected in each.

    Returns
    -------
    ndarray of int64
        Moments [s], slot after slot.
    """
    counts = rng.poisson(expected)
    from_s, length_s = edges_s[:-1].repeat(counts), np.diff(edges_s).repeat(counts)
    return from_s + (rng.random(len(from_s)) * length_s).astype(np.int64)


def _moments_of_counts(rng: Generator, plan: Plan) -> IntArray:
    """Draw the moments [s] of exact daily counts, shaped over the hours of each day."""
    assert plan.settings.arrivals is not None
    counts = whole_counts(plan.settings.arrivals)
    day_s = np.arange(len(counts) + 1) * DAY_S
    busy = plan.arrival_hours.busy(day_s)
    from_busy, length_busy = busy[:-1].repeat(counts), np.diff(busy).repeat(counts)
    at_s = plan.arrival_hours.moment(from_busy + rng.random(len(from_busy)) * length_busy)
    first_s = day_s[:-1].repeat(counts)
    return np.clip(at_s.astype(np.int64), first_s, first_s + DAY_S - 1)
