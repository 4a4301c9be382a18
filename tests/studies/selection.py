"""How often the recommended stock is wrong, what it costs extra, whether the interval covers.

    python -m tests.studies.selection --sizings 500

The truth is known: exactly for the two invented chances of tests/sizing/known.py, by long
enumeration (20,000 surges a stock) for the small kit cycle of tests/sizing/stand_in.py.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from joblib import Parallel, delayed
from scipy import stats

from surge_sim.equipment.stock import Stock
from surge_sim.errors import OutOfReach
from surge_sim.sizing.invert import InvertTask
from surge_sim.sizing.items import stock_cost
from surge_sim.sizing.method import Case, Plan, size_case
from surge_sim.sizing.space import Axis, Space
from tests.sizing.known import Known, slippery, smooth
from tests.sizing.stand_in import LIMITS, PRICES, StandIn, stand_in_case

Chance = Callable[[Stock], float]
IN_HAND = Stock(5, 9, 2)
SHARE = 0.9


@dataclass(frozen=True)
class Report:
    """What many sizings came to."""

    sizings: int
    #: recommended stocks whose true chance is below the share
    wrong: int
    #: by two points or more
    badly_wrong: int
    #: sizings that certified nothing
    none: int
    #: least-cost intervals that miss the true least cost
    missed_cost: int
    #: mean of (price / true least cost - 1)
    extra_cost: float
    #: mean lower end / true least cost
    low_end: float

    def __str__(self) -> str:
        noise = stats.binom.ppf(0.999, self.sizings, 0.05) / self.sizings
        return (
            f"{self.sizings} sizings: wrong {self.wrong} ({self.wrong / self.sizings:.1%}; "
            f"5 % plus noise is {noise:.1%}), badly wrong {self.badly_wrong}, "
            f"none certified {self.none}, least cost missed {self.missed_cost}, "
            f"extra cost {self.extra_cost:+.1%}, interval from {self.low_end - 1:+.1%}"
        )


@lru_cache
def cheapest_by_truth(chance: Chance) -> Stock:
    """Return the cheapest stock whose true chance is at least the share, by trying all."""
    stocks = (
        Stock(kits, batteries, IN_HAND.bays)
        for kits in range(LIMITS.kits + 1)
        for batteries in range(LIMITS.batteries + 1)
    )
    return min(
        (stock for stock in stocks if chance(stock) >= SHARE),
        key=lambda stock: stock_cost(stock, PRICES),
    )


def sizings(number: int, chance: Chance, choose: int = 200, certify: int = 800) -> Report:
    """Size a case of known chance again and again, with different seeds."""
    cases = (Case("known", Known(s, chance), IN_HAND, PRICES, LIMITS) for s in range(number))
    plan = Plan(choose=choose, certify=certify, compare=False)
    rows = [_one(case, plan, chance) for case in cases]
    return _report(rows, stock_cost(cheapest_by_truth(chance), PRICES))


Row = tuple[float, float, float] | None


def _one(case: Case, plan: Plan, chance: Chance) -> Row:
    try:
        result = size_case(case, plan)
    except OutOfReach:
        return None
    return chance(result.recommended), result.cost, result.least_cost.low


def _report(rows: list[Row], optimum: float) -> Report:
    found = np.array([row for row in rows if row is not None])
    chance, cost, low = found.T
    return Report(
        sizings=len(rows),
        wrong=int((chance < SHARE).sum()),
        badly_wrong=int((chance < SHARE - 0.02).sum()),
        none=len(rows) - len(found),
        missed_cost=int(((low > optimum + 1e-9) | (cost < optimum - 1e-9)).sum()),
        extra_cost=float(np.mean(cost / optimum - 1)),
        low_end=float(np.mean(low / optimum)),
    )


class LongTruth:
    """True chances of the stand-in: 20,000 surges of a seed that no sizing uses."""

    def __init__(self, surges: int = 20_000) -> None:
        bays = stand_in_case(0).in_hand.bays
        self.space = Space(Stock(0, 0, bays), Axis("kits", 4, 30), (Axis("batteries", 10, 60),))
        task = InvertTask(StandIn(987_654), 9, self.space, 5, 8)
        parts = Parallel(n_jobs=-1, batch_size=100)(delayed(task)(n) for n in range(surges))
        self.least = np.array([part.least for part in parts])

    def __call__(self, stock: Stock) -> float:
        ladder, axis = self.space.ladder, self.space.axes[0]
        line = min(stock.batteries, axis.high) - axis.low
        rung = min(stock.kits, ladder.high) - ladder.low
        if line < 0 or rung < 0:
            return 0.0
        return float(np.mean(self.least[:, line] <= rung))

    def least_cost(self) -> float:
        """Return the true least cost."""
        costs = self.space.costs(PRICES)
        rungs = np.arange(len(self.space.ladder))
        chances = (self.least[:, :, None] <= rungs).mean(axis=0)
        return float(costs[chances >= SHARE].min())


def stand_in_sizings(number: int, truth: LongTruth, plan: Plan) -> Report:
    """Size the stand-in again and again."""

    def one(seed: int) -> Row:
        try:
            result = size_case(stand_in_case(seed), plan)
        except OutOfReach:
            return None
        return truth(result.recommended), result.cost, result.least_cost.low

    rows = Parallel(n_jobs=-1)(delayed(one)(seed) for seed in range(number))
    return _report(rows, truth.least_cost())


def main() -> None:
    """Print what the sizings came to."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sizings", type=int, default=500)
    number = parser.parse_args().sizings
    for choose, certify in ((100, 300), (200, 800), (200, 2000)):
        for chance in (smooth, slippery):
            report = sizings(number, chance, choose, certify)
            print(f"{chance.__name__} {choose}+{certify}: {report}", flush=True)
    truth = LongTruth()
    print(f"stand-in: true least cost {truth.least_cost():g}")
    for choose, certify in ((100, 300), (200, 800), (200, 2000)):
        plan = Plan(choose=choose, certify=certify, compare=False)
        report = stand_in_sizings(number, truth, plan)
        print(f"stand-in {choose}+{certify}: {report}", flush=True)


if __name__ == "__main__":
    main()
