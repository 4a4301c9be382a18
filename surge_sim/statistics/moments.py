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

    @classmethod
    def of(cls, pairs: int) -> RatioSums:
        """Return empty sums for so many pairs."""
        return cls(0, *(np.zeros(pairs, dtype=object) for _ in range(5)))

    def add(self, x: NDArray[np.int64], y: NDArray[np.int64]) -> None:
        """Add one surge: whole numbers x and y, each of shape (pairs,)."""
        big_x, big_y = x.astype(object), y.astype(object)
        self.surges += 1
        self.x += big_x
        self.y += big_y
        self.xx += big_x * big_x
        self.xy += big_x * big_y
        self.yy += big_y * big_y

    def ratio(self, pair: int) -> Fraction | None:
        """Return the ratio of one pair, or None when nothing was counted."""
        return Fraction(int(self.x[pair]), int(self.y[pair])) if self.y[pair] else None

    def error(self, pair: int) -> float | None:
        """Return the standard error of the ratio, or None for fewer than two surges.

        sd(x_r - R y_r) / (sqrt(n) mean(y)), the textbook error of a ratio of means: Cochran,
        "Sampling Techniques", 3rd edition, 1977, section 2.11 (from memory). The residuals'
        squares are summed in whole numbers, so nothing cancels.
        """
        ratio = self.ratio(pair)
        if ratio is None or self.surges < 2:
            return None
        squares = (
            int(self.xx[pair]) - 2 * ratio * int(self.xy[pair]) + ratio**2 * int(self.yy[pair])
        )
        variance = squares / (self.surges - 1)
        mean_y = Fraction(int(self.y[pair]), self.surges)
        return math.sqrt(variance / self.surges) / float(mean_y)
