"""Sums over surges from which ratios and their errors follow: exact whole numbers.

Whole numbers do not round, so the result depends neither on the order of the surges nor on how
they were split over processes; and their room does not grow with the number of surges.
"""

from __future__ import annotations

import math
from contextlib import suppress
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

#: whole numbers of any size (Python's own), so that squares of seconds never overflow
Whole = NDArray[Any]


#: products of x and y whose sums are kept; each is one of those before it times x or y
_PRODUCTS = ("x", "y", "xx", "xy", "yy", "xxx", "xxy", "xyy", "yyy")
#: surges that are added together, for speed
_TOGETHER = 32


#: beyond any whole number of a surge
_FAR = 2**62


class _Extreme(NamedTuple):
    """The lowest (or highest) x of each pair, and the number of surges that have it."""

    value: NDArray[np.int64]
    surges: NDArray[np.int64]

    @classmethod
    def of(cls, x: NDArray[np.int64], value: NDArray[np.int64]) -> _Extreme:
        """Count the surges, the rows of x, that have the value."""
        return cls(value, (x == value).sum(axis=0))

    def joined(self, other: _Extreme, extreme: np.ufunc) -> _Extreme:
        """Return that of both sets of surges together."""
        value = extreme(self.value, other.value)
        surges = self.surges * (self.value == value) + other.surges * (other.value == value)
        return _Extreme(value, surges)


def _sum_of(name: str) -> property:
    place = _PRODUCTS.index(name)

    def get(sums: RatioSums) -> Whole:
        return sums._settled()[place]

    return property(get, doc=f"Sum of {'*'.join(name)}.")


class RatioSums:
    """Sums of x, y and their products over surges, for many pairs (x, y) side by side.

    The ratio of a pair is the sum of all x over the sum of all y, for example late seconds over
    entries; ``y = 1`` throughout makes it the mean of x over surges. Each sum, ``x``, ``y``,
    ``xx`` to ``yyy``, has the shape (pairs,).
    """

    x, y = _sum_of("x"), _sum_of("y")
    xx, xy, yy = _sum_of("xx"), _sum_of("xy"), _sum_of("yy")
    xxx, xxy, xyy, yyy = _sum_of("xxx"), _sum_of("xxy"), _sum_of("xyy"), _sum_of("yyy")

    def __init__(self, pairs: int) -> None:
        self.surges = 0
        self._sums: Whole = np.zeros((len(_PRODUCTS), pairs), dtype=object)
        #: surges in which x is the lowest seen, the highest seen, or equal to y
        self._lowest = _Extreme(np.full(pairs, _FAR), np.zeros(pairs, dtype=np.int64))
        self._highest = _Extreme(np.full(pairs, -_FAR), np.zeros(pairs, dtype=np.int64))
        self._whole = np.zeros(pairs, dtype=np.int64)
        self._waiting: list[tuple[NDArray[np.int64], NDArray[np.int64]]] = []

    def add(self, x: NDArray[np.int64], y: NDArray[np.int64]) -> None:
        """Add one surge: whole numbers x and y, each of shape (pairs,)."""
        self.surges += 1
        self._waiting.append((np.array(x, dtype=np.int64), np.array(y, dtype=np.int64)))
        if len(self._waiting) >= _TOGETHER:
            self._settled()

    def join(self, other: RatioSums) -> None:
        """Add the sums of other surges, for the same pairs."""
        self.surges += other.surges
        self._sums = self._settled() + other._settled()
        self._lowest = self._lowest.joined(other._lowest, np.minimum)
        self._highest = self._highest.joined(other._highest, np.maximum)
        self._whole = self._whole + other._whole

    def __getstate__(self) -> dict[str, Any]:
        """Travel light: machine numbers where they suffice."""
        sums = self._settled()
        with suppress(OverflowError):
            sums = sums.astype(np.int64)
        return {**self.__dict__, "_sums": sums, "_waiting": []}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__dict__.update(state)
        self._sums = self._sums.astype(object)

    def _settled(self) -> Whole:
        """Return all sums, with the surges that waited to be added; shape (sums, pairs)."""
        if self._waiting:
            x, y = (np.stack(column) for column in zip(*self._waiting, strict=True))
            self._waiting = []
            self._lowest = self._lowest.joined(_Extreme.of(x, x.min(axis=0)), np.minimum)
            self._highest = self._highest.joined(_Extreme.of(x, x.max(axis=0)), np.maximum)
            self._whole = self._whole + (x == y).sum(axis=0)
            largest = np.maximum(np.abs(x).max(axis=0), np.abs(y).max(axis=0)).astype(object)
            # machine numbers where the sum of cubes has room in them, Python's own elsewhere
            small = (len(x) * largest**3 < 2**63).astype(np.bool_)
            for pairs, kind in ((small, np.int64), (~small, object)):
                if not pairs.any():
                    continue
                found = {"x": x[:, pairs].astype(kind), "y": y[:, pairs].astype(kind)}
                for place, name in enumerate(_PRODUCTS):
                    if name not in found:
                        found[name] = found[name[:-1]] * found[name[-1]]
                    self._sums[place, pairs] += found[name].sum(axis=0)
        return self._sums

    def ratio(self, pair: int) -> Fraction | None:
        """Return the ratio of one pair, or None when nothing was counted."""
        return Fraction(int(self.x[pair]), int(self.y[pair])) if self.y[pair] else None

    def differing(self, pair: int, share: bool = False) -> int:
        """Return the number of surges that say how far the ratio of one pair may be off.

        Of a share (x at most y) those with some of it and those with less than all, whichever are
        fewer; of a mean over surges those in which x is not at its lowest, or not at its highest;
        of any other ratio those in which x is not at its lowest.
        """
        if share:
            return min(self.some(pair), self.short(pair))
        self._settled()
        above = self.surges - int(self._lowest.surges[pair])
        if self.y[pair] == self.yy[pair] == self.surges:
            return min(above, self.surges - int(self._highest.surges[pair]))
        return above

    def some(self, pair: int) -> int:
        """Return the number of surges in which x is above 0."""
        self._settled()
        none = int(self._lowest.surges[pair]) if self._lowest.value[pair] == 0 else 0
        return self.surges - none

    def short(self, pair: int) -> int:
        """Return the number of surges in which x is less than y."""
        self._settled()
        return self.surges - int(self._whole[pair])

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
