"""How many patients are admitted, and when: expected numbers by slot, and the drawn moments."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import (
    daily_shape,
    hour_edges_s,
    hours_and_weekdays,
    mean_one,
)
from surge_sim.demand.epidemic import epidemic_admissions
from surge_sim.scenario.arrivals import Arrivals, DayWeights, Wave
from surge_sim.scenario.events import Disruption, ExtraPatients
from surge_sim.units import DAY_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Curve:
    """Expected admissions; the rate is even within a slot. Arrays are read-only."""

    #: edges of the slots, from 0 to the horizon [s], shape (slots + 1,)
    edges_s: IntArray
    #: expected admissions [patients] that are drawn as Poisson counts, shape (slots,)
    drawn: FloatArray
    #: expected admissions [patients] out of exact daily counts, shape (slots,)
    exact: FloatArray
    #: factor of the arrivals by the disruptions, 1 or more, shape (slots,)
    factor: FloatArray

    @property
    def expected(self) -> FloatArray:
        """Expected admissions [patients] with the disruptions, shape (slots,)."""
        return (self.drawn + self.exact) * self.factor

    @cached_property
    def rises(self) -> bool:
        """Whether disruptions raise the arrivals at any time."""
        return bool((self.factor > 1).any())


def _wave(wave: Wave, edges_s: IntArray) -> FloatArray:
    """Expected patients of the wave between the edges: its exact integral."""
    if wave.width <= 0:
        return np.zeros(len(edges_s) - 1)
    scaled = (edges_s - wave.peak) / (wave.width * math.sqrt(2))
    below = np.array([math.erf(x) for x in scaled.tolist()])
    total = wave.extra_at_peak / DAY_S * wave.width * math.sqrt(math.pi / 2)
    return np.asarray(total * np.diff(below))


def day_weights(weights: DayWeights) -> FloatArray:
    """Return the weights from Monday to Sunday, scaled to a mean of 1."""
    return mean_one(
        [
            weights.monday,
            weights.tuesday,
            weights.wednesday,
            weights.thursday,
            weights.friday,
            weights.saturday,
            weights.sunday,
        ]
    )


def whole_counts(arrivals: Arrivals) -> IntArray:
    """Return the patients of each day of exact daily counts, shape (days,).

    Shares of a count are carried over to the next days, so that nobody is lost by rounding.
    """
    daily = arrivals.daily_counts
    if daily is None or not daily.exact:
        return np.zeros(0, dtype=np.int64)
    summed = np.cumsum(np.asarray(daily.counts, dtype=np.float64)) * daily.share
    whole = np.floor(summed + 0.5 - 1e-9).astype(np.int64)
    return np.asarray(np.diff(whole, prepend=0))


def _edges(arrivals: Arrivals, start: datetime, horizon_s: int) -> IntArray:
    edges = [hour_edges_s(start, horizon_s)]
    if arrivals.daily_counts is not None:
        edges.append(np.arange(0, horizon_s, DAY_S, dtype=np.int64))
    return np.unique(np.concatenate(edges))


@lru_cache(maxsize=256)
def _undisturbed(
    arrivals: Arrivals, start: datetime, horizon_s: int
) -> tuple[IntArray, FloatArray, FloatArray]:
    edges_s = _edges(arrivals, start, horizon_s)
    from_s, length_s = edges_s[:-1], np.diff(edges_s)
    steady = arrivals.baseline / DAY_S * length_s
    if arrivals.wave is not None:
        steady = steady + _wave(arrivals.wave, edges_s)
    if arrivals.epidemic is not None:
        steady = steady + epidemic_admissions(arrivals.epidemic, edges_s)
    hour, weekday = hours_and_weekdays(start, from_s)
    by_hour = np.ones(24) if arrivals.hours_of_day is None else mean_one(arrivals.hours_of_day)
    exact = np.zeros(len(from_s))
    daily = arrivals.daily_counts
    if daily is not None:
        day = from_s // DAY_S
        if daily.exact:
            shape = daily_shape(arrivals.hours_of_day, start)
            counts = np.append(whole_counts(arrivals), 0)
            busy = np.diff(shape.busy(edges_s)) / DAY_S
            exact = counts[np.minimum(day, len(counts) - 1)] * busy
        else:
            rate = np.append(np.asarray(daily.counts, dtype=np.float64) * daily.share, 0.0)
            steady = steady + rate[np.minimum(day, len(rate) - 1)] * length_s / DAY_S
    drawn = steady * by_hour[hour] * day_weights(arrivals.days_of_week)[weekday]
    return edges_s, drawn, exact


@lru_cache(maxsize=256)
def expected_curve(
    arrivals: Arrivals,
    start: datetime,
    horizon_s: int,
    disruptions: tuple[Disruption, ...] = (),
) -> Curve:
    """Work out the expected admissions of the horizon.

    Baseline, wave, epidemic and daily counts add up; hour-of-day and day-of-week weights multiply
    them (both of mean 1, the hour of a slot by the calendar of ``start``). Daily counts are
    of days of 24 hours from second 0; days past the end of the list have no patients. Exact
    counts follow the hour-of-day weights only: they are what they are on each day. Clusters and
    patients present at the start are not in the curve.

    Parameters
    ----------
    arrivals : Arrivals
        The section of the scenario.
    start : datetime
        Calendar time of second 0.
    horizon_s : int
        Length of the horizon [s].
    disruptions : tuple of Disruption
        Those with extra patients multiply the arrivals; where two overlap, both do.

    Returns
    -------
    Curve
        Slots of one clock hour, cut where a disruption begins or ends.
    """
    edges_s, drawn, exact = _undisturbed(arrivals, start, horizon_s)
    extra = [event for event in disruptions if isinstance(event, ExtraPatients)]
    factor = np.ones(len(drawn))
    if extra:
        cuts = [at_s for event in extra for at_s in (event.at, event.at + event.lasts)]
        cuts = [at_s for at_s in cuts if 0 < at_s < horizon_s]
        finer_s = np.unique(np.concatenate((edges_s, np.array(cuts, dtype=np.int64))))
        slot = np.searchsorted(edges_s, finer_s[:-1], side="right") - 1
        part = np.diff(finer_s) / np.diff(edges_s)[slot]
        edges_s, drawn, exact = finer_s, drawn[slot] * part, exact[slot] * part
        factor = np.ones(len(drawn))
        for event in extra:
            inside = (edges_s[:-1] >= event.at) & (edges_s[:-1] < event.at + event.lasts)
            factor[inside] *= event.arrivals
    for array in (edges_s, drawn, exact, factor):
        array.setflags(write=False)
    return Curve(edges_s, drawn, exact, factor)


def moments_in_slots(
    rngs: Sequence[np.random.Generator], edges_s: IntArray, expected: FloatArray
) -> list[IntArray]:
    """Draw a Poisson number of moments [s] in each slot, evenly within the slot.

    Parameters
    ----------
    rngs : sequence of Generator
        One for each surge, one at least.
    edges_s, expected : ndarray, shapes (slots + 1,) and (slots,)
        Edges of the slots [s] and how many moments are expected in each.

    Returns
    -------
    list of ndarray of int64
        Moments [s] of each surge, slot after slot.
    """
    counts = np.stack([rng.poisson(expected) for rng in rngs])
    slots = np.broadcast_to(np.arange(len(expected)), counts.shape)
    slot = slots.ravel().repeat(counts.ravel())
    bounds = [0, *counts.sum(axis=1).cumsum().tolist()]
    luck = np.empty(len(slot))
    for rng, (start, end) in zip(rngs, pairwise(bounds), strict=True):
        rng.random(out=luck[start:end])
    from_s = edges_s[slot]
    moments = from_s + (luck * (edges_s[slot + 1] - from_s)).astype(np.int64)
    return [moments[start:end] for start, end in pairwise(bounds)]


def moments_of_counts(
    rng: np.random.Generator, arrivals: Arrivals, start: datetime, horizon_s: int
) -> IntArray:
    """Draw the moments [s] of exact daily counts; those past the horizon are left out."""
    counts = whole_counts(arrivals)
    shape = daily_shape(arrivals.hours_of_day, start)
    day_edges = shape.busy(np.arange(len(counts) + 1, dtype=np.int64) * DAY_S)
    busy = np.repeat(day_edges[:-1], counts)
    busy = busy + rng.random(len(busy)) * np.repeat(np.diff(day_edges), counts)
    first_s = np.repeat(np.arange(len(counts), dtype=np.int64) * DAY_S, counts)
    moments = np.clip(shape.moment(busy).astype(np.int64), first_s, first_s + DAY_S - 1)
    return moments[moments < horizon_s]
