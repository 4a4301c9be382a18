"""Random checks with a stated false-alarm rate, and a fixed seed that was never tuned."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats

#: chance that one check fails although the program is right
EACH = 1e-6
#: this folder makes no more checks than this in one run of its tests: conftest.py counts them
MOST_CHECKS = 100
FALSE_ALARM = MOST_CHECKS * EACH
_MOST_Z = float(stats.norm.isf(EACH / 2))

Answer = Callable[..., bool]
made = 0


def counted(check: Answer) -> Answer:
    """Count every call of a check."""

    @wraps(check)
    def call(*arguments: object) -> bool:
        global made
        made += 1
        return check(*arguments)

    return call


@counted
def agrees(observed: float, expected: float, standard_error: float) -> bool:
    """Return whether a normal estimate is as near as it must be (false alarm 1 in a million)."""
    return abs(observed - expected) <= _MOST_Z * standard_error


@counted
def count_agrees(observed: int, expected: float) -> bool:
    """Return whether a Poisson count is as near as it must be, by its exact tails."""
    low = stats.poisson.cdf(observed, expected)
    high = stats.poisson.sf(observed - 1, expected)
    return bool(min(low, high) >= EACH / 2)


@counted
def counts_agree(observed: ArrayLike, expected: ArrayLike) -> bool:
    """Return whether all of several counts agree; Bonferroni over them."""
    seen, mean = np.ravel(np.asarray(observed)), np.ravel(np.asarray(expected, dtype=float))
    tails = np.minimum(stats.poisson.cdf(seen, mean), stats.poisson.sf(seen - 1, mean))
    return bool((tails >= EACH / 2 / len(seen)).all())


@counted
def share_agrees(observed: int, tries: int, share: float) -> bool:
    """Return whether a binomial count is as near as it must be, by its exact tails."""
    low = stats.binom.cdf(observed, tries, share)
    high = stats.binom.sf(observed - 1, tries, share)
    return bool(min(low, high) >= EACH / 2)


@counted
def follows(values: ArrayLike, cdf: object) -> bool:
    """Return whether values follow a continuous distribution (Kolmogorov-Smirnov)."""
    return bool(stats.kstest(np.asarray(values), cdf).pvalue >= EACH)
