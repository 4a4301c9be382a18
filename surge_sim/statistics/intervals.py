"""Intervals over surges. The surge is the unit: entries of one surge vary together.

A binomial interval on the entries of all surges together would be many times too narrow, because
late entries come in spells. Three kinds are used:

* a share of all entries, or a mean over all entries, is a ratio of two sums over surges; its
  error comes from the residuals of the surges (:func:`ratios`);
* a mean over surges, each counted once, is the same with 1 for every surge
  (:func:`mean_interval`);
* a share of surges has the exact interval of Clopper and Pearson (:func:`clopper_pearson`), a
  quantile over surges that of order statistics (:func:`quantile_over_surges`).

Waits are carried by a few heavy surges, and Student's interval then misses the truth too often,
nearly always by ending too low. So each limit of the first two kinds is the farther one of
Student's and of the skewness-corrected one (:func:`skewness_corrected`). A number that fewer than
:data:`FEWEST` surges carry, such as a share of 99.9 % in time whose late entries fell in three
surges, has no limits: its spread cannot be known from so few. With fewer than
:data:`ENOUGH_SURGES` surges they are still somewhat too narrow; ``tests/studies/coverage.py``
measures how often each interval holds the truth.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from surge_sim.engine.log import IntArray

FloatArray = NDArray[np.float64]

CONFIDENCE = 0.95

#: below this number of surges, intervals from the spread of surges are optimistic
ENOUGH_SURGES = 100

#: a number has limits when in so many surges what is rarer about it happened, or happened otherwise
#: than in most (see :func:`telling`); below, intervals from the spread of surges hold
#: the truth anywhere from 40 to 90 % of the time
FEWEST = 8

#: the skewness of a sample of a long-tailed quantity is, as a rule, smaller than the truth: its
#: rare values have not all come up
_SKEWNESS_SEEN = 1.3


class Interval(NamedTuple):
    """An estimate with its limits; None where there are none."""

    estimate: float | None
    low: float | None
    high: float | None

    @classmethod
    def of(cls, numbers: Iterable[float]) -> Interval:
        """Return an interval from three numbers of which nan are unknown."""
        return cls(*(None if math.isnan(value) else float(value) for value in numbers))

    def scaled(self, factor: float) -> Interval:
        """Return the same in other units."""
        return Interval(*(None if value is None else value * factor for value in self))

    def named(self, name: str) -> dict[str, float | None]:
        """Return an estimate and its limits as three columns of a table."""
        return {name: self.estimate, f"{name}_low": self.low, f"{name}_high": self.high}


NOTHING = Interval(None, None, None)


def student_quantile(surges: int, confidence: float = CONFIDENCE) -> float:
    """Return the two-sided quantile of Student's t with ``surges - 1`` degrees of freedom."""
    return float(special.stdtrit(surges - 1, 0.5 + confidence / 2.0))


def skewness_corrected(
    surges: int,
    skewness: ArrayLike,
    lean: ArrayLike = 0.0,
    confidence: float = CONFIDENCE,
) -> FloatArray:
    """Return how far down and up the limits lie from the estimate, in standard errors.

    The correction for skewness is that of Hall, "On the removal of skewness by transformation",
    Journal of the Royal Statistical Society B 54, 1992. For a ratio its quadratic term is
    smaller by the lean, since the residuals are taken from the ratio that was found.

    Parameters
    ----------
    surges : int
        Number of surges.
    skewness, lean : array_like, shape (pairs,)
        Shape of the surges' residuals: see :func:`spread`; a mean has no lean.
    confidence : float
        Two-sided confidence [0..1].

    Returns
    -------
    ndarray of float64, shape (2, pairs)
        Down and up, neither less than Student's quantile.
    """
    plain, root = student_quantile(surges, confidence), math.sqrt(surges)
    wide = _SKEWNESS_SEEN * np.asarray(skewness)
    bend, shift = (wide / 3.0 - np.asarray(lean)) / root, wide / (6.0 * root)
    straight = np.abs(bend) < 1e-9

    def unbent(bound: float) -> FloatArray:
        bent = np.cbrt(1.0 + 3.0 * bend * (bound - shift)) - 1.0
        return np.where(straight, bound - shift, bent / np.where(straight, 1.0, bend))

    return np.maximum(plain, [unbent(plain), -unbent(-plain)])


def spread(x: IntArray, y: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return how the residuals d = x - R y of the surges lie around the ratio R of the sums.

    Parameters
    ----------
    x, y : ndarray of int64, shape (surges, pairs)
        Whole numbers of two surges or more; no pair whose y are all 0.

    Returns
    -------
    tuple of ndarray of float64, shape (pairs,)
        The standard error of R: sd(d) / (sqrt(n) mean(y)), the textbook error of a ratio of
        means: Cochran, "Sampling Techniques", 3rd edition, 1977, section 2.11 (from memory).
        The skewness of d, corrected for the size of the sample. The lean
        mean(d y) / (mean(y) sd(d)): how much large surges (many entries) lie to one side.
    """
    surges, total_y = len(x), y.sum(axis=0).astype(float)
    # times the sum of y first: where all surges have the same ratio, nothing is left of them
    residuals = (x * total_y - y * x.sum(axis=0).astype(float)) / total_y
    squares = (residuals**2).sum(axis=0)
    error = np.sqrt(squares / (surges - 1) / surges) / (total_y / surges)
    together = (residuals * y).sum(axis=0) / total_y
    lean = together / np.sqrt(np.where(squares > 0, squares, np.inf) / (surges - 1))
    if surges < 3:
        return error, np.zeros_like(error), np.zeros_like(error)
    return error, _skewness(residuals, squares), lean


def _skewness(residuals: FloatArray, squares: FloatArray) -> FloatArray:
    """Return the skewness of a sample of 3 or more, corrected for its size; 0 without spread."""
    count = len(residuals)
    deviation = np.sqrt(np.where(squares > 0, squares, np.inf) / count)
    skewness = (residuals**3).sum(axis=0) / count / deviation**3
    return skewness * math.sqrt(count * (count - 1)) / (count - 2)


def telling(x: IntArray, y: IntArray, share: bool = False) -> IntArray:
    """Return the number of surges that say how far each ratio may be off, shape (pairs,).

    Of a share (x at most y) those with some of it and those with less than all, whichever are
    fewer; of a mean over surges those in which x is not at its lowest, or not at its highest;
    of any other ratio those in which x is not at its lowest.

    Parameters
    ----------
    x, y : ndarray of int64, shape (surges, pairs)
        Whole numbers of one surge or more.
    share : bool
        Whether the ratios are shares.
    """
    if share:
        return np.minimum((x > 0).sum(axis=0), (x != y).sum(axis=0))
    above, below = ((x != end).sum(axis=0) for end in (x.min(axis=0), x.max(axis=0)))
    return np.where((y == 1).all(axis=0), np.minimum(above, below), above)


def ratios(
    x: ArrayLike,
    y: ArrayLike,
    confidence: float = CONFIDENCE,
    highest: float = math.inf,
    fewest: int = FEWEST,
) -> list[Interval]:
    """Return ratios of sums over all surges with their intervals, cut at what is possible.

    Parameters
    ----------
    x, y : array_like of int, shapes that broadcast to (surges, pairs)
        Whole numbers of each surge, for example entries in time and entries.
    confidence : float
        Two-sided confidence [0..1].
    highest : float
        No such ratio is higher, and none is negative. Ratios with ``highest=1.0`` are taken for
        shares.
    fewest : int
        Least number of surges that must tell of the spread.

    Returns
    -------
    list of Interval, one a pair
        Without estimate when nothing was counted; without limits when fewer than ``fewest``
        surges tell of its spread.
    """
    x, y = np.broadcast_arrays(np.asarray(x, dtype=np.int64), np.asarray(y, dtype=np.int64))
    found = np.full((3, x.shape[1]), np.nan)
    estimate, low, high = found
    total_y = y.sum(axis=0)
    counted = total_y != 0
    estimate[counted] = x.sum(axis=0)[counted] / total_y[counted]
    if len(x) > 1:
        known = counted & (telling(x, y, share=highest == 1.0) >= fewest)
        error, skewness, lean = spread(x[:, known], y[:, known])
        down, up = skewness_corrected(len(x), skewness, lean, confidence)
        low[known] = np.maximum(estimate[known] - down * error, 0.0)
        high[known] = np.minimum(estimate[known] + up * error, highest)
    return [Interval.of(pair) for pair in found.T.tolist()]


def ratio_interval(
    x: ArrayLike,
    y: ArrayLike,
    confidence: float = CONFIDENCE,
    highest: float = math.inf,
    fewest: int = FEWEST,
) -> Interval:
    """Return sum(x) / sum(y) with its interval; x and y of shape (surges,), see `ratios`."""
    x, y = np.asarray(x)[:, None], np.asarray(y)[:, None]
    return ratios(x, y, confidence, highest, fewest)[0]


def mean_interval(
    values: ArrayLike,
    confidence: float = CONFIDENCE,
    lowest: float = -math.inf,
    highest: float = math.inf,
    fewest: int = FEWEST,
) -> Interval:
    """Return the mean over surges, each counted once, with limits that allow for skewness.

    Parameters
    ----------
    values : array_like, shape (surges,)
        One number per surge; nan where a surge has none.
    confidence, fewest
        See :func:`ratios`.
    lowest, highest : float
        No such mean lies outside.

    Returns
    -------
    Interval
        Without limits when fewer than ``fewest`` surges differ from the lowest of them, or
        from the highest.
    """
    known = np.asarray(values, dtype=float)
    known = known[~np.isnan(known)]
    if not known.size:
        return NOTHING
    # fsum, so that numbers which are all the same have exactly that mean
    mean = math.fsum(known) / known.size
    commonest = max((known == end).sum() for end in (known.min(), known.max()))
    if known.size < 2 or known.size - commonest < fewest:
        return Interval(mean, None, None)
    squares = ((known - mean) ** 2).sum()
    error = math.sqrt(squares / (known.size - 1) / known.size)
    skewness = _skewness(known - mean, squares) if known.size > 2 else 0.0
    down, up = skewness_corrected(known.size, skewness, confidence=confidence).tolist()
    return Interval(mean, max(mean - down * error, lowest), min(mean + up * error, highest))


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
        Limit [share 0..1]: Clopper and Pearson, "The use of confidence or fiducial limits
        illustrated in the case of the binomial", Biometrika 26, 1934.
    """
    if not 0 <= passes <= surges or surges < 1:
        raise ValueError(f"{passes} passes of {surges} surges is not possible")
    if passes == 0:
        return 0.0
    return float(special.betaincinv(passes, surges - passes + 1, alpha))


def upper_limit(passes: int, surges: int, alpha: float) -> float:
    """Return the one-sided exact upper limit of a share; see :func:`lower_limit`."""
    return 1.0 - lower_limit(surges - passes, surges, alpha)


def clopper_pearson(
    passes: int, surges: int, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """Return the two-sided exact interval (low, high) of a share; (0, 1) without surges."""
    if surges == 0:
        return 0.0, 1.0
    alpha = (1.0 - confidence) / 2.0
    return lower_limit(passes, surges, alpha), upper_limit(passes, surges, alpha)


def quantile_over_surges(
    values: ArrayLike, share: float, confidence: float = CONFIDENCE
) -> Interval:
    """Return a quantile over surges with limits by order statistics.

    They hold whatever the distribution, also with ties: David and Nagaraja, "Order Statistics",
    3rd edition, 2003, section 7.1 (from memory).

    Parameters
    ----------
    values : array_like, shape (surges,)
        One number per surge; nan where a surge has none.
    share : float
        Which quantile [0..1].
    confidence : float
        Two-sided confidence [0..1].

    Returns
    -------
    Interval
        Without a limit where so few surges cannot give one.
    """
    ordered = np.asarray(values, dtype=float)
    ordered = np.sort(ordered[~np.isnan(ordered)])
    surges, tail = ordered.size, (1.0 - confidence) / 2.0
    if not surges:
        return NOTHING
    # a value lies above the quantile when no more lie below it than its place, counted from 0:
    # P(Binomial(surges, share) <= place)
    place = np.arange(surges)
    above = special.betaincc(place + 1.0, surges - place, share)
    low, high = np.flatnonzero(above <= tail), np.flatnonzero(above >= 1.0 - tail)
    return Interval(
        float(ordered[max(math.ceil(share * surges - 1e-9) - 1, 0)]),
        float(ordered[low[-1]]) if low.size else None,
        float(ordered[high[0]]) if high.size else None,
    )
