"""How much of what differs between surges comes from which input: variance-based indices.

Y is what a surge came to. The first-order index of an input is the share of the variance of Y that
would go away, on average, if the input were known; the total index is the share that would stay if
all else were known: Sobol', "Global sensitivity indices for nonlinear mathematical models and
their Monte Carlo estimates", Mathematics and Computers in Simulation 55, 2001 (from memory). What
the total has beyond the first-order index comes of the input together with others.

Estimators, from two samples A and B of all inputs, and A with one input of B in its place:
first-order as in Saltelli et al., "Variance based sensitivity analysis of model output. Design and
estimator for the total sensitivity index", Computer Physics Communications 181, 2010, total after
Jansen, "Analysis of variance designs for model output", Computer Physics Communications 117, 1999
(both from memory). scipy has the same estimators, for numbers of points that are powers of two and
with limits whose chance nobody can fix; its bootstrap gives the limits here.
"""

from __future__ import annotations

import math
import warnings
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from surge_sim.statistics.intervals import FEWEST, Interval

FloatArray = NDArray[np.float64]

#: resamples of the bootstrap
RESAMPLES = 2_000
#: numbers of surges drawn at once: 8 MB
_AT_ONCE = 1_000_000


class Index(NamedTuple):
    """Shares of the variance of one input [0..1]."""

    #: what the input does by itself
    first: Interval
    #: with all that it does together with others
    total: Interval
    #: the difference
    together: Interval


def estimates(f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return first-order and total indices.

    Parameters
    ----------
    f_a, f_b : ndarray of float64, shape (n,)
        Y in two independent samples.
    f_ab : ndarray of float64, shape (inputs, n)
        Y in the first sample, with each input in turn as in the second.

    Returns
    -------
    tuple of ndarray of float64, shape (inputs,)
        nan where Y does not vary.
    """
    # the mean cancels out of the expectation, and not out of the error
    middle = (f_a.mean() + f_b.mean()) / 2.0
    variance = np.concatenate([f_a, f_b]).var()
    if variance <= 1e-24 * max(middle * middle, 1e-300):
        nothing = np.full(len(f_ab), np.nan)
        return nothing, nothing
    first = ((f_b - middle) * (f_ab - f_a)).mean(axis=1) / variance
    total = ((f_a - f_ab) ** 2).mean(axis=1) / 2.0 / variance
    return first, total


def indices(
    f_a: FloatArray,
    f_b: FloatArray,
    f_ab: FloatArray,
    rng: np.random.Generator,
    confidence: float = 0.95,
) -> list[Index]:
    """Return the indices of each input with their limits.

    Parameters
    ----------
    f_a, f_b, f_ab
        See :func:`estimates`.
    rng : numpy.random.Generator
        Draws the resamples.
    confidence : float
        With which the limits of all inputs hold together, for each sort of index (Bonferroni)
        [0..1].

    Returns
    -------
    list of Index
        Without limits where Y differs, by the input, in fewer than
        :data:`intervals.FEWEST` pairs; 0 where it differs in none.
    """
    inputs, surges = f_ab.shape
    differing = (f_ab != f_a).sum(axis=1)
    plain = _three(f_a, f_b, f_ab)
    low, high = np.full_like(plain, np.nan), np.full_like(plain, np.nan)
    known = np.flatnonzero(differing >= FEWEST)
    if len(known) and surges > 1 and np.isfinite(plain).all():
        low[:, known], high[:, known] = _limits(
            f_a, f_b, f_ab[known], rng, 1.0 - (1.0 - confidence) / inputs
        )
    idle = differing == 0
    for ends in (low, high):
        ends[:, idle] = plain[:, idle]
    found = np.stack([plain, low, high], axis=-1)
    return [
        Index(*(Interval.of(one.tolist()) for one in found[:, place])) for place in range(inputs)
    ]


def _three(f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray) -> FloatArray:
    first, total = estimates(f_a, f_b, f_ab)
    return np.stack([first, total, total - first])


def _limits(
    f_a: FloatArray, f_b: FloatArray, f_ab: FloatArray, rng: np.random.Generator, confidence: float
) -> tuple[FloatArray, FloatArray]:
    """Return limits by the bias-corrected and accelerated bootstrap, shape (3, inputs) each.

    Efron, "Better bootstrap confidence intervals", Journal of the American Statistical
    Association 82, 1987 (from memory).
    """
    surges = len(f_a)
    with warnings.catch_warnings():
        # numbers that are the same in all resamples have no limits; they come back as nan
        warnings.simplefilter("ignore", stats.DegenerateDataWarning)
        found = stats.bootstrap(
            (np.arange(surges),),
            lambda chosen: _three(f_a[chosen], f_b[chosen], f_ab[:, chosen]),
            vectorized=False,
            n_resamples=RESAMPLES,
            batch=max(_AT_ONCE // surges, 1),
            confidence_level=confidence,
            method="BCa",
            rng=rng,
        )
    low, high = found.confidence_interval
    return np.asarray(low), np.asarray(high)


def paired_difference(
    low_needs: NDArray[np.int64],
    high_needs: NDArray[np.int64],
    worth: FloatArray,
    share: float,
    rng: np.random.Generator,
    confidence: float = 0.95,
) -> Interval:
    """Return how far two needs of the same surges are apart in money, with limits.

    The need of many surges is that which suffices in a share of them.

    Parameters
    ----------
    low_needs, high_needs : ndarray of int64, shape (surges,)
        Numbers of stocks, of the same surges.
    worth : ndarray of float64, shape (stocks,)
        What each stock costs, rising.
    share : float
        Of the surges that must be served [0..1].
    rng : numpy.random.Generator
        Draws the resamples.
    confidence : float
        Of the limits [0..1]: percentiles of a bootstrap of whole surges, which keeps the pairs.

    Returns
    -------
    Interval
        Second less first.
    """
    surges = len(low_needs)
    place = math.ceil(share * surges - 1e-9) - 1
    place = max(place, 0)

    def apart(chosen: NDArray[np.int64]) -> FloatArray:
        ends = (np.partition(one[chosen], place)[..., place] for one in (low_needs, high_needs))
        before, after = (worth[end] for end in ends)
        return np.asarray(after - before, dtype=float)

    estimate = float(apart(np.arange(surges)))
    if (low_needs == high_needs).all():
        return Interval(estimate, estimate, estimate)
    if int((low_needs != high_needs).sum()) < FEWEST:
        return Interval(estimate, None, None)
    at_once = max(_AT_ONCE // surges, 1)
    drawn = [
        apart(rng.integers(0, surges, (min(at_once, RESAMPLES - done), surges)))
        for done in range(0, RESAMPLES, at_once)
    ]
    tail = (1.0 - confidence) / 2.0
    low, high = np.quantile(np.concatenate(drawn), [tail, 1.0 - tail])
    return Interval(estimate, float(low), float(high))
