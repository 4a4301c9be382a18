"""How often the recommended stock is wrong, what it costs extra, whether the interval covers.

    python -m tests.studies.selection --sizings 500 --rows rows.jsonl

Hours of one processor; with ``--rows`` it goes on where it was stopped.

The truth is known: exactly for the two invented chances of tests/sizing/known.py, by long
enumeration (20,000 surges a stock) for the small kit cycle of tests/sizing/stand_in.py.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache, partial
from pathlib import Path

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
    plan = Plan(choose=choose, certify=certify, compare=False)
    rows = [known_row(seed, chance, plan) for seed in range(number)]
    return _report(rows, stock_cost(cheapest_by_truth(chance), PRICES))


Row = tuple[float, float, float] | None


def known_row(seed: int, chance: Chance, plan: Plan) -> Row:
    """Size a case of known chance once."""
    case = Case("known", Known(seed, chance), IN_HAND, PRICES, LIMITS)
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

    def __init__(self, surges: int = 20_000, jobs: int = 1) -> None:
        bays = stand_in_case(0).in_hand.bays
        self.space = Space(Stock(0, 0, bays), Axis("kits", 4, 30), (Axis("batteries", 10, 60),))
        task = InvertTask(StandIn(987_654), 9, self.space, 5)
        parts = Parallel(n_jobs=jobs)(delayed(task)(n) for n in range(surges))
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


def stand_in_row(seed: int, truth: LongTruth, plan: Plan) -> Row:
    """Size the stand-in once."""
    try:
        result = size_case(stand_in_case(seed), plan)
    except OutOfReach:
        return None
    return truth(result.recommended), result.cost, result.least_cost.low


class Rows:
    """Sizings that were done, one JSON object a line, so that a study can go on where it ended."""

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self.known: dict[tuple[str, int], Row] = {}
        if path is not None and path.exists():
            for line in path.read_text().splitlines():
                one = json.loads(line)
                row = one["row"]
                self.known[one["study"], one["seed"]] = None if row is None else tuple(row)

    def collect(self, study: str, number: int, one: Callable[[int], Row], jobs: int) -> list[Row]:
        """Return the rows of so many seeds, working out those that are missing."""
        missing = [seed for seed in range(number) if (study, seed) not in self.known]
        found = Parallel(n_jobs=jobs, return_as="generator")(delayed(one)(s) for s in missing)
        for seed, row in zip(missing, found, strict=True):
            self.known[study, seed] = row
            if self.path is not None:
                with self.path.open("a") as file:
                    print(json.dumps({"study": study, "seed": seed, "row": row}), file=file)
        return [self.known[study, seed] for seed in range(number)]


def main() -> None:
    """Print what the sizings came to."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--sizings", type=int, default=500)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--rows", type=Path, help="keep what was done here, and go on from it")
    asked = parser.parse_args()
    rows, number = Rows(asked.rows), asked.sizings
    truth = LongTruth(jobs=asked.processes)
    print(f"stand-in: true least cost {truth.least_cost():g}", flush=True)
    for choose, certify in ((100, 300), (200, 800), (200, 2000)):
        plan = Plan(choose=choose, certify=certify, compare=False)
        name = f"{choose}+{certify}"
        found = rows.collect(
            f"stand-in {name}", number, partial(stand_in_row, truth=truth, plan=plan),
            asked.processes,
        )  # fmt: skip
        print(f"stand-in {name}: {_report(found, truth.least_cost())}", flush=True)
        for chance in (smooth, slippery):
            found = rows.collect(
                f"{chance.__name__} {name}", number, partial(known_row, chance=chance, plan=plan),
                asked.processes,
            )  # fmt: skip
            optimum = stock_cost(cheapest_by_truth(chance), PRICES)
            print(f"{chance.__name__} {name}: {_report(found, optimum)}", flush=True)


if __name__ == "__main__":
    main()
