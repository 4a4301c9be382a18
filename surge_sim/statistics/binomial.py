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


def _at_most(passes: ArrayLike, surges: int, share: float) -> NDArray[np.float64]:
    """Return P(Binomial(surges, share) <= passes) for passes below surges."""
    passes = np.asarray(passes)
    return np.asarray(special.betaincc(passes + 1.0, surges - passes, share), dtype=np.float64)


def _check(passes: int, surges: int) -> None:
    if not 0 <= passes <= surges or surges < 1:
        raise ValueError(f"{passes} passes of {surges} surges is not possible")
