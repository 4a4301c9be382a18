"""Waits of all surges, and how sure their quantiles are.

How sure a quantile is comes from the surges, not from the waits: along a ladder of waits, the
share that waits no longer than a rung is a ratio over surges with an error of its own, and the
limits of the quantile are where that share, with its error, passes the level: Woodruff,
"Confidence intervals for medians and other position measures", Journal of the American
Statistical Association 47, 1952. No density is estimated, so a heap of waits of 0 does no harm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from surge_sim.engine.log import IntArray
from surge_sim.statistics import intervals
from surge_sim.statistics.intervals import CONFIDENCE, FEWEST, NOTHING, Interval
from surge_sim.statistics.tally import quantile


@dataclass(frozen=True, eq=False)
class Waits:
    """Waits of one group of needs over all surges."""

    ladder_s: IntArray
    #: needs that waited no longer than each rung, shape (surges, rungs)
    within: IntArray
    #: needs, and their waiting seconds, shape (surges,)
    needs: IntArray
    total_s: IntArray
    #: distinct waits [s], long ones coarse, and how often each occurred, shape (distinct,)
    wait_s: IntArray
    counts: IntArray
    #: the longest wait [s]; -1: none
    longest_s: int

    def mean(self) -> Interval:
        """Return the mean wait over all needs [s]."""
        return intervals.ratio_interval(self.total_s, self.needs)

    def share_within(self) -> list[tuple[int, Interval]]:
        """Return the share of needs that wait no longer than each rung [s], up to the longest."""
        last = np.searchsorted(self.ladder_s, max(self.longest_s, 0)) + 1
        shares = intervals.ratios(self.within[:, :last], self.needs[:, None], highest=1.0)
        return list(zip(self.ladder_s[:last].tolist(), shares, strict=True))

    def quantile(self, share: float, confidence: float = CONFIDENCE) -> Interval:
        """Return a quantile of the wait over all needs, with limits from the surges [s].

        Without limits where fewer than :data:`FEWEST` surges have longer waits, or shorter ones;
        without an upper limit when even the longest wait may lie below the quantile.
        """
        middle = quantile(self.wait_s, self.counts, share)
        if middle is None:
            return NOTHING
        place = int(np.searchsorted(self.ladder_s, middle, side="right"))
        x = self.within[:, [max(place - 1, 0), min(place, len(self.ladder_s) - 1)]]
        y = np.broadcast_to(self.needs[:, None], x.shape)
        if len(x) < 2 or intervals.telling(x, y, share=True).max() < FEWEST:
            return Interval(float(middle), None, None)
        error, skewness, lean = intervals.spread(x, y)
        sides = intervals.reaches(len(x), skewness, lean, confidence) * error
        # between two rungs the farther limits are the honest ones
        down, up = sides.max(axis=1)
        low = quantile(self.wait_s, self.counts, max(share - up, 0.0))
        high = quantile(self.wait_s, self.counts, share + down) if share + down < 1.0 else None
        return Interval(
            float(middle), *(None if end is None else float(end) for end in (low, high))
        )
