"""How a time varies: parameters of each shape, draws, quantiles and shares still going on.

Two ways of drawing: `sample` is quick and fills an array in order, so a longer draw only
appends; `quantile` turns one uniform number into one time, so that the luck of a patient stays the
same when the distribution changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.scenario.spread import TimeSpread

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: no drawn time is longer [s] (a thousand years), so that sums of times fit
LONGEST_S = 32_000_000_000
#: weibull and gamma shapes looked for between these
_LEAST_SHAPE, _MOST_SHAPE = 1e-2, 1e5


class Fitted(NamedTuple):
    """Parameters of a shape.

    ``first`` and ``second`` are: fixed: time [s], unused; lognormal: mean and standard deviation
    of the log of the seconds; gamma and weibull: shape, scale [s]; exponential: mean [s], unused.
    """

    shape: str
    first: float
    second: float = 0.0
    #: empirical: the values [s], sorted
    values: FloatArray | None = None


@lru_cache(maxsize=1024)
def fitted(spread: TimeSpread) -> Fitted:
    """Find the parameters of a distribution of times.

    Parameters
    ----------
    spread : TimeSpread
        As the scenario gives it: a mean [s] with a cv, two quantiles, values, or a fixed time.

    Returns
    -------
    Fitted
        Parameters; a shape without any spread comes back as ``fixed``.
    """
    if spread.shape == "fixed":
        return Fitted("fixed", _mean_of(spread))
    if spread.shape == "empirical":
        values = np.sort(np.asarray(spread.values, dtype=np.float64))
        values.setflags(write=False)
        return Fitted("empirical", 0.0, 0.0, values)
    if spread.shape == "exponential":
        if spread.mean is not None:
            return _if_any(Fitted("exponential", float(spread.mean)))
        point = spread.quantiles[0]
        return _if_any(Fitted("exponential", -point.time_s / math.log1p(-point.p)))
    if spread.quantiles:
        return _from_quantiles(spread)
    return _from_mean(spread)


def _mean_of(spread: TimeSpread) -> float:
    if spread.mean is None:
        raise ValueError(f"a {spread.shape} distribution of times needs a mean")
    return float(spread.mean)


def _if_any(exponential: Fitted) -> Fitted:
    return exponential if exponential.first > 0 else Fitted("fixed", 0.0)


def _from_mean(spread: TimeSpread) -> Fitted:
    mean_s, cv = _mean_of(spread), spread.cv
    if cv is None:
        raise ValueError(f"a {spread.shape} distribution of times needs a cv beside its mean")
    if mean_s <= 0 or cv <= 0:
        return Fitted("fixed", mean_s)
    if spread.shape == "lognormal":
        variance = math.log1p(cv * cv)
        return Fitted("lognormal", math.log(mean_s) - variance / 2, math.sqrt(variance))
    if spread.shape == "gamma":
        return Fitted("gamma", 1 / cv**2, mean_s * cv**2)

    def too_wide(log_shape: float) -> float:
        inverse = math.exp(-log_shape)
        ratio = math.lgamma(1 + 2 * inverse) - 2 * math.lgamma(1 + inverse)
        return ratio - math.log1p(cv * cv)

    shape = _root(too_wide)
    return Fitted("weibull", shape, mean_s / math.gamma(1 + 1 / shape))


def _from_quantiles(spread: TimeSpread) -> Fitted:
    low, high = sorted(spread.quantiles[:2], key=lambda point: point.p)
    if high.time_s <= low.time_s:
        return Fitted("fixed", float(low.time_s))
    if low.time_s <= 0:
        raise ValueError("a quantile of 0 s fits no distribution of times but a fixed one")
    ratio = math.log(high.time_s / low.time_s)
    if spread.shape == "lognormal":
        from scipy.special import ndtri

        at_low, at_high = float(ndtri(low.p)), float(ndtri(high.p))
        sigma = ratio / (at_high - at_low)
        return Fitted("lognormal", math.log(low.time_s) - sigma * at_low, sigma)
    if spread.shape == "weibull":
        at_low, at_high = -math.log1p(-low.p), -math.log1p(-high.p)
        shape = math.log(at_high / at_low) / ratio
        return Fitted("weibull", shape, low.time_s / at_low ** (1 / shape))
    from scipy.special import gammaincinv

    def too_wide(log_shape: float) -> float:
        shape = math.exp(log_shape)
        at_low, at_high = float(gammaincinv(shape, low.p)), float(gammaincinv(shape, high.p))
        # below the smallest float the low quantile is 0: wider than anything asked for
        return (math.log(at_high / at_low) if at_low > 0 else math.inf) - ratio

    shape = _root(too_wide)
    return Fitted("gamma", shape, high.time_s / float(gammaincinv(shape, high.p)))


def _root(too_wide: Callable[[float], float]) -> float:
    """Return the shape at which a falling function of its logarithm is zero."""
    from scipy.optimize import brentq

    low, high = math.log(_LEAST_SHAPE), math.log(_MOST_SHAPE)
    if too_wide(low) <= 0:
        return _LEAST_SHAPE
    if too_wide(high) >= 0:
        return _MOST_SHAPE
    # infinity is no number for a root finder: climb to where the function is finite
    while not math.isfinite(too_wide(low)):
        low += 0.25
    if too_wide(low) <= 0:
        return math.exp(low)
    return math.exp(float(brentq(too_wide, low, high, xtol=1e-13)))


def whole_seconds(times_s: FloatArray, least_s: int) -> IntArray:
    """Round times [s] to whole seconds, none below ``least_s``."""
    whole_s = np.rint(times_s)
    np.maximum(whole_s, least_s, out=whole_s)
    np.minimum(whole_s, LONGEST_S, out=whole_s)
    return whole_s.astype(np.int64)


NO_TIME = Fitted("fixed", 0.0)


class Lot(NamedTuple):
    """Times to be drawn from one stream, which serves nothing else."""

    fit: Fitted
    #: None: a fixed time needs no stream
    rng: np.random.Generator | None
    times: int


def sample_lots(lots: Sequence[Lot], least_s: int = 0) -> IntArray:
    """Draw times lot after lot, in order; a longer lot begins with the shorter one.

    Parameters
    ----------
    lots : sequence of Lot
        Distribution, stream and number of times of each.
    least_s : int
        Shorter times are brought to this [s].

    Returns
    -------
    ndarray of int64, shape (times,)
        Times [s] of all lots one behind the other.
    """
    times_s = np.empty(sum(lot.times for lot in lots))
    end = 0
    # lots of one distribution one behind the other are drawn singly and scaled together
    for _, group in groupby(lots, key=lambda lot: id(lot.fit)):
        start, run = end, list(group)
        fit = run[0].fit
        if fit.shape == "fixed":
            end += sum(lot.times for lot in run)
            times_s[start:end] = fit.first
            continue
        fill, scale = _WAYS[fit.shape]
        for _, rng, count in run:
            assert rng is not None, "times that vary need a stream"
            fill(fit, rng, times_s[end : end + count])
            end += count
        scale(fit, times_s[start:end])
    return whole_seconds(times_s, least_s)


def _scale_lognormal(fit: Fitted, times_s: FloatArray) -> None:
    times_s *= fit.second
    times_s += fit.first
    np.exp(times_s, out=times_s)


_Fill = Callable[[Fitted, np.random.Generator, FloatArray], object]
_Scale = Callable[[Fitted, FloatArray], object]
#: how an array is filled with the numbers of a shape, and how these become times [s] in place
_WAYS: dict[str, tuple[_Fill, _Scale]] = {
    "lognormal": (lambda fit, rng, out: rng.standard_normal(out=out), _scale_lognormal),
    "gamma": (
        lambda fit, rng, out: rng.standard_gamma(fit.first, out=out),
        lambda fit, out: np.multiply(out, fit.second, out=out),
    ),
    "weibull": (
        lambda fit, rng, out: np.copyto(out, rng.weibull(fit.first, len(out))),
        lambda fit, out: np.multiply(out, fit.second, out=out),
    ),
    "exponential": (
        lambda fit, rng, out: rng.standard_exponential(out=out),
        lambda fit, out: np.multiply(out, fit.first, out=out),
    ),
    "empirical": (
        lambda fit, rng, out: rng.random(out=out),
        lambda fit, out: np.copyto(out, quantile(fit, out)),
    ),
}


def sample(
    spread: TimeSpread, rng: np.random.Generator | None, count: int, least_s: int = 0
) -> IntArray:
    """Draw times of one distribution; see :func:`sample_lots`."""
    return sample_lots([Lot(fitted(spread), rng, count)], least_s)


def quantile(fit: Fitted, share: FloatArray) -> FloatArray:
    """Return the times [s] that the shares (0..1) of times do not pass."""
    if fit.shape == "fixed":
        return np.full(np.shape(share), fit.first)
    if fit.shape == "lognormal":
        from scipy.special import ndtri

        return np.asarray(np.exp(fit.first + fit.second * ndtri(share)))
    if fit.shape == "gamma":
        from scipy.special import gammaincinv

        return np.asarray(gammaincinv(fit.first, share) * fit.second)
    if fit.shape == "weibull":
        return np.asarray((-np.log1p(-share)) ** (1 / fit.first) * fit.second)
    if fit.shape == "exponential":
        return np.asarray(-np.log1p(-share) * fit.first)
    assert fit.values is not None
    number = (share * len(fit.values)).astype(np.int64)
    return fit.values[np.minimum(number, len(fit.values) - 1)]


def mean_s(spread: TimeSpread) -> float:
    """Return the mean [s]."""
    fit = fitted(spread)
    if fit.shape == "lognormal":
        return math.exp(fit.first + fit.second**2 / 2)
    if fit.shape == "gamma":
        return fit.first * fit.second
    if fit.shape == "weibull":
        return math.gamma(1 + 1 / fit.first) * fit.second
    if fit.values is not None:
        return float(fit.values.mean())
    return fit.first


def still_going(spread: TimeSpread, times_s: FloatArray) -> FloatArray:
    """Return the share of times that are longer than each of ``times_s`` [s]."""
    fit = fitted(spread)
    ages = np.maximum(times_s, 0.0)
    share: NDArray[Any]
    if fit.shape == "fixed":
        share = (ages < fit.first).astype(np.float64)
    elif fit.shape == "lognormal":
        from scipy.special import ndtr

        with np.errstate(divide="ignore"):
            share = ndtr((fit.first - np.log(ages)) / fit.second)
    elif fit.shape == "gamma":
        from scipy.special import gammaincc

        share = gammaincc(fit.first, ages / fit.second)
    elif fit.shape == "weibull":
        share = np.exp(-((ages / fit.second) ** fit.first))
    elif fit.shape == "exponential":
        share = np.exp(-ages / fit.first)
    else:
        assert fit.values is not None
        share = 1 - np.searchsorted(fit.values, ages, side="right") / len(fit.values)
    return np.asarray(np.where(np.asarray(times_s) < 0, 1.0, share))
