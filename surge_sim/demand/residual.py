"""Residual length of stay: how long somebody who is found present still stays.

In a unit in its steady state whoever is found present has a stay drawn with weight in proportion
to its length, and is at an even point of it (renewal theory: Cox, Renewal Theory, 1962; from
memory). So the residual stay has the mean E[S^2] / (2 E[S]) and goes on beyond t with the share
integral of P(S > u) du from t on, over E[S]; a class is found with weight share x mean stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.spread import Fitted, fitted, mean_s, quantile, still_going, whole_seconds
from surge_sim.scenario.care import PatientClass
from surge_sim.scenario.spread import TimeSpread

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def found_shares(classes: Sequence[PatientClass]) -> tuple[float, ...]:
    """Weight of each class among the patients found present: its share times its mean stay [s]."""
    return tuple(one.share * max(mean_s(one.isolation), 1.0) for one in classes)


def length_weighted_quantile(fit: Fitted, share: FloatArray) -> FloatArray:
    """Return quantiles [s] of the stay of somebody found present: stays weighted by their length.

    A lognormal, gamma or fixed time stays one; the k-th power of a weibull time of shape k is
    gamma of shape 1 + 1 / k, and an exponential one becomes gamma of shape 2.
    """
    if fit.shape == "lognormal":
        return quantile(fit._replace(first=fit.first + fit.second**2), share)
    if fit.shape == "gamma":
        return quantile(fit._replace(first=fit.first + 1), share)
    if fit.shape == "exponential":
        return quantile(Fitted("gamma", 2.0, fit.first), share)
    if fit.shape == "weibull":
        from scipy.special import gammaincinv

        powers = gammaincinv(1 + 1 / fit.first, share)
        return np.asarray(powers ** (1 / fit.first) * fit.second)
    if fit.values is None or not fit.values.any():
        return quantile(fit, share)
    summed = fit.values.cumsum()
    number = summed.searchsorted(share * summed[-1], side="right")
    return fit.values[np.minimum(number, len(fit.values) - 1)]


def residual_stays(fit: Fitted, luck: FloatArray, part: FloatArray) -> IntArray:
    """Return residual stays [s].

    Parameters
    ----------
    fit : Fitted
        Distribution of the whole stay.
    luck, part : ndarray of float64, shape (patients,)
        Even numbers from 0 to 1, 1 left out: for the whole stay, and for the part still to come.

    Returns
    -------
    ndarray of int64, shape (patients,)
        Of a stay of n seconds: 1 to n, each as likely.
    """
    whole_s = whole_seconds(length_weighted_quantile(fit, luck), 1)
    return (part * whole_s).astype(np.int64) + 1


def still_there(stay: TimeSpread, times_s: FloatArray) -> FloatArray:
    """Return the share of patients found present who still stay longer than each time [s]."""
    fit, ages = fitted(stay), np.maximum(times_s, 0.0)
    mean = mean_s(stay)
    longer: NDArray[Any]
    if mean <= 0:
        return still_going(stay, times_s)
    if fit.shape == "lognormal":
        from scipy.special import ndtr

        with np.errstate(divide="ignore"):
            longer = ndtr((fit.first + fit.second**2 - np.log(ages)) / fit.second)
    elif fit.shape == "gamma":
        from scipy.special import gammaincc

        longer = gammaincc(fit.first + 1, ages / fit.second)
    elif fit.shape == "weibull":
        from scipy.special import gammaincc

        longer = gammaincc(1 + 1 / fit.first, (ages / fit.second) ** fit.first)
    elif fit.shape == "exponential":
        longer = (1 + ages / fit.first) * np.exp(-ages / fit.first)
    elif fit.values is not None:
        summed = np.concatenate(([0.0], fit.values.cumsum()))
        longer = 1 - summed[fit.values.searchsorted(ages, side="right")] / summed[-1]
    else:
        longer = (ages < fit.first).astype(np.float64)
    return np.asarray(np.clip(longer - ages * still_going(stay, ages) / mean, 0.0, 1.0))
