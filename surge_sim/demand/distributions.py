"""How times vary: three families of distributions, and the one that a scenario means.

There are two ways of drawing. `sample` is quick and fills an array in order, so that a longer draw
begins with the shorter one. `quantile` turns one uniform number into one time, so that the luck of
a patient stays the same when the distribution changes.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.random import Generator
from numpy.typing import ArrayLike, NDArray

from surge_sim.scenario.spread import TimeSpread

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: no drawn time is longer [s] (a thousand years), so that sums of times fit
LONGEST_DRAWN_S = 32_000_000_000
#: weibull and gamma shapes looked for between these
_LEAST_SHAPE, _MOST_SHAPE = 1e-2, 1e5


def whole_seconds(times_s: FloatArray, least_s: int) -> IntArray:
    """Round times [s] to whole seconds, none below ``least_s``."""
    whole_s = np.rint(times_s)
    np.maximum(whole_s, least_s, out=whole_s)
    np.minimum(whole_s, LONGEST_DRAWN_S, out=whole_s)
    return whole_s.astype(np.int64)


class Distribution(ABC):
    """A distribution of times."""

    #: whether a time can come out one way or another
    varies = True

    def sample(self, rng: Generator, count: int, least_s: int = 0) -> IntArray:
        """Draw times in order from a stream that serves nothing else.

        Parameters
        ----------
        rng : Generator
        count : int
            How many times.
        least_s : int
            Shorter times are brought to this [s].

        Returns
        -------
        ndarray of int64, shape (count,)
            Times [s].
        """
        return whole_seconds(self.draw(rng, count), least_s)

    @abstractmethod
    def draw(self, rng: Generator, count: int) -> FloatArray:
        """Draw times [s] before they are rounded; a longer draw begins with the shorter one."""

    @abstractmethod
    def quantile(self, share: FloatArray) -> FloatArray:
        """Return the times [s] that the shares (0..1) of times do not pass."""

    @abstractmethod
    def mean_s(self) -> float:
        """Return the mean [s]."""

    @abstractmethod
    def longer_than(self, times_s: FloatArray) -> FloatArray:
        """Return the share of times that are longer than each of these [s]."""

    @abstractmethod
    def by_length(self) -> Distribution:
        """Return the distribution of these times with each weighted by its length."""


@dataclass(frozen=True)
class Lognormal(Distribution):
    """Times whose logarithm is normal: mean and standard deviation of the log of the seconds."""

    mean: float
    deviation: float

    def draw(self, rng: Generator, count: int) -> FloatArray:
        """Draw times [s]."""
        return np.exp(self.mean + self.deviation * rng.standard_normal(count))

    def quantile(self, share: FloatArray) -> FloatArray:
        """Return quantiles [s]."""
        from scipy.special import ndtri

        return np.asarray(np.exp(self.mean + self.deviation * ndtri(share)))

    def mean_s(self) -> float:
        """Return the mean [s]."""
        return math.exp(self.mean + self.deviation**2 / 2)

    def longer_than(self, times_s: FloatArray) -> FloatArray:
        """Return the share of longer times."""
        with np.errstate(divide="ignore"):
            logs = np.log(np.maximum(times_s, 0.0))
        scaled = (logs - self.mean) / (self.deviation * math.sqrt(2))
        # a check needs no more than this, and scipy takes as long to load as numpy
        shares = [math.erfc(one) / 2 for one in np.ravel(scaled).tolist()]
        return np.array(shares).reshape(np.shape(scaled))

    def by_length(self) -> Lognormal:
        """Weight times by their length."""
        return Lognormal(self.mean + self.deviation**2, self.deviation)


@dataclass(frozen=True)
class GeneralisedGamma(Distribution):
    """Times of which a power is gamma: (time / scale)^power is gamma of ``shape`` and scale 1.

    A gamma time has power 1, a Weibull time shape 1 and its own shape as power, an exponential
    time shape 1 and power 1. (The generalised gamma distribution: Stacy, Annals of Mathematical
    Statistics, 1962; from memory.)
    """

    shape: float
    scale_s: float
    power: float = 1.0

    def draw(self, rng: Generator, count: int) -> FloatArray:
        """Draw times [s]."""
        return self._times_s(rng.standard_gamma(self.shape, count))

    def quantile(self, share: FloatArray) -> FloatArray:
        """Return quantiles [s]."""
        from scipy.special import gammaincinv

        return self._times_s(np.asarray(gammaincinv(self.shape, share)))

    def _times_s(self, gamma: FloatArray) -> FloatArray:
        return self.scale_s * (gamma if self.power == 1 else gamma ** (1 / self.power))

    def mean_s(self) -> float:
        """Return the mean [s]."""
        if self.power == 1:
            return self.shape * self.scale_s
        logs = math.lgamma(self.shape + 1 / self.power) - math.lgamma(self.shape)
        return math.exp(logs) * self.scale_s

    def longer_than(self, times_s: FloatArray) -> FloatArray:
        """Return the share of longer times."""
        from scipy.special import gammaincc

        scaled = np.maximum(times_s, 0.0) / self.scale_s
        return np.asarray(gammaincc(self.shape, scaled**self.power))

    def by_length(self) -> GeneralisedGamma:
        """Weight times by their length."""
        return GeneralisedGamma(self.shape + 1 / self.power, self.scale_s, self.power)


class Values(Distribution):
    """Times that take some values only.

    Parameters
    ----------
    values : array of float
        The times [s].
    weights : array of float, optional
        Of each value; without them all are as likely.
    """

    def __init__(self, values: ArrayLike, weights: ArrayLike | None = None) -> None:
        given = np.asarray(values, dtype=np.float64)
        order = np.argsort(given, kind="stable")
        weight = np.ones(len(given)) if weights is None else np.asarray(weights, dtype=np.float64)
        self._values = given[order]
        self._shares = weight[order] / weight.sum()
        #: share of times up to each value
        self._summed = self._shares.cumsum()
        self._summed[-1] = 1.0
        self.varies = bool(self._values[0] != self._values[-1])

    def draw(self, rng: Generator, count: int) -> FloatArray:
        """Draw times [s]."""
        if not self.varies:
            return np.full(count, self._values[0])
        return self.quantile(rng.random(count))

    def quantile(self, share: FloatArray) -> FloatArray:
        """Return quantiles [s]."""
        return self._values[self._summed[:-1].searchsorted(share, side="right")]

    def mean_s(self) -> float:
        """Return the mean [s]."""
        return float(self._values @ self._shares)

    def longer_than(self, times_s: FloatArray) -> FloatArray:
        """Return the share of longer times."""
        up_to = np.concatenate(([0.0], self._summed))
        return np.asarray(1.0 - up_to[self._values.searchsorted(times_s, side="right")])

    def by_length(self) -> Values:
        """Weight times by their length."""
        return Values(self._values, self._shares * self._values) if self._values[-1] > 0 else self


def fixed(time_s: float) -> Values:
    """Return the distribution of a time that is always the same [s]."""
    return Values([time_s])


NO_TIME = fixed(0.0)


@lru_cache(maxsize=1024)
def fitted(spread: TimeSpread) -> Distribution:
    """Find the distribution of times that a scenario gives.

    Parameters
    ----------
    spread : TimeSpread
        A mean [s] with a cv, two quantiles, values, or a fixed time.
    """
    if spread.shape == "fixed":
        return fixed(_mean_of(spread))
    if spread.shape == "empirical":
        return Values(spread.values)
    if spread.shape == "exponential":
        return GeneralisedGamma(1.0, _mean_of(spread))
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


def _from_mean(spread: TimeSpread) -> Distribution:
    mean, cv = _mean_of(spread), spread.cv
    if cv is None:
        raise ValueError(f"a {spread.shape} distribution of times needs a cv beside its mean")
    if spread.shape == "lognormal":
        variance = math.log1p(cv * cv)
        return Lognormal(math.log(mean) - variance / 2, math.sqrt(variance))
    if spread.shape == "gamma":
        return GeneralisedGamma(1 / cv**2, mean * cv**2)
    if spread.shape != "weibull":
        raise NotImplementedError(f"no {spread.shape} distribution is fitted to a mean and a cv")

    def too_wide(log_shape: float) -> float:
        inverse = math.exp(-log_shape)
        ratio = math.lgamma(1 + 2 * inverse) - 2 * math.lgamma(1 + inverse)
        return ratio - math.log1p(cv * cv)

    shape = _root(too_wide)
    return GeneralisedGamma(1.0, mean / math.gamma(1 + 1 / shape), shape)


def _from_quantiles(spread: TimeSpread) -> Distribution:
    low, high = sorted(spread.quantiles, key=lambda point: point.p)
    ratio = math.log(high.time_s / low.time_s)
    if spread.shape == "lognormal":
        normal = NormalDist()
        at_low, at_high = normal.inv_cdf(low.p), normal.inv_cdf(high.p)
        sigma = ratio / (at_high - at_low)
        return Lognormal(math.log(low.time_s) - sigma * at_low, sigma)
    if spread.shape == "weibull":
        at_low, at_high = -math.log1p(-low.p), -math.log1p(-high.p)
        shape = math.log(at_high / at_low) / ratio
        return GeneralisedGamma(1.0, low.time_s / at_low ** (1 / shape), shape)
    if spread.shape != "gamma":
        raise NotImplementedError(f"no {spread.shape} distribution is fitted to two quantiles")
    from scipy.special import gammaincinv

    def too_wide(log_shape: float) -> float:
        shape = math.exp(log_shape)
        at_low, at_high = float(gammaincinv(shape, low.p)), float(gammaincinv(shape, high.p))
        # below the smallest float the low quantile is 0: wider than anything asked for
        return (math.log(at_high / at_low) if at_low > 0 else math.inf) - ratio

    shape = _root(too_wide)
    return GeneralisedGamma(shape, high.time_s / float(gammaincinv(shape, high.p)))


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
