"""The clock of the ward: hours of the day, days of the week, and weights that repeat daily."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from surge_sim.units import DAY_S, HOUR_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: steps of the guide that finds the hour of a busy second
_GUIDE = 512


def clock_at_start_s(start: datetime) -> int:
    """Return the second of the day at which second 0 falls."""
    return start.hour * HOUR_S + start.minute * 60 + start.second


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
    """Scale weights to a mean of 1; weights that are all 0 stay so."""
    array = np.asarray(weights, dtype=np.float64)
    mean = array.mean()
    return array / mean if mean > 0 else array


class DailyShape:
    """Weights of the 24 hours as a clock that runs fast in busy hours: busy seconds.

    A whole day has as many busy seconds as seconds. Events at a steady rate per busy second
    are events at the hourly weights per second.
    """

    def __init__(self, weights: Sequence[float] | None, start: datetime) -> None:
        self._offset_s = clock_at_start_s(start)
        self._even = weights is None or (len(set(weights)) == 1 and weights[0] > 0)
        self._none = weights is not None and not any(weights)
        scaled = np.ones(24) if weights is None else mean_one(weights)
        self._edges_s = np.arange(25, dtype=np.float64) * HOUR_S
        self._busy = np.concatenate(([0.0], np.cumsum(scaled) * HOUR_S))
        self._busy[-1] = DAY_S
        # seconds per busy second and the way back to the clock, hour by hour
        self._slope = np.divide(1.0, scaled, out=np.zeros(24), where=scaled > 0)
        self._shift = self._edges_s[:-1] - self._busy[:-1] * self._slope
        # hour that contains the beginning of each of the guide's even steps of busy seconds
        steps = np.arange(_GUIDE, dtype=np.float64) * (DAY_S / _GUIDE)
        self._guide = np.searchsorted(self._busy[1:], steps, side="right")

    def busy(self, at_s: IntArray) -> FloatArray:
        """Return the busy seconds from the midnight before second 0 until each moment [s]."""
        if self._none:
            return np.zeros(len(at_s))
        clock_s = at_s + self._offset_s
        if self._even:
            return clock_s.astype(np.float64)
        day = clock_s // DAY_S
        second = clock_s - day * DAY_S
        return day * float(DAY_S) + np.interp(second, self._edges_s, self._busy)

    def moment(self, busy: FloatArray) -> FloatArray:
        """Return the moments [s] at which the busy seconds are reached; undoes `busy`."""
        if self._even:
            return busy - self._offset_s
        day_s = np.floor(busy * (1 / DAY_S))
        day_s *= DAY_S
        within = busy - day_s
        # rounding may put a moment at the very end of a day a little past it
        np.minimum(within, DAY_S - 1e-6, out=within)
        np.maximum(within, 0.0, out=within)
        hour = self._guide[(within * (_GUIDE / DAY_S)).astype(np.int64)]
        while (past := within >= self._busy[1:][hour]).any():
            hour += past
        within *= self._slope[hour]
        within += self._shift[hour]
        within += day_s
        within -= self._offset_s
        return within


@lru_cache(maxsize=256)
def daily_shape(weights: tuple[float, ...] | None, start: datetime) -> DailyShape:
    """Return the shape of these weights, worked out once."""
    return DailyShape(weights, start)
