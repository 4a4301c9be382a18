"""The distribution of times that a scenario means, found from a mean, quantiles or values."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

from surge_sim.demand.spread import Distribution, Gamma, Lognormal, Values, fixed
from surge_sim.scenario.spread import TimeSpread

#: weibull and gamma shapes looked for between these
_LEAST_SHAPE, _MOST_SHAPE = 1e-2, 1e5


@lru_cache(maxsize=1024)
def fitted(spread: TimeSpread) -> Distribution:
    """Find the distribution of times that a scenario gives.

    Parameters
    ----------
    spread : TimeSpread
        A mean [s] with a cv, two quantiles, values, or a fixed time.

    Returns
    -------
    Distribution
        A shape without any spread comes back as a fixed time.
    """
    if spread.shape == "fixed":
        return fixed(_mean_of(spread))
    if spread.shape == "empirical":
        return Values(spread.values)
    if spread.shape == "exponential":
        return _exponential(spread)
    if spread.quantiles:
        return _from_quantiles(spread)
    return _from_mean(spread)


def mean_s(spread: TimeSpread) -> float:
    """Return the mean of the times that a scenario gives [s]."""
    return fitted(spread).mean_s()


def _mean_of(spread: TimeSpread) -> float:
    if spread.mean is None:
        raise ValueError(f"a {spread.shape} distribution of times needs a mean")
    return float(spread.mean)


def _exponential(spread: TimeSpread) -> Distribution:
    if spread.mean is not None:
        mean = float(spread.mean)
    else:
        point = spread.quantiles[0]
        mean = -point.time_s / math.log1p(-point.p)
    return Gamma(1.0, mean) if mean > 0 else fixed(0.0)


def _from_mean(spread: TimeSpread) -> Distribution:
    mean, cv = _mean_of(spread), spread.cv
    if cv is None:
        raise ValueError(f"a {spread.shape} distribution of times needs a cv beside its mean")
    if mean <= 0 or cv <= 0:
        return fixed(mean)
    if spread.shape == "lognormal":
        variance = math.log1p(cv * cv)
        return Lognormal(math.log(mean) - variance / 2, math.sqrt(variance))
    if spread.shape == "gamma":
        return Gamma(1 / cv**2, mean * cv**2)

    def too_wide(log_shape: float) -> float:
        inverse = math.exp(-log_shape)
        ratio = math.lgamma(1 + 2 * inverse) - 2 * math.lgamma(1 + inverse)
        return ratio - math.log1p(cv * cv)

    shape = _root(too_wide)
    return Gamma(1.0, mean / math.gamma(1 + 1 / shape), shape)


def _from_quantiles(spread: TimeSpread) -> Distribution:
    low, high = sorted(spread.quantiles[:2], key=lambda point: point.p)
    if high.time_s <= low.time_s:
        return fixed(float(low.time_s))
    if low.time_s <= 0:
        raise ValueError("a quantile of 0 s fits no distribution of times but a fixed one")
    ratio = math.log(high.time_s / low.time_s)
    if spread.shape == "lognormal":
        from scipy.special import ndtri

        at_low, at_high = float(ndtri(low.p)), float(ndtri(high.p))
        sigma = ratio / (at_high - at_low)
        return Lognormal(math.log(low.time_s) - sigma * at_low, sigma)
    if spread.shape == "weibull":
        at_low, at_high = -math.log1p(-low.p), -math.log1p(-high.p)
        shape = math.log(at_high / at_low) / ratio
        return Gamma(1.0, low.time_s / at_low ** (1 / shape), shape)
    from scipy.special import gammaincinv

    def too_wide(log_shape: float) -> float:
        shape = math.exp(log_shape)
        at_low, at_high = float(gammaincinv(shape, low.p)), float(gammaincinv(shape, high.p))
        # below the smallest float the low quantile is 0: wider than anything asked for
        return (math.log(at_high / at_low) if at_low > 0 else math.inf) - ratio

    shape = _root(too_wide)
    return Gamma(shape, high.time_s / float(gammaincinv(shape, high.p)))


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
