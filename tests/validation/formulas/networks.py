"""Closed networks: mean value analysis, convolution and plain enumeration."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from math import factorial, inf, prod

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def mean_values(
    service: Sequence[float], visits: Sequence[float], customers: int, think: float = 0.0
) -> tuple[float, FloatArray, FloatArray]:
    """Exact mean value analysis of single servers (M. Reiser & S. Lavenberg, J. ACM 1980).

    Returns
    -------
    tuple
        Throughput; time per visit at each station; mean number at each station.
    """
    times, ratio = np.asarray(service, float), np.asarray(visits, float)
    number = np.zeros(len(times))
    through, stay = 0.0, times
    for n in range(1, customers + 1):
        stay = times * (1.0 + number)
        through = n / (think + float(ratio @ stay))
        number = through * ratio * stay
    return through, stay, number


def convolution(demand: Sequence[float], customers: int, think: float = 0.0) -> float:
    """Throughput of single servers and an ample one, by convolution (J. Buzen, CACM 1973)."""
    ways = np.array([think**n / factorial(n) for n in range(customers + 1)])
    for work in demand:
        for n in range(1, customers + 1):
            ways[n] += work * ways[n - 1]
    return float(ways[-2] / ways[-1])


def enumerated(
    demand: Sequence[float], servers: Sequence[float], customers: int
) -> tuple[float, FloatArray]:
    """Throughput and mean numbers of any product-form network, by adding up every state.

    ``demand`` is visits x service; ``servers`` may be ``inf`` (ample).
    """

    def weight(station: int, n: int) -> float:
        there = servers[station]
        rates = [min(k, there) if there != inf else k for k in range(1, n + 1)]
        return float(demand[station] ** n / prod(rates))

    def total(number: int) -> tuple[float, FloatArray]:
        whole, means = 0.0, np.zeros(len(demand))
        for state in product(range(number + 1), repeat=len(demand) - 1):
            last = number - sum(state)
            if last < 0:
                continue
            full = (*state, last)
            share = prod(weight(station, n) for station, n in enumerate(full))
            whole += share
            means += share * np.array(full)
        return whole, means

    whole, means = total(customers)
    return total(customers - 1)[0] / whole, means / whole


def two_classes(
    demand: Sequence[Sequence[float]], customers: tuple[int, int]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Exact mean value analysis of two classes of customers at single servers.

    ``demand[class][station]``. Returns throughput (2,), time (2, stations), number (2, stations).
    """
    work = np.asarray(demand, float)
    number: dict[tuple[int, int], FloatArray] = {}
    through, stay = np.zeros(2), np.zeros_like(work)
    for state in product(range(customers[0] + 1), range(customers[1] + 1)):
        through, stay = np.zeros(2), np.zeros_like(work)
        for one in range(2):
            if state[one] == 0:
                continue
            fewer = (state[0] - (one == 0), state[1] - (one == 1))
            stay[one] = work[one] * (1.0 + number[fewer].sum(axis=0))
            through[one] = state[one] / stay[one].sum()
        number[state] = through[:, None] * stay
    return through, stay, number[customers]
