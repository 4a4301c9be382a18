"""Waiting lines with one rate of arrivals: M/M/c, M/M/c/K, M/G/1, M/D/c, square-root staffing."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, lgamma, log, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.stats import norm, poisson


def erlang_b(servers: int, load: float) -> float:
    """Share of arrivals lost when all servers are taken: B(n) = A B(n-1) / (n + A B(n-1))."""
    lost = 1.0
    for n in range(1, servers + 1):
        lost = load * lost / (n + load * lost)
    return lost


def erlang_b_load(servers: int, lost: float) -> float:
    """Offered load [erlang] at which a share `lost` is lost."""
    return float(brentq(lambda load: erlang_b(servers, load) - lost, 1e-9, 10.0 * servers))


def erlang_c(servers: int, load: float) -> float:
    """Share of arrivals that wait at all in M/M/c: C = c B / (c - A (1 - B)); 1 if overloaded."""
    if load >= servers:
        return 1.0
    lost = erlang_b(servers, load)
    return servers * lost / (servers - load * (1.0 - lost))


@dataclass(frozen=True)
class Line:
    """Steady state of an M/M/c line; times in the unit of the rates."""

    arrivals: float
    service: float
    servers: int

    @property
    def load(self) -> float:
        """Offered load [erlang]."""
        return self.arrivals / self.service

    @property
    def empty(self) -> float:
        """Probability of an empty system."""
        a, c = self.load, self.servers
        terms = [exp(n * log(a) - lgamma(n + 1)) for n in range(c)]
        last = exp(c * log(a) - lgamma(c + 1)) * c / (c - a)
        return 1.0 / (sum(terms) + last)

    @property
    def delayed(self) -> float:
        """Share that waits at all."""
        return erlang_c(self.servers, self.load)

    @property
    def mean_wait(self) -> float:
        """Mean wait of all arrivals."""
        return self.delayed / (self.servers * self.service - self.arrivals)

    @property
    def mean_queue(self) -> float:
        """Mean number waiting."""
        return self.arrivals * self.mean_wait

    @property
    def mean_time(self) -> float:
        """Mean time in the system."""
        return self.mean_wait + 1.0 / self.service

    @property
    def mean_number(self) -> float:
        """Mean number in the system."""
        return self.arrivals * self.mean_time

    def later_than(self, wait: float) -> float:
        """Share that waits longer than `wait`."""
        return self.delayed * exp(-(self.servers * self.service - self.arrivals) * wait)


@dataclass(frozen=True)
class FiniteRoom:
    """Steady state of M/M/c/K: arrivals that find K in the system are turned away."""

    arrivals: float
    service: float
    servers: int
    room: int

    @property
    def states(self) -> NDArray[np.float64]:
        """Probability of 0..K in the system."""
        weights = [1.0]
        for n in range(1, self.room + 1):
            weights.append(weights[-1] * self.arrivals / (min(n, self.servers) * self.service))
        states = np.array(weights)
        return states / states.sum()

    @property
    def mean_number(self) -> float:
        """Mean number in the system."""
        return float(self.states @ np.arange(self.room + 1))

    @property
    def mean_wait(self) -> float:
        """Mean wait of those who are let in."""
        let_in = self.arrivals * (1.0 - self.states[-1])
        return self.mean_number / let_in - 1.0 / self.service


def mg1_mean_wait(arrivals: float, mean: float, cv: float) -> float:
    """Mean wait in M/G/1 (Pollaczek 1930, Khinchine 1932: `KHINCHINE` in catalogue/sources)."""
    return arrivals * mean**2 * (1.0 + cv**2) / (2.0 * (1.0 - arrivals * mean))


@dataclass(frozen=True)
class ConstantService:
    """M/D/c with service time 1, from the chain N(t+1) = max(N(t) - c, 0) + Poisson(arrivals).

    Crommelin 1932; Franx 2001: `CROMMELIN` in catalogue/sources.
    """

    arrivals: float
    servers: int

    def states(self, most: int = 900) -> NDArray[np.float64]:
        """Probability of 0, 1, ... in the system at any moment."""
        size = most + 1
        arrived = poisson.pmf(np.arange(size), self.arrivals)
        step = np.zeros((size, size))
        for n in range(size):
            left = max(n - self.servers, 0)
            step[n, left:] = arrived[: size - left]
        # what falls outside is put on the last state, so that rows sum to 1
        step[:, -1] += 1.0 - step.sum(axis=1)
        matrix = step.T - np.eye(size)
        matrix[-1, :] = 1.0
        right = np.zeros(size)
        right[-1] = 1.0
        return np.linalg.solve(matrix, right)

    @property
    def delayed(self) -> float:
        """Share that waits at all: all servers are taken when it comes."""
        return 1.0 - float(self.states()[: self.servers].sum())

    @property
    def mean_wait(self) -> float:
        """Mean wait of all arrivals, in service times."""
        states = self.states()
        queue = float(states @ np.maximum(np.arange(len(states)) - self.servers, 0))
        return queue / self.arrivals


def square_root_delay(beta: float) -> float:
    """Share delayed with load + beta sqrt(load) servers, in the limit (Halfin & Whitt 1981)."""
    return 1.0 / (1.0 + beta * norm.cdf(beta) / norm.pdf(beta))


def square_root_beta(delayed: float) -> float:
    """Safety factor beta that gives a share delayed."""
    return float(brentq(lambda beta: square_root_delay(beta) - delayed, 1e-6, 10.0))


def nearest_servers(load: float, beta: float) -> int:
    """Whole servers of the square-root rule."""
    return round(load + beta * sqrt(load))
