"""Waits of a surge as whole seconds and how often each occurred.

Tallies are sparse and exact, so quantiles of waits from any number of surges are those of the list
of all waits, and nothing grows with the number of surges. Only waits beyond :data:`COARSE_FROM_S`
are kept to the next whole minute.
"""

from __future__ import annotations

import numpy as np

from surge_sim.engine.log import IntArray

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
