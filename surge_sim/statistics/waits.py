"""Waits of all surges in one histogram, and how sure its quantiles are.

The histogram is sparse and exact: whole seconds and how often each occurred, so quantiles of
waits from any number of surges are those of the list of all waits, and nothing grows with the
number of surges. Only waits beyond :data:`COARSE_FROM_S` are kept to the next whole minute.

How sure a quantile is comes from the surges, not from the waits: along a ladder of waits, the
share that waits no longer than a rung is a ratio over surges with an error of its own, and the
limits of the quantile are where that share, with its error, passes the level: Woodruff,
"Confidence intervals for medians and other position measures", Journal of the American
Statistical Association 47, 1952. No density is estimated, so a heap of waits of 0 does no harm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from surge_sim.engine.log import IntArray
from surge_sim.statistics.intervals import (
    CONFIDENCE,
    FEWEST,
    NOTHING,
    Interval,
    ratio_interval_of,
    reaches,
)
from surge_sim.statistics.moments import RatioSums

#: longer waits are counted at the next whole minute, which no answer shows [s]
COARSE_FROM_S = 6 * 3_600
#: surges' histograms are added together when so many of them wait
_BATCH = 32


def rungs(longest_s: int, *marks_s: int) -> IntArray:
    """Return a ladder of waits [s] up to the longest, with the marks among its rungs.

    A rung is 5 s, and later a twentieth, above the one below.
    """
    ladder = [0, 1]
    while ladder[-1] < longest_s:
        ladder.append(ladder[-1] + max(ladder[-1] // 20, 5))
    return np.unique(np.array([*ladder, *marks_s], dtype=np.int64))


def coarse(wait_s: IntArray) -> IntArray:
    """Return the waits as they are kept: long ones up to the next whole minute."""
    return np.where(wait_s > COARSE_FROM_S, -(-wait_s // 60) * 60, wait_s)


@dataclass
class Histogram:
    """Values and how often each occurred; adding is exact and in any order."""

    values: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    counts: IntArray = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    _new: list[tuple[IntArray, IntArray]] = field(default_factory=list, repr=False)

    def add(self, values: IntArray, counts: IntArray) -> None:
        """Add values with their counts."""
        self._new.append((values, counts))
        if len(self._new) >= _BATCH:
            self.settle()

    def join(self, other: Histogram) -> None:
        """Add all of another histogram."""
        other.settle()
        self.add(other.values, other.counts)

    def __getstate__(self) -> dict[str, object]:
        self.settle()
        return self.__dict__

    def settle(self) -> Histogram:
        """Fold in what was added; return itself."""
        if self._new:
            values = np.concatenate([self.values, *(values for values, _ in self._new)])
            counts = np.concatenate([self.counts, *(counts for _, counts in self._new)])
            self._new.clear()
            self.values, place = np.unique(values, return_inverse=True)
            self.counts = np.zeros(len(self.values), dtype=np.int64)
            np.add.at(self.counts, place, counts)
        return self

    def quantile(self, share: float) -> int | None:
        """Return the least value with at least this share at or below it."""
        self.settle()
        total = int(self.counts.sum())
        if not total:
            return None
        # the small factor keeps 0.07 x 100 at 7, which it exceeds in binary fractions
        wanted = max(math.ceil(share * total * (1.0 - 1e-12)), 1)
        return int(self.values[np.searchsorted(np.cumsum(self.counts), wanted)])


@dataclass
class WaitSums:
    """Waits of one group of needs over all surges."""

    ladder_s: IntArray
    histogram: Histogram = field(default_factory=Histogram)
    #: per rung: needs that waited no longer, over needs
    within: RatioSums = field(init=False)
    #: waiting seconds over needs
    total: RatioSums = field(init=False)
    longest_s: int | None = None

    def __post_init__(self) -> None:
        self.within = RatioSums(len(self.ladder_s))
        self.total = RatioSums(1)

    def add(self, values: IntArray, counts: IntArray, total_s: int, longest_s: int) -> None:
        """Add one surge.

        Parameters
        ----------
        values, counts : ndarray of int64, shape (distinct,)
            Waits [s] in rising order, long ones coarse, and how often each occurred.
        total_s, longest_s : int
            Sum of the waits, and the longest (-1: none), before they were made coarse [s].
        """
        needs = int(counts.sum())
        below = np.concatenate(([0], np.cumsum(counts)))
        within = below[np.searchsorted(values, self.ladder_s, side="right")]
        self.within.add(within, np.full(len(self.ladder_s), needs))
        self.total.add(np.array([total_s]), np.array([needs]))
        self.histogram.add(values, counts)
        if needs:
            self.longest_s = max(longest_s, self.longest_s or 0)

    def join(self, other: WaitSums) -> None:
        """Add the waits of other surges, along the same ladder."""
        self.within.join(other.within)
        self.total.join(other.total)
        self.histogram.join(other.histogram)
        if other.longest_s is not None:
            self.longest_s = max(other.longest_s, self.longest_s or 0)

    @property
    def needs(self) -> int:
        """Number of needs in all surges."""
        return int(self.total.y[0])

    def mean(self, confidence: float = CONFIDENCE) -> Interval:
        """Return the mean wait over all needs [s]."""
        return ratio_interval_of(self.total, 0, confidence)

    def share_within(self, confidence: float = CONFIDENCE) -> list[tuple[int, Interval]]:
        """Return the share of needs that wait no longer than each rung [s], up to the longest."""
        last = np.searchsorted(self.ladder_s, self.longest_s or 0) + 1
        return [
            (int(rung), ratio_interval_of(self.within, place, confidence, 0.0, 1.0))
            for place, rung in enumerate(self.ladder_s[:last])
        ]

    def quantile(self, share: float, confidence: float = CONFIDENCE) -> Interval:
        """Return a quantile of the wait over all needs, with limits from the surges [s].

        Without limits where fewer than :data:`FEWEST` surges have longer waits, or shorter ones;
        without an upper limit when even the longest wait may lie below the quantile.
        """
        middle = self.histogram.quantile(share)
        if middle is None:
            return NOTHING
        place = int(np.searchsorted(self.ladder_s, middle, side="right"))
        around = [max(place - 1, 0), min(place, len(self.ladder_s) - 1)]
        if max(self.within.differing(rung, share=True) for rung in around) < FEWEST:
            return Interval(float(middle), None, None)
        down, up = self._reaches(around, confidence)
        low = self.histogram.quantile(max(share - up, 0.0))
        high = self.histogram.quantile(share + down) if share + down < 1.0 else None
        return Interval(
            float(middle),
            None if low is None else float(low),
            None if high is None else float(high),
        )

    def _reaches(self, around: list[int], confidence: float) -> tuple[float, float]:
        """How far below and above its estimate the share at a wait between these rungs may lie."""
        found = []
        for rung in around:
            error = self.within.error(rung) or 0.0
            sides = reaches(self.within.surges, *self.within.shape(rung), confidence)
            found.append([side * error for side in sides])
        # between two rungs the farther limits are the honest ones
        down, up = np.max(found, axis=0)
        return float(down), float(up)
