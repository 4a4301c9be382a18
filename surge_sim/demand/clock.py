"""The clock of the ward: hours of the day, days of the week, and weights that repeat daily."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from surge_sim.units import DAY_S, HOUR_S, clock_at_start_s

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_EDGES_S = np.arange(25) * float(HOUR_S)


def hour_edges_s(start: datetime, horizon_s: int) -> IntArray:
    """Return the edges of the clock hours within the horizon [s], shape (slots + 1,).

    The first and the last slot are shorter than an hour when the horizon does not begin or end
    on the hour.
    """
    past_s = clock_at_start_s(start) % HOUR_S
    inner = np.arange(HOUR_S - past_s, horizon_s, HOUR_S, dtype=np.int64)
    return np.concatenate(([0], inner, [horizon_s]))


def hours_and_weekdays(start: datetime, from_s: IntArray) -> tuple[IntArray, IntArray]:
    """Return the hour of the day (0..23) and the weekday (0 Monday) of each moment [s]."""
    clock_s = from_s + clock_at_start_s(start)
    return clock_s // HOUR_S % 24, (start.weekday() + clock_s // DAY_S) % 7


def mean_one(weights: Sequence[float]) -> FloatArray:
    """Scale weights, of which some are above 0, to a mean of 1."""
    array = np.asarray(weights, dtype=np.float64)
    return np.asarray(array / array.mean())


def ends_of_shifts(shifts: Sequence[int], start: datetime, horizon_s: int) -> IntArray:
    """Return the ends of all shifts in which there is a moment of the horizon [s].

    Parameters
    ----------
    shifts : sequence of int
        Seconds of the day at which shifts start, in any order. Every start is the end of the
        shift before; the first one ends what began the day before.
    start : datetime
        Calendar time of second 0.
    horizon_s : int
        Length of the horizon [s].
    """
    starts_s = np.unique(np.array(shifts, dtype=np.int64) % DAY_S)
    offset_s = clock_at_start_s(start)
    days = (horizon_s + offset_s) // DAY_S + 2
    ends_s = (np.arange(days)[:, np.newaxis] * DAY_S + starts_s - offset_s).ravel()
    return ends_s[ends_s > 0]


class DailyShape:
    """Weights of the 24 hours as a clock that runs fast in busy hours: busy seconds.

    A whole day has as many busy seconds as seconds. Events at a steady rate per busy second
    are events at the hourly weights per second.
    """

    def __init__(self, weights: Sequence[float] | None, start: datetime) -> None:
        self._offset_s = clock_at_start_s(start)
        scaled = np.ones(24) if weights is None else mean_one(weights)
        #: busy seconds at the edges of the hours of a day
        self._edges = np.concatenate(([0.0], np.cumsum(scaled) * HOUR_S))
        self._edges[-1] = DAY_S

    def busy(self, at_s: IntArray) -> FloatArray:
        """Return the busy seconds from the midnight before second 0 until each moment [s]."""
        day, second = np.divmod(at_s + self._offset_s, DAY_S)
        return np.asarray(np.interp(second, _EDGES_S, self._edges) + day * DAY_S)

    def moment(self, busy: FloatArray) -> FloatArray:
        """Return the moments [s] at which the busy seconds are reached; undoes `busy`."""
        day = np.floor(busy / DAY_S)
        # rounding may put a moment at the very end of a day a little past it
        within = np.minimum(busy - day * DAY_S, DAY_S - 1e-6)
        within_s = np.interp(within, self._edges, _EDGES_S)
        return np.asarray(within_s + (day * DAY_S - self._offset_s))
