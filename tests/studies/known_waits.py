"""Surges whose true shares, means and quantiles are worked out, not simulated.

Two cases. *One line*: a single server, Poisson arrivals, exponential service, begun in its steady
state, so that every wait has Erlang's distribution: P(W > t) = a exp(-(1 - a) t / service), with
the load a (Erlang 1917). *Loads*: each surge has a load of its own, lognormal, that moves its
number of entries, their waits, its alarms and its stock-outs; truths are integrals over the load.
All numbers are invented.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

Waits = tuple[NDArray[np.int64], NDArray[np.int64]]

#: what is promised [s]
TARGET_S = 300


class Case(Protocol):
    """Draws many surges side by side, and knows the truth."""

    name: str

    def draw(self, rng: np.random.Generator, surges: int) -> Waits:
        """Return (entries of each surge, waits of all surges one after the other [s])."""
        ...

    def longer(self, wait_s: float) -> float:
        """Return the true share of entries that wait longer."""
        ...

    def mean_s(self) -> float:
        """Return the true mean wait [s]."""
        ...


def quantile_s(case: Case, share: float) -> float:
    """Return the true quantile of the wait [s], rounded to whole seconds as waits are."""
    if case.longer(0.0) <= 1.0 - share:
        return 0.0
    root = brentq(lambda wait_s: case.longer(wait_s) - (1.0 - share), 0.0, 1e6)
    return float(np.rint(root))


@dataclass(frozen=True)
class OneLine:
    """A single server in its steady state."""

    name: str = "one line"
    load: float = 0.7
    service_s: float = 200.0
    entries: int = 200

    def draw(self, rng: np.random.Generator, surges: int) -> Waits:
        """Waits by Lindley's recursion, all surges abreast."""
        wait = np.where(
            rng.random(surges) < self.load,
            rng.exponential(self.service_s / (1 - self.load), surges),
            0.0,
        )
        waits = np.empty((surges, self.entries))
        for entry in range(self.entries):
            waits[:, entry] = wait
            wait = wait + rng.exponential(self.service_s, surges)
            wait = np.maximum(wait - rng.exponential(self.service_s / self.load, surges), 0.0)
        entries = np.full(surges, self.entries, dtype=np.int64)
        return entries, np.rint(waits).astype(np.int64).ravel()

    def longer(self, wait_s: float) -> float:
        """Erlang's distribution of the wait; half a second for the rounding."""
        return self.load * math.exp(-(1 - self.load) * (wait_s + 0.5) / self.service_s)

    def mean_s(self) -> float:
        """Mean of Erlang's distribution."""
        return self.load * self.service_s / (1 - self.load)


@dataclass(frozen=True)
class Loads:
    """Surges that differ in their loads."""

    name: str = "loads"
    entries: float = 200.0
    spread: float = 0.5

    def loads(self, rng: np.random.Generator, surges: int) -> NDArray[np.float64]:
        """Draw one load for each surge."""
        return np.exp(rng.normal(0.0, self.spread, surges))

    def entries_at(self, load: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the mean number of entries at a load."""
        return self.entries * (0.6 + 0.4 * load)

    def draw(self, rng: np.random.Generator, surges: int) -> Waits:
        """Most entries do not wait; in heavy surges many do, and long."""
        load = self.loads(rng, surges)
        entries = rng.poisson(self.entries_at(load))
        each = np.repeat(load, entries)
        some = rng.random(len(each)) < each / (6.0 + each)
        waits = np.where(some, rng.exponential(600.0 * each), 0.0)
        return entries, np.rint(waits).astype(np.int64)

    def integral(self, value: Callable[[NDArray[np.float64]], NDArray[np.float64]]) -> float:
        """Return the mean of a value over the loads, by Gauss and Hermite."""
        place, weight = np.polynomial.hermite_e.hermegauss(120)
        return float(np.sum(weight * value(np.exp(self.spread * place))) / weight.sum())

    def longer(self, wait_s: float) -> float:
        """Late entries over entries, both integrated over the load."""
        late = self.integral(
            lambda x: self.entries_at(x) * x / (6 + x) * np.exp(-(wait_s + 0.5) / (600 * x))
        )
        return late / self.integral(self.entries_at)

    def mean_s(self) -> float:
        """Waiting seconds over entries."""
        waited = self.integral(lambda x: self.entries_at(x) * x / (6 + x) * 600 * x)
        return waited / self.integral(self.entries_at)

    def mean_service_level(self) -> float:
        """Mean of the surges' own shares."""
        return 1.0 - self.integral(lambda x: x / (6 + x) * np.exp(-(TARGET_S + 0.5) / (600 * x)))
