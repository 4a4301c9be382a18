"""How often the recommended stock is wrong, what it costs extra, whether the limits cover.

    python -m tests.studies.selection --repetitions 500 --processes 16 --write rows.jsonl

The truth is known: exactly for the two invented chances of tests/sizing/known.py, by long
enumeration (20,000 surges a stock) for the small kit cycle of tests/sizing/stand_in.py, of which
one case has a stock in hand as its floor and one lets bays vary.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from joblib import Parallel, delayed
from scipy import stats

from surge_sim.equipment.stock import Stock, money
from surge_sim.errors import OutOfReach
from surge_sim.sizing.least import least_cost
from surge_sim.sizing.player import Work
from surge_sim.sizing.search import buying, search_region
from surge_sim.sizing.size import Sizing, find_stock
from tests.sizing.known import Chance, Known, slippery, smooth
from tests.sizing.stand_in import LIMITS, PRICES, StandIn, stand_in_case

SHARE = 0.9
#: surges of the truth of the kit cycle, of a seed that no sizing uses
TRUTH, TRUTH_SEED = 20_000, 987_654
#: kits, batteries, bays of its table: with more the chance is taken to be that of the last
LOW, HIGH = (4, 10, 5), (30, 60, 14)
SIZES = ((100, 300), (200, 800))


@dataclass(frozen=True)
class Study:
    """One case that is sized again and again."""

    name: str
    case: Callable[..., Sizing]
    #: "known" or "kit cycle"
    truth: str
    chance: Chance | None = None


def known_case(seed: int, chance: Chance, choose: int, surges: int) -> Sizing:
    """Return an invented chance of passing as a case, from an empty store."""
    space = search_region(Stock(0, 0, 2), ("kits", "batteries"), PRICES, LIMITS)
    guess = {"kits": 6, "batteries": 10}
    return Sizing(Known(seed, chance), space, LIMITS, choose=choose, surges=surges, guess=guess)


STUDIES = {
    study.name: study
    for study in (
        Study("smooth", partial(known_case, chance=smooth), "known", smooth),
        Study("slippery", partial(known_case, chance=slippery), "known", slippery),
        Study("empty store", stand_in_case, "kit cycle"),
        Study("stock in hand", partial(stand_in_case, owned=Stock(9, 22, 12)), "kit cycle"),
        Study(
            "bays varied",
            partial(stand_in_case, owned=Stock(0, 0, 0), names=("kits", "batteries", "bays")),
            "kit cycle",
        ),
    )
}


def needed_kits(number: int) -> np.ndarray:
    """Return the least kits by bays and batteries that keep one surge on target."""
    surge = StandIn(TRUTH_SEED).surge(9, number)
    found = np.full((HIGH[2] - LOW[2] + 1, HIGH[1] - LOW[1] + 1), HIGH[0] + 1)
    for row, bays in enumerate(range(LOW[2], HIGH[2] + 1)):
        kits = HIGH[0] + 1
        for column, batteries in enumerate(range(LOW[1], HIGH[1] + 1)):
            while kits > LOW[0] and surge.kept(Stock(kits - 1, batteries, bays)):
                kits -= 1
            found[row, column] = kits
    return found


class Truth:
    """True chances of the kit cycle."""

    def __init__(self, processes: int, surges: int = TRUTH) -> None:
        count = np.zeros((HIGH[0] - LOW[0] + 1, HIGH[2] - LOW[2] + 1, HIGH[1] - LOW[1] + 1))
        kits = np.arange(LOW[0], HIGH[0] + 1)[:, None, None]
        work = Parallel(n_jobs=processes, return_as="generator", batch_size=50)
        for needed in work(delayed(needed_kits)(number) for number in range(surges)):
            count += needed <= kits
        self.chance = count / surges

    def __call__(self, stock: Stock) -> float:
        numbers = (stock.kits, stock.bays, stock.batteries)
        lows, highs = (LOW[0], LOW[2], LOW[1]), (HIGH[0], HIGH[2], HIGH[1])
        place = [min(n, high) - low for n, low, high in zip(numbers, lows, highs, strict=True)]
        return float(self.chance[tuple(place)]) if min(place) >= 0 else 0.0


def optimum(case: Sizing, chance: Chance) -> float:
    """Return the least money with which the true chance is the share, by trying all."""
    axes = {axis.item.name: axis for axis in case.region.axes}
    ranges = []
    for name in ("kits", "batteries", "bays"):
        least = getattr(case.region.owned, name)
        most = min(axes[name].high, least + 70) if name in axes else least
        ranges.append(range(least, most + 1))
    stocks = (Stock(k, b, c) for k in ranges[0] for b in ranges[1] for c in ranges[2])
    return min(case.region.money(one) for one in stocks if chance(one) >= SHARE)


def one_sizing(seed: int, study: Study, chance: Chance, choose: int, surges: int) -> dict[str, Any]:
    """Size a case once, and compare what it says with the truth."""
    case = study.case(seed, choose=choose, surges=surges)
    try:
        found = find_stock(case, Work())
    except OutOfReach:
        return {"seed": seed, "none": True}
    bounds = least_cost(found.sample, found.ledger, case.region, found.recommended)
    stages = buying(found.sample, case.region, found.recommended)
    found.ledger.play_whole(stages, "stage")
    limits = [(found.ledger.entry(one), chance(one)) for one in stages]
    whole = money(Stock(0, 0, 0), found.recommended, PRICES)
    return {
        "seed": seed,
        "none": False,
        "chance": chance(found.recommended),
        "money": case.region.money(found.recommended),
        "whole": whole,
        "low": bounds.low,
        "stages": len(limits),
        "below_low": sum(true < entry.low for entry, true in limits),
        "above_high": sum(true > entry.high for entry, true in limits),
        "hand_outside": [limits[0][1] < limits[0][0].low, limits[0][1] > limits[0][0].high],
        "best_outside": [chance(found.recommended) < found.ledger.entry(found.recommended).low,
                         chance(found.recommended) > found.ledger.entry(found.recommended).high],
        "wrong_verdicts": sum(
            (entry.verdict == "confirmed" and true < SHARE)
            or (entry.verdict == "not met" and true >= SHARE)
            for entry, true in limits
        ),
        "plays": found.ledger.plays,
    }  # fmt: skip


def summary(rows: list[dict[str, Any]], best: float, floor: float) -> dict[str, Any]:
    """Return what many sizings came to; shares of them unless said otherwise."""
    found = [row for row in rows if not row["none"]]
    column = {key: np.array([row[key] for row in found]) for key in found[0]}
    stages = column["stages"].sum()
    return {
        "sizings": len(rows),
        "none_confirmed": len(rows) - len(found),
        "wrong": float((column["chance"] < SHARE).mean()),
        "wrong_by_two_points": float((column["chance"] < SHARE - 0.02).mean()),
        "five_percent_plus_noise": float(stats.binom.ppf(0.999, len(found), 0.05) / len(found)),
        "true_least_cost": best,
        "extra_cost": float((column["money"] / best - 1).mean()),
        "extra_cost_standard_error": float(
            (column["money"] / best).std(ddof=1) / np.sqrt(len(found))
        ),
        "extra_cost_of_whole_stock": float((column["whole"] / (best + floor) - 1).mean()),
        "least_cost_missed": float((column["low"] > best + 1e-9).mean()),
        "least_cost_low_to_true": float((column["low"] / best).mean()),
        "recommended_low_missed": float(column["best_outside"][:, 0].mean()),
        "recommended_high_missed": float(column["best_outside"][:, 1].mean()),
        "in_hand_low_missed": float(column["hand_outside"][:, 0].mean()),
        "in_hand_high_missed": float(column["hand_outside"][:, 1].mean()),
        "stage_low_missed": float(column["below_low"].sum() / stages),
        "stage_high_missed": float(column["above_high"].sum() / stages),
        "mean_plays_of_new_surges": float(column["plays"].mean()),
    }


def main() -> None:
    """Print what the sizings came to."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--cases", nargs="+", choices=list(STUDIES), default=list(STUDIES))
    parser.add_argument("--repetitions", type=int, default=500)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--truth", type=int, default=TRUTH, help="surges of the truth")
    parser.add_argument("--write", type=Path, help="append a JSON object for each case and size")
    asked = parser.parse_args()
    truth = None
    for name in asked.cases:
        study = STUDIES[name]
        if study.truth != "known":
            truth = truth or Truth(asked.processes, asked.truth)
        chance = study.chance or truth
        assert chance is not None
        case = study.case(0, choose=100, surges=300)
        best, floor = optimum(case, chance), money(Stock(0, 0, 0), case.region.owned, PRICES)
        for choose, surges in SIZES:
            one = partial(one_sizing, study=study, chance=chance, choose=choose, surges=surges)
            rows = Parallel(n_jobs=asked.processes)(
                delayed(one)(seed)
                for seed in range(asked.first_seed, asked.first_seed + asked.repetitions)
            )
            told = {"case": name, "choose": choose, "surges": surges} | summary(rows, best, floor)
            print(json.dumps(told), flush=True)
            if asked.write is not None:
                with asked.write.open("a") as file:
                    print(json.dumps(told), file=file)


if __name__ == "__main__":
    main()
