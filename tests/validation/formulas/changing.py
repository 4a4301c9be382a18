"""Rates that change with time: service level of Mt/M/c, use of an unlimited pool."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from math import atan, atan2, cos, exp, pi, sin, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import quad, solve_ivp
from scipy.stats import gamma

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Pooled:
    """Expected sums over all arrivals of a time, divided by the expected arrivals."""

    arrivals: float
    #: share that waits `wait` or less, share that does not wait, mean wait
    in_time: float
    at_once: float
    mean_wait: float


def changing_line(
    rate: Callable[[float], float],
    service: float,
    servers: int,
    length: float,
    wait: float,
    breaks: tuple[float, ...] = (),
    most: int | None = None,
) -> Pooled:
    """Mt/M/c from empty, first come first served, by its forward equations.

    p' = p Q(t); an arrival that finds n >= c waits an Erlang(n - c + 1, c mu) time. The sums
    over arrivals are integrated with the state. Rates and times in one unit; ``breaks`` are
    the moments where `rate` jumps.
    """
    c = servers
    size = most or c + 160
    number = np.arange(size + 1)
    ahead = number - c + 1
    prompt = np.where(
        number < c, 1.0, gamma.cdf(wait, np.maximum(ahead, 1), scale=1.0 / (c * service))
    )
    delay = np.where(number < c, 0.0, ahead / (c * service))
    deaths = np.minimum(number, c) * service

    def change(t: float, y: FloatArray) -> FloatArray:
        state = y[: size + 1]
        up = rate(t) * state
        up[-1] = 0.0
        down = deaths * state
        out = np.empty_like(y)
        flow = -up - down
        flow[1:] += up[:-1]
        flow[:-1] += down[1:]
        out[: size + 1] = flow
        out[size + 1 :] = rate(t) * np.array([1.0, prompt @ state, state[:c].sum(), delay @ state])
        return out

    y = np.zeros(size + 5)
    y[0] = 1.0
    edges = [0.0, *breaks, length]
    for start, end in pairwise(edges):
        done = solve_ivp(
            # a jump at the end belongs to the next piece
            lambda t, y, end=end: change(min(t, end - 1e-12), y),
            (start, end), y, method="DOP853", rtol=1e-9, atol=1e-12,
        )  # fmt: skip
        y = done.y[:, -1]
    arrivals, in_time, at_once, waited = y[size + 1 :]
    return Pooled(arrivals, in_time / arrivals, at_once / arrivals, waited / arrivals)


@dataclass(frozen=True)
class SineUse:
    """Mean use of an unlimited pool, rate mean + swing sin(speed t), service of mean 1.

    Eick, Massey & Whitt, Mt/G/infinity queues with sinusoidal arrival rates, Management
    Science 1993; 39: 241-252.
    """

    mean: float
    swing: float
    speed: float

    def exponential(self, t: float) -> float:
        """Mean in use at t, exponential service."""
        g = self.speed
        return self.mean + self.swing * (sin(g * t) - g * cos(g * t)) / (1 + g * g)

    def constant(self, t: float) -> float:
        """Mean in use at t, constant service."""
        g = self.speed
        return self.mean + self.swing / g * (cos(g * (t - 1)) - cos(g * t))

    def by_quadrature(self, t: float, stays: Callable[[float], float], longest: float) -> float:
        """Mean in use at t for any service with P(S > u) = stays(u), by integration."""
        value, _ = quad(
            lambda u: (self.mean + self.swing * sin(self.speed * (t - u))) * stays(u),
            0, longest, limit=500,
        )  # fmt: skip
        return float(value)

    @property
    def amplitude(self) -> float:
        """Half the height from trough to peak of the mean in use, exponential service."""
        return self.swing / sqrt(1 + self.speed**2)

    @property
    def lag(self) -> float:
        """How far the peak in use follows the peak of the rate."""
        return atan(self.speed) / self.speed


def filling(rate: float, service: float, t: float) -> float:
    """Mean in use of an unlimited pool t after it was empty, exponential service."""
    return rate / service * (1 - exp(-service * t))


def sine_day(t: float) -> float:
    """Rate 12 + 8 sin(2 pi t / 24) per hour at hour t."""
    return 12 + 8 * sin(2 * pi * t / 24)


def hourly_means() -> tuple[float, ...]:
    """Mean of `sine_day` in each hour of the day."""
    turn = 2 * pi / 24
    return tuple(12 + 8 / turn * (cos(turn * hour) - cos(turn * (hour + 1))) for hour in range(24))


__all__ = [
    "Pooled", "SineUse", "atan2", "changing_line", "filling", "hourly_means", "sine_day",
]  # fmt: skip
