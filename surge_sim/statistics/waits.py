"""Waits of all surges, and how sure their quantiles are.

Waits of a surge are kept as whole seconds and how often each occurred. Such tallies are sparse and
exact, so quantiles of waits from any number of surges are those of the list of all waits, and
nothing grows with the number of surges. Only waits beyond :data:`COARSE_FROM_S` are kept to the
next whole minute.

How sure a quantile is comes from the surges, not from the waits: along a ladder of waits, the
share that waits no longer than a rung is a ratio over surges with an error of its own, and the
limits of the quantile are where that share, with its error, passes the level: Woodruff,
"Confidence intervals for medians and other position measures", Journal of the American
Statistical Association 47, 1952. No density is estimated, so a heap of waits of 0 does no harm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from surge_sim.engine.log import IntArray
from surge_sim.statistics import intervals
from surge_sim.statistics.intervals import CONFIDENCE, FEWEST, NOTHING, Interval

MINUTE = 1.0 / 60.0
QUANTILES = (0.5, 0.9, 0.95, 0.99)

#: longer waits are counted at the next whole minute, which no answer shows [s]
COARSE_FROM_S = 6 * 3_600


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


def tally(values: IntArray, counts: IntArray) -> IntArray:
    """Return the distinct values in rising order and their counts, shape (2, distinct)."""
    distinct, place = np.unique(values, return_inverse=True)
    summed = np.zeros(len(distinct), dtype=np.int64)
    np.add.at(summed, place, counts)
    return np.stack([distinct, summed])


def within(ladder_s: IntArray, wait_s: IntArray, counts: IntArray) -> IntArray:
    """Count the waits that are no longer than each rung, shape (rungs,)."""
    rung = np.searchsorted(ladder_s, wait_s)
    return np.bincount(rung, counts, len(ladder_s)).cumsum().astype(np.int64)[: len(ladder_s)]


def quantile(wait_s: IntArray, counts: IntArray, share: float) -> int | None:
    """Return the least wait with at least this share at or below it; None without waits."""
    if not len(wait_s):
        return None
    return int(np.quantile(wait_s, share, weights=counts, method="inverted_cdf"))


@dataclass(frozen=True, eq=False)
class Waits:
    """Waits of one group of requests over all surges."""

    ladder_s: IntArray
    #: requests that waited no longer than each rung, shape (surges, rungs)
    within: IntArray
    #: requests, and their waiting seconds, shape (surges,)
    requests: IntArray
    total_s: IntArray
    #: distinct waits [s], long ones coarse, and how often each occurred, shape (distinct,)
    wait_s: IntArray
    counts: IntArray
    #: the longest wait [s]; -1: none
    longest_s: int

    def mean(self) -> Interval:
        """Return the mean wait over all requests [s]."""
        return intervals.ratio_interval(self.total_s, self.requests)

    def share_within(self) -> list[tuple[int, Interval]]:
        """Return the share of requests that wait no longer than each rung [s], to the longest."""
        last = np.searchsorted(self.ladder_s, max(self.longest_s, 0)) + 1
        shares = intervals.ratios(self.within[:, :last], self.requests[:, None], highest=1.0)
        return list(zip(self.ladder_s[:last].tolist(), shares, strict=True))

    def quantile(self, share: float, confidence: float = CONFIDENCE) -> Interval:
        """Return a quantile of the wait over all requests, with limits from the surges [s].

        Without limits where fewer than :data:`FEWEST` surges have longer waits, or shorter ones;
        without an upper limit when even the longest wait may lie below the quantile.
        """
        middle = quantile(self.wait_s, self.counts, share)
        if middle is None:
            return NOTHING
        place = int(np.searchsorted(self.ladder_s, middle, side="right"))
        x = self.within[:, [max(place - 1, 0), min(place, len(self.ladder_s) - 1)]]
        y = np.broadcast_to(self.requests[:, None], x.shape)
        if len(x) < 2 or intervals.telling(x, y, share=True).max() < FEWEST:
            return Interval(float(middle), None, None)
        error, skewness, lean = intervals.spread(x, y)
        sides = intervals.skewness_corrected(len(x), skewness, lean, confidence) * error
        # between two rungs the farther limits are taken, which hold in any case
        down, up = sides.max(axis=1)
        low = quantile(self.wait_s, self.counts, max(share - up, 0.0))
        high = quantile(self.wait_s, self.counts, share + down) if share + down < 1.0 else None
        return Interval(
            float(middle), *(None if end is None else float(end) for end in (low, high))
        )

    def measures(self) -> dict[str, Interval]:
        """Return mean, quantiles and longest of the wait [min].

        A higher quantile is never shorter, and neither are its limits: see :func:`rising_limits`.
        """
        quantiles = rising_limits([self.quantile(share) for share in QUANTILES])
        names = [f"p{round(100 * share)}" for share in QUANTILES]
        longest = NOTHING if self.longest_s < 0 else Interval(float(self.longest_s), None, None)
        found = {"mean": self.mean(), **dict(zip(names, quantiles, strict=True)), "max": longest}
        return {name: interval.scaled(MINUTE) for name, interval in found.items()}


def rising_limits(intervals: Sequence[Interval]) -> list[Interval]:
    """Widen the limits along a curve that only rises until they do so too.

    Limits that are worked out point by point need not rise, because the error is another one at
    each point; a band with a hump says what cannot be. The upper limit becomes the highest of
    those at the point and before, the lower limit the lowest of those at the point and beyond. No
    interval gets narrower, so what each holds it still holds with at least its confidence.

    Parameters
    ----------
    intervals : sequence of Interval
        Points of the curve, in order.

    Returns
    -------
    list of Interval
        The same estimates. A limit that is not known stays unknown and widens no other.
    """
    estimate, low, high = np.array(intervals, dtype=float).reshape(-1, 3).T
    wide_low = np.where(np.isnan(low), np.nan, np.fmin.accumulate(low[::-1])[::-1])
    wide_high = np.where(np.isnan(high), np.nan, np.fmax.accumulate(high))
    return [Interval.of(point) for point in zip(estimate, wide_low, wide_high, strict=True)]
