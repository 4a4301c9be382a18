"""Looks at a stock that were fixed beforehand: it may be decided early, at a fair price.

A test that may end at one of several numbers of surges errs no more often than the chances of
its looks add up to, whatever the looks have in common (Bonferroni). The last look keeps most of
the chance, so that looking early costs little.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.statistics.binomial import (
    least_passes,
    least_surges,
    lower_limit,
    upper_limit,
)

#: first look; each later one has twice as many surges, the last one all of them
_FIRST = 100
#: a look at more than this part of all surges would be as good as the last
_NEAR = 0.75
#: part of the chance of error that the last look keeps; of the others each has twice as much as
#: the one before
_LAST_PART = 0.65
#: a stock can hardly be shown to pass (or to fail) any more when the passes (misses) it lacks lie
#: so many standard deviations above those to come; a candidate is given up less readily
_HARDLY_PASS, _HARDLY_FAIL = 2.0, 1.5


class Look(NamedTuple):
    """A number of surges, and the part of the chance of error that is spent there."""

    surges: int
    part: float


@lru_cache
def looks(surges: int) -> tuple[Look, ...]:
    """Return the looks at a stock that is played on up to so many surges.

    Parameters
    ----------
    surges : int
        Most surges, at least 1.

    Returns
    -------
    tuple of Look
        In order; the parts add up to 1.
    """
    early = []
    look = _FIRST
    while look <= _NEAR * surges:
        early.append(look)
        look *= 2
    whole = 2.0 ** len(early) - 1.0
    parts = [(1.0 - _LAST_PART) * 2.0**place / whole for place in range(len(early))]
    last = Look(surges, _LAST_PART if early else 1.0)
    return (*map(Look, early, parts), last)


@lru_cache
def least_surges_to_pass(share: float, alpha: float) -> int:
    """Return the least surges of which some number on target shows a share, if none is missed.

    Parameters
    ----------
    share : float
        To be shown, between 0 and 1.
    alpha : float
        Chance of error of the test, its looks together.
    """
    surges = least_surges(share, alpha)
    while least_passes(surges, share, looks(surges)[-1].part * alpha) > surges:
        surges += 1
    return surges


def passed_at(kept: NDArray[np.int64], surges: int, share: float, alpha: float) -> Look | None:
    """Return the first look at which a stock was shown to pass, None if at none so far.

    Parameters
    ----------
    kept : ndarray of int, shape (surges played,)
        1 for every surge on target.
    surges : int
        Most surges, fixed beforehand.
    share : float
        To be shown [0..1].
    alpha : float
        Chance of showing it wrongly at any look, at most.
    """
    for look in looks(surges):
        if look.surges > len(kept):
            return None
        passes = int(kept[: look.surges].sum())
        if lower_limit(passes, look.surges, look.part * alpha) >= share:
            return look
    return None


def failed_at(kept: NDArray[np.int64], surges: int, share: float, alpha: float) -> Look | None:
    """Return the first look at which a stock was shown to fail, None if at none so far.

    Parameters
    ----------
    kept, surges, share, alpha
        See :func:`passed_at`.
    """
    for look in looks(surges):
        if look.surges > len(kept):
            return None
        passes = int(kept[: look.surges].sum())
        if upper_limit(passes, look.surges, look.part * alpha) < share:
            return look
    return None


def may_pass(passes: int, played: int, surges: int, share: float, alpha: float) -> bool:
    """Return whether a stock has a fair chance to be shown to pass at the last look.

    To stop at "no" is always honest: it can only leave something unsaid.

    Parameters
    ----------
    passes, played : int
        Surges on target, of how many so far.
    surges, share, alpha
        See :func:`passed_at`.
    """
    needed = least_passes(surges, share, looks(surges)[-1].part * alpha)
    return _likely(needed - passes, passes, played, surges, _HARDLY_PASS)


def may_fail(passes: int, played: int, surges: int, share: float, alpha: float) -> bool:
    """Return whether a stock has a fair chance to be shown to fail at the last look.

    Parameters
    ----------
    passes, played, surges, share, alpha
        See :func:`may_pass`.
    """
    needed = least_passes(surges, 1.0 - share, looks(surges)[-1].part * alpha)
    misses = played - passes
    return _likely(needed - misses, misses, played, surges, _HARDLY_FAIL)


def _likely(lacks: int, found: int, played: int, surges: int, deviations: float) -> bool:
    left = surges - played
    if lacks > left:
        return False
    rate = (found + 0.5) / (played + 1.0)
    # the rate is not known better than what was played tells
    spread = math.sqrt(left * rate * (1.0 - rate) * (1.0 + left / max(played, 1)))
    return lacks <= left * rate + deviations * spread
