"""Intervals over surges. The surge is the unit: entries of one surge share its luck.

A binomial interval on the entries of all surges together would be many times too narrow, because
late entries come in spells. Three kinds are used:

* a share of all entries, or a mean over all entries, is a ratio of two sums over surges; its
  error comes from the residuals of the surges (:func:`ratio_interval`);
* a mean over surges, each counted once, is the same with 1 for every surge
  (:func:`mean_interval`);
* a share of surges has the exact interval of Clopper and Pearson
  (:func:`surge_sim.statistics.binomial.clopper_pearson`), a quantile over surges that of order
  statistics (:func:`quantile_over_surges`).

Waits are carried by a few heavy surges, and Student's interval then misses the truth too often,
nearly always by ending too low. So each limit of the first two kinds is the farther one of
Student's and of the one corrected for skewness (:func:`reaches`). A number that fewer than
:data:`FEWEST` surges carry, such as a share of 99.9 % in time whose late entries fell in three
surges, has no limits: its spread cannot be known from so few. With fewer than
:data:`ENOUGH_SURGES` surges they are still somewhat too narrow; ``tests/studies/coverage.py``
measures how often each interval holds the truth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from surge_sim.statistics.binomial import quantile_limits
from surge_sim.statistics.moments import RatioSums

CONFIDENCE = 0.95

#: below this number of surges, intervals from the spread of surges are optimistic
ENOUGH_SURGES = 100

#: a number has limits when in so many surges what is rarer about it happened, or happened otherwise
#: than in most (see :meth:`RatioSums.differing`); below, intervals from the spread of surges hold
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

    def scaled(self, factor: float) -> Interval:
        """Return the same in other units."""
        return Interval(*(None if value is None else value * factor for value in self))


NOTHING = Interval(None, None, None)


def student_quantile(surges: int, confidence: float = CONFIDENCE) -> float:
    """Return the two-sided quantile of Student's t with ``surges - 1`` degrees of freedom."""
    return float(special.stdtrit(surges - 1, 0.5 + confidence / 2.0))


def reaches(
    surges: int, skewness: float, lean: float = 0.0, confidence: float = CONFIDENCE
) -> tuple[float, float]:
    """Return how far down and up the limits lie from the estimate, in standard errors.

    The correction for skewness is that of Hall, "On the removal of skewness by transformation",
    Journal of the Royal Statistical Society B 54, 1992. For a ratio its quadratic term is
    smaller by the lean, since the residuals are taken from the ratio that was found.

    Parameters
    ----------
    surges : int
        Number of surges.
    skewness, lean : float
        Shape of the surges' residuals: see :meth:`RatioSums.shape`; a mean has no lean.
    confidence : float
        Two-sided confidence [0..1].

    Returns
    -------
    tuple of float
        Down and up, neither less than Student's quantile.
    """
    plain, root = student_quantile(surges, confidence), math.sqrt(surges)
    wide = _SKEWNESS_SEEN * skewness
    bend, shift = (wide / 3.0 - lean) / root, wide / (6.0 * root)

    def unbent(bound: float) -> float:
        if abs(bend) < 1e-9:
            return bound - shift
        return (float(np.cbrt(1.0 + 3.0 * bend * (bound - shift))) - 1.0) / bend

    return max(plain, unbent(plain)), max(plain, -unbent(-plain))


def ratio_interval_of(
    sums: RatioSums,
    pair: int,
    confidence: float = CONFIDENCE,
    lowest: float = 0.0,
    highest: float = math.inf,
    fewest: int = FEWEST,
) -> Interval:
    """Return a ratio over all surges with its interval, cut at what is possible.

    Parameters
    ----------
    sums : RatioSums
        Sums over surges.
    pair : int
        Which of the pairs.
    confidence : float
        Two-sided confidence [0..1].
    lowest, highest : float
        No such ratio lies outside.
    fewest : int
        Least number of surges that must tell of the spread.

    Returns
    -------
    Interval
        Without estimate when nothing was counted; without limits when fewer than ``fewest``
        surges tell of its spread. A ratio with ``highest=1.0`` is taken for a share.
    """
    ratio, error = sums.ratio(pair), sums.error(pair)
    if ratio is None:
        return NOTHING
    estimate = float(ratio)
    if error is None or sums.differing(pair, share=highest == 1.0) < fewest:
        return Interval(estimate, None, None)
    down, up = reaches(sums.surges, *sums.shape(pair), confidence)
    low, high = estimate - down * error, estimate + up * error
    return Interval(estimate, max(low, lowest), min(high, highest))


def ratio_interval(
    x: Sequence[int] | NDArray[np.int64],
    y: Sequence[int] | NDArray[np.int64],
    confidence: float = CONFIDENCE,
    lowest: float = 0.0,
    highest: float = math.inf,
    fewest: int = FEWEST,
) -> Interval:
    """Return sum(x) / sum(y) with its interval.

    Parameters
    ----------
    x, y : sequence of int, shape (surges,)
        Whole numbers of each surge, for example entries in time and entries.
    confidence, lowest, highest, fewest
        See :func:`ratio_interval_of`.

    Returns
    -------
    Interval
    """
    sums = RatioSums(1)
    for one_x, one_y in zip(x, y, strict=True):
        sums.add(np.array([one_x]), np.array([one_y]))
    return ratio_interval_of(sums, 0, confidence, lowest, highest, fewest)


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
    confidence, lowest, highest, fewest
        See :func:`ratio_interval_of`.

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
    squares = math.fsum((known - mean) ** 2)
    error = math.sqrt(squares / (known.size - 1) / known.size)
    down, up = reaches(known.size, _skewness(known - mean, squares), confidence=confidence)
    return Interval(mean, max(mean - down * error, lowest), min(mean + up * error, highest))


def _skewness(residuals: NDArray[np.float64], squares: float) -> float:
    """Return the skewness of the sample, corrected for its size."""
    count = residuals.size
    if count < 3 or squares == 0.0:
        return 0.0
    skewness = math.fsum(residuals**3) / count / math.sqrt(squares / count) ** 3
    return float(skewness * math.sqrt(count * (count - 1)) / (count - 2))


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
    low, middle, high = quantile_limits(np.arange(ordered.size), share, confidence)
    picked = (None if place is None else float(ordered[place]) for place in (middle, low, high))
    return Interval(*picked)
