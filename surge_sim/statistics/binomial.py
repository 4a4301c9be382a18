"""Exact statistics of yes-or-no results: how many of n surges kept the target, and how sure.

The surge is the unit: entries of one surge share its luck and are never counted one by one.
Limits are those of Clopper and Pearson ("The use of confidence or fiducial limits illustrated
in the case of the binomial", Biometrika 26, 1934).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special


def lower_limit(passes: int, surges: int, alpha: float) -> float:
    """Return the one-sided exact lower limit of a share.

    Parameters
    ----------
    passes, surges : int
        How many of how many.
    alpha : float
        Chance that the limit lies above the true share, at most.

    Returns
    -------
    float
        Limit [share 0..1].
    """
    _check(passes, surges)
    if passes == 0:
        return 0.0
    return float(special.betaincinv(passes, surges - passes + 1, alpha))


def upper_limit(passes: int, surges: int, alpha: float) -> float:
    """Return the one-sided exact upper limit of a share; see :func:`lower_limit`."""
    return 1.0 - lower_limit(surges - passes, surges, alpha)


def clopper_pearson(passes: int, surges: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the two-sided exact interval (low, high) of a share; (0, 1) without surges."""
    if surges == 0:
        return 0.0, 1.0
    alpha = (1.0 - confidence) / 2.0
    return lower_limit(passes, surges, alpha), upper_limit(passes, surges, alpha)


def least_surges(share: float, alpha: float, misses: int = 0) -> int:
    """Return the least surges of which all but ``misses`` must pass to show the share."""
    if not 0.0 < share < 1.0:
        raise ValueError("a share strictly between 0 and 1 can be shown")
    surges = misses + 1
    step = 1
    while lower_limit(surges - misses, surges, alpha) < share:
        surges += step
        step *= 2
    low, high = max(surges - step, misses + 1), surges
    while low < high:
        middle = (low + high) // 2
        if lower_limit(middle - misses, middle, alpha) >= share:
            high = middle
        else:
            low = middle + 1
    return low


def paired_p_value(gained: int, lost: int) -> float:
    """Return the exact two-sided sign test on the surges that changed.

    Q. McNemar, Note on the sampling error of the difference between correlated proportions or
    percentages, Psychometrika 12, 1947 (title from memory).
    """
    changed = gained + lost
    if changed == 0:
        return 1.0
    # twice the chance of so few on the rarer side, of which each surge is with 1 in 2
    return min(2.0 * float(_at_most(min(gained, lost), changed, 0.5)), 1.0)


def paired_difference_interval(
    gained: int, lost: int, surges: int, confidence: float = 0.95
) -> tuple[float, float]:
    """Return the interval of a change in a share, both stocks played on the same surges.

    Score interval of Tango ("Equivalence test and confidence interval for the difference in
    proportions for the paired-sample design", Statistics in Medicine 17, 1998). It is widened
    to touch 0 where the exact sign test cannot tell the two apart, so that the two never
    disagree. The interval that conditions on the changed surges is not used: with no surge
    lost it ends at the observed change and covers only about half of the time.

    Parameters
    ----------
    gained, lost : int
        Surges that failed before and pass now, and the other way round.
    surges : int
        All surges, changed or not.
    confidence : float
        Two-sided confidence [0..1].

    Returns
    -------
    tuple of float
        Low and high of (share now - share before), each -1..1.
    """
    if surges == 0:
        return -1.0, 1.0
    bound = -float(special.ndtri((1.0 - confidence) / 2.0))

    def score(change: float) -> float:
        return _tango(gained, lost, surges, change)

    observed = (gained - lost) / surges
    edge = 1.0 - 1e-9
    low = -1.0 if score(-edge) < bound else _root(score, -edge, observed, bound)
    high = 1.0 if score(edge) > -bound else _root(score, observed, edge, -bound)
    if paired_p_value(gained, lost) > 1.0 - confidence:
        low, high = min(low, 0.0), max(high, 0.0)
    return low, high


def quantile_limits(
    values: NDArray[np.int64], share: float, confidence: float = 0.95
) -> tuple[int | None, int | None, int | None]:
    """Return (low, estimate, high) of a quantile over surges by order statistics.

    Parameters
    ----------
    values : ndarray, shape (surges,)
        One value per surge.
    share : float
        Which quantile [0..1].
    confidence : float
        Two-sided confidence; ``None`` stands for a limit that so few surges cannot give.

    Returns
    -------
    tuple
        Distribution-free limits: they hold whatever the values' distribution.
    """
    ordered = np.sort(values)
    surges = len(ordered)
    if surges == 0:
        return None, None, None
    tail = (1.0 - confidence) / 2.0
    # P(j-th smallest <= quantile) is P(Binomial(surges, share) >= j)
    counts = _at_most(np.arange(surges), surges, share)
    lower_ranks = np.flatnonzero(counts <= tail)
    upper_ranks = np.flatnonzero(counts >= 1.0 - tail)
    low = int(ordered[lower_ranks[-1]]) if lower_ranks.size else None
    high = int(ordered[upper_ranks[0]]) if upper_ranks.size else None
    middle = int(ordered[max(math.ceil(share * surges - 1e-9) - 1, 0)])
    return low, middle, high


def _tango(gained: int, lost: int, surges: int, change: float) -> float:
    """Score statistic of a supposed change; falls as the change rises."""
    a = 2.0 * surges
    b = -gained - lost + (2.0 * surges - gained + lost) * change
    c = -lost * change * (1.0 - change)
    loss = (math.sqrt(max(b * b - 4.0 * a * c, 0.0)) - b) / (2.0 * a)
    variance = surges * (2.0 * loss + change * (1.0 - change))
    distance = gained - lost - surges * change
    if variance <= 0.0:
        return 0.0 if distance == 0.0 else math.copysign(math.inf, distance)
    return distance / math.sqrt(variance)


def _root(score, low: float, high: float, level: float) -> float:  # type: ignore[no-untyped-def]
    from scipy import optimize

    below, above = score(low) - level, score(high) - level
    if below <= 0.0:
        return low
    if above >= 0.0:
        return high
    return float(optimize.brentq(lambda change: score(change) - level, low, high, xtol=1e-9))


def _at_most(passes: ArrayLike, surges: int, share: float) -> NDArray[np.float64]:
    """Return P(Binomial(surges, share) <= passes) for passes below surges."""
    passes = np.asarray(passes)
    return np.asarray(special.betaincc(passes + 1.0, surges - passes, share), dtype=np.float64)


def _check(passes: int, surges: int) -> None:
    if not 0 <= passes <= surges or surges < 1:
        raise ValueError(f"{passes} passes of {surges} surges is not possible")
