"""Birth-and-death chains: machine repair, spares with limited repair, and changes over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

FloatArray = NDArray[np.float64]


def birth_death(births: Sequence[float], deaths: Sequence[float]) -> FloatArray:
    """Steady state from births[k] (k to k+1) and deaths[k] (k+1 to k), shape (states - 1,)."""
    weights = [1.0]
    for up, down in zip(births, deaths, strict=True):
        weights.append(weights[-1] * up / down)
    states = np.array(weights)
    return states / states.sum()


@dataclass(frozen=True)
class RepairLoop:
    """`wanted` machines run at once, `spares` more stand by, `crews` repair one at a time each.

    Machine repair with spares (Gross & Harris, Fundamentals of Queueing Theory, finite-source
    queues with spares). Run and repair times are exponential with means `run` and `repair`.
    """

    wanted: int
    spares: int
    crews: int
    run: float
    repair: float

    @property
    def states(self) -> FloatArray:
        """Probability of 0, 1, ... machines down."""
        all_of_them = self.wanted + self.spares
        births = [min(self.wanted, all_of_them - k) / self.run for k in range(all_of_them)]
        deaths = [min(self.crews, k + 1) / self.repair for k in range(all_of_them)]
        return birth_death(births, deaths)

    def _mean(self, values: FloatArray) -> float:
        return float(self.states @ values)

    @property
    def down(self) -> FloatArray:
        """Machines down in each state."""
        return np.arange(self.wanted + self.spares + 1.0)

    @property
    def mean_down(self) -> float:
        """Mean machines down (in repair or waiting for it)."""
        return self._mean(self.down)

    @property
    def mean_waiting(self) -> float:
        """Mean machines waiting for a crew."""
        return self._mean(np.maximum(self.down - self.crews, 0))

    @property
    def mean_short(self) -> float:
        """Mean shortage: wanted and not there."""
        return self._mean(np.maximum(self.down - self.spares, 0))

    @property
    def not_short(self) -> float:
        """Share of time without shortage."""
        return float(self.states[: self.spares + 1].sum())

    @property
    def crew_use(self) -> float:
        """Share of crew time spent on repair."""
        return self._mean(np.minimum(self.down, self.crews)) / self.crews

    @property
    def all_crews_busy(self) -> float:
        """Share of time with every crew at work."""
        return float(self.states[self.crews :].sum())

    @property
    def mean_down_time(self) -> float:
        """Mean time from failure to repaired (Little)."""
        return self.mean_down / (self.mean_down_rate)

    @property
    def mean_down_rate(self) -> float:
        """Failures per unit of time."""
        all_of_them = self.wanted + self.spares
        return self._mean(np.minimum(self.wanted, all_of_them - self.down)) / self.run


def generator(states: int, moves: Sequence[tuple[int, int, float]]) -> FloatArray:
    """Matrix of rates from a list of (from, to, rate)."""
    rates = np.zeros((states, states))
    for start, end, rate in moves:
        rates[start, end] += rate
        rates[start, start] -= rate
    return rates


def gyroscopes(last: float, asleep: float, launched: float, years: float) -> tuple[float, float]:
    """Tijms (A First Course in Stochastic Models, 2003), p. 172: six gyroscopes, three needed.

    Each fails at rate `last`. With two left the telescope goes to sleep (rate `asleep`); from
    sleep a shuttle brings six new ones (rate `launched`); with none left it crashes.

    Returns
    -------
    tuple of float
        Probability of a crash within `years`, and of no sleep (so no shuttle) and no crash.
    """
    # 0..3: six to three work; 4, 5: two, one left, not yet asleep; 6, 7: two, one, asleep; 8 crash
    moves = [(i, i + 1, (6 - i) * last) for i in range(5)]
    moves += [(5, 8, last), (4, 6, asleep), (5, 7, asleep), (6, 7, 2 * last), (7, 8, last)]
    start = np.eye(9)[0]
    with_shuttle = [*moves, (6, 0, launched), (7, 0, launched)]
    crash = float((start @ expm(generator(9, with_shuttle) * years))[8])
    first = float((start @ expm(generator(9, moves) * years))[:6].sum())
    return crash, first
