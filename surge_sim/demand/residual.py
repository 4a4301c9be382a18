"""Residual length of stay: how long somebody who is found present still stays.

In a unit in its steady state whoever is found present has a stay drawn with weight in proportion
to its length, and is at an even point of it (renewal theory: Cox, Renewal Theory, 1962; from
memory). So the residual stay has the mean E[S^2] / (2 E[S]) and goes on beyond t with the share
integral of P(S > u) du from t on, over E[S]; a class is found with weight share x mean stay.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.fit import mean_s
from surge_sim.demand.spread import Distribution, whole_seconds
from surge_sim.scenario.patients import PatientClass

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def found_shares(classes: Sequence[PatientClass]) -> list[float]:
    """Weight of each class among the patients found present: its share times its mean stay [s]."""
    return [one.share * max(mean_s(one.isolation), 1.0) for one in classes]


def residual_stays(stay: Distribution, luck: FloatArray, part: FloatArray) -> IntArray:
    """Return residual stays [s].

    Parameters
    ----------
    stay : Distribution
        Of the whole stay.
    luck, part : ndarray of float64, shape (patients,)
        Even numbers from 0 to 1, 1 left out: for the whole stay, and for the part still to come.

    Returns
    -------
    ndarray of int64, shape (patients,)
        Of a stay of n seconds: 1 to n, each as likely.
    """
    whole_s = whole_seconds(stay.by_length().quantile(luck), 1)
    return (part * whole_s).astype(np.int64) + 1


def still_there(stay: Distribution, times_s: FloatArray) -> FloatArray:
    """Return the share of patients found present who still stay longer than each time [s].

    Of a stay of s seconds, weighted by its length, the share 1 - t / s goes on beyond t.
    """
    ages, mean = np.maximum(times_s, 0.0), stay.mean_s()
    if mean <= 0:
        return stay.longer_than(ages)
    beyond = stay.by_length().longer_than(ages) - ages * stay.longer_than(ages) / mean
    return np.asarray(np.clip(beyond, 0.0, 1.0))
