"""Sums over surges from which ratios and their errors follow: exact whole numbers.

Whole numbers do not round, so the result depends neither on the order of the surges nor on how
they were split over processes; and their room does not grow with the number of surges.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

#: whole numbers of any size (Python's own), so that squares of seconds never overflow
Whole = NDArray[Any]


@dataclass
class RatioSums:
    """Sums of x, y and their products over surges, for many pairs (x, y) side by side.

    The ratio of a pair is the sum of all x over the sum of all y, for example late seconds over
    entries; ``y = 1`` throughout makes it the mean of x over surges.
    """

    surges: int
    x: Whole
    y: Whole
    xx: Whole
    xy: Whole
    yy: Whole
    xxx: Whole
    xxy: Whole
    xyy: Whole
    yyy: Whole

    @classmethod
    def of(cls, pairs: int) -> RatioSums:
        """Return empty sums for so many pairs."""
        return cls(0, *(np.zeros(pairs, dtype=object) for _ in range(9)))

    def add(self, x: NDArray[np.int64], y: NDArray[np.int64]) -> None:
        """Add one surge: whole numbers x and y, each of shape (pairs,)."""
        big_x, big_y = x.astype(object), y.astype(object)
        self.surges += 1
        self.x += big_x
        self.y += big_y
        xx, xy, yy = big_x * big_x, big_x * big_y, big_y * big_y
        self.xx += xx
        self.xy += xy
        self.yy += yy
        self.xxx += xx * big_x
        self.xxy += xx * big_y
        self.xyy += xy * big_y
        self.yyy += yy * big_y

    def ratio(self, pair: int) -> Fraction | None:
        """Return the ratio of one pair, or None when nothing was counted."""
        return Fraction(int(self.x[pair]), int(self.y[pair])) if self.y[pair] else None

    def error(self, pair: int) -> float | None:
        """Return the standard error of the ratio, or None for fewer than two surges.

        sd(x_r - R y_r) / (sqrt(n) mean(y)), the textbook error of a ratio of means: Cochran,
        "Sampling Techniques", 3rd edition, 1977, section 2.11 (from memory).
        """
        ratio = self.ratio(pair)
        if ratio is None or self.surges < 2:
            return None
        variance = self._squares(pair, ratio) / (self.surges - 1)
        return math.sqrt(variance / self.surges) / float(self._mean_y(pair))

    def shape(self, pair: int) -> tuple[float, float]:
        """Return (skewness, lean) of the residuals d_r = x_r - R y_r; 0 where there is no spread.

        The skewness is that of the sample, corrected for its size. The lean is
        mean(d y) / (mean(y) sd(d)): how much large surges (many entries) lie to one side.
        """
        ratio = self.ratio(pair)
        if ratio is None or self.surges < 3:
            return 0.0, 0.0
        count, squares = self.surges, self._squares(pair, ratio)
        if squares == 0:
            return 0.0, 0.0
        cubes = (
            int(self.xxx[pair])
            - 3 * ratio * int(self.xxy[pair])
            + 3 * ratio**2 * int(self.xyy[pair])
            - ratio**3 * int(self.yyy[pair])
        )
        spread = math.sqrt(squares / count)
        skewness = float(cubes / count) / spread**3
        skewness *= math.sqrt(count * (count - 1)) / (count - 2)
        together = (int(self.xy[pair]) - ratio * int(self.yy[pair])) / count
        lean = float(together / self._mean_y(pair)) / math.sqrt(squares / (count - 1))
        return skewness, lean

    def _squares(self, pair: int, ratio: Fraction) -> Fraction:
        """Return the residuals' squares, summed in whole numbers, so that nothing cancels."""
        return int(self.xx[pair]) - 2 * ratio * int(self.xy[pair]) + ratio**2 * int(self.yy[pair])

    def _mean_y(self, pair: int) -> Fraction:
        return Fraction(int(self.y[pair]), self.surges)
