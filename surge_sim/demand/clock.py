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

#: a moment within the longest horizon, ten years, in whole seconds
MOMENT_BITS = 29
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
        self.offset_s = clock_at_start_s(start)
        none = weights is not None and not any(weights)
        scaled = np.ones(24) if weights is None else mean_one(weights)
        #: busy seconds of a day, and at the edges of its hours
        self.day = 0.0 if none else float(DAY_S)
        self.edges = np.concatenate(([0.0], np.cumsum(scaled) * HOUR_S))
        self.edges[-1] = self.day
        #: busy seconds per second, hour by hour
        self.pace = np.diff(self.edges) / HOUR_S
        # seconds per busy second and the way back to the clock, hour by hour
        self.slope = np.divide(1.0, scaled, out=np.zeros(24), where=scaled > 0)
        self.shift = np.arange(24) * HOUR_S - self.edges[:-1] * self.slope
        # hour that contains the beginning of each of the guide's even steps of busy seconds
        steps = np.arange(_GUIDE, dtype=np.float64) * (DAY_S / _GUIDE)
        self.guide = np.minimum(np.searchsorted(self.edges[1:], steps, side="right"), 23)

    def busy(self, at_s: IntArray) -> FloatArray:
        """Return the busy seconds from the midnight before second 0 until each moment [s]."""
        return DailyShapes([self]).busy(at_s)[0]

    def moment(self, busy: FloatArray) -> FloatArray:
        """Return the moments [s] at which the busy seconds are reached; undoes `busy`."""
        return DailyShapes([self]).moment(np.zeros(len(busy), dtype=np.int64), busy)


class DailyShapes:
    """Several daily shapes of one start, side by side."""

    def __init__(self, shapes: Sequence[DailyShape]) -> None:
        self._offset_s = shapes[0].offset_s
        self._day = np.array([[shape.day] for shape in shapes])
        self._edges = np.stack([shape.edges[:-1] for shape in shapes])
        self._pace = np.stack([shape.pace for shape in shapes])
        # in one row each, for looking up by shape x 24 + hour
        self._ends = np.concatenate([shape.edges[1:] for shape in shapes])
        self._slope = np.concatenate([shape.slope for shape in shapes])
        self._shift = np.concatenate([shape.shift for shape in shapes])
        self._guide = np.concatenate(
            [shape.guide + 24 * number for number, shape in enumerate(shapes)]
        )

    def busy(self, at_s: IntArray) -> FloatArray:
        """Return the busy seconds of each shape until each moment [s], shape (shapes, moments)."""
        clock_s = at_s + self._offset_s
        day = clock_s // DAY_S
        second = clock_s - day * DAY_S
        hour = second // HOUR_S
        busy = self._pace[:, hour] * (second - hour * HOUR_S)
        busy += self._edges[:, hour]
        busy += day * self._day
        return busy

    def moment(self, which: IntArray, busy: FloatArray) -> FloatArray:
        """Return the moments [s] at which a shape's busy seconds are reached.

        Parameters
        ----------
        which : ndarray of int64, shape (moments,)
            Number of the shape.
        busy : ndarray of float64, shape (moments,)
            Its busy seconds; undoes `busy`.

        Returns
        -------
        ndarray of float64, shape (moments,)
            Moments [s].
        """
        day_s = np.floor(busy * (1 / DAY_S))
        day_s *= DAY_S
        within = busy - day_s
        # rounding may put a moment at the very end of a day a little past it
        np.minimum(within, DAY_S - 1e-6, out=within)
        np.maximum(within, 0.0, out=within)
        place = self._guide[which * _GUIDE + (within * (_GUIDE / DAY_S)).astype(np.int64)]
        while (past := within >= self._ends[place]).any():
            place += past
        within *= self._slope[place]
        within += self._shift[place]
        within += day_s
        within -= self._offset_s
        return within


@lru_cache(maxsize=64)
def side_by_side(*shapes: DailyShape) -> DailyShapes:
    """Return these shapes side by side, worked out once."""
    return DailyShapes(shapes)


@lru_cache(maxsize=256)
def daily_shape(weights: tuple[float, ...] | None, start: datetime) -> DailyShape:
    """Return the shape of these weights, worked out once."""
    return DailyShape(weights, start)
