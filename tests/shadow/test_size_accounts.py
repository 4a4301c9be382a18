"""Every number that ``size`` writes, kept a second time: each stock it shows is played again."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.randomness import Sample
from surge_sim.report.folder import ResultFolder
from surge_sim.report.sizing_folder import fill_size_folder
from surge_sim.scenario.load import scenario_from_text
from surge_sim.sizing.size import size
from tests.shadow.causes import waiting_for
from tests.shadow.cells import differences, read_table
from tests.shadow.raw import play_raw
from tests.shadow.run_books import Books
from tests.shadow.run_summary import apart, promise
from tests.shadow.scenes import sizing_scene
from tests.shadow.size_books import Plays, SizeBooks, lower, upper
from tests.shadow.size_screen import screen_differences

CASES, QUICK = 10, 2
CHOOSE, CERTIFY, SEED, CONFIDENCE = 24, 40, 3, 0.8
BUDGETS = (9_000, 12_345, 7_000)


class Case:
    """One sizing as it was written, and the plays of the same surges."""

    def __init__(self, number: int, written: Callable[[int], str] = sizing_scene) -> None:
        scenario = scenario_from_text(written(number), name=f"scene_{number}")
        self.settings = scenario.settings
        vary = ("kits", "batteries", "bays") if number % 3 == 2 else ("kits", "batteries")
        self.budget = BUDGETS[number % 3]
        result = size(
            scenario, vary=vary, choose=CHOOSE, surges=CERTIFY, confidence=CONFIDENCE, seed=SEED,
            budget=self.budget, processes=1,
        )  # fmt: skip
        self.result = result
        with TemporaryDirectory() as folder:
            place = Path(folder)
            with pytest.MonkeyPatch.context() as patched:
                patched.setattr(ResultFolder, "write_figure", lambda *_: None)
                fill_size_folder(ResultFolder(place, place), result)
            self.summary: dict[str, Any] = json.loads((place / "summary.json").read_text("utf-8"))
            self.screen = (place / "answer.txt").read_text("utf-8")
            self.tables = {path.stem: read_table(path) for path in (place / "tables").glob("*.csv")}
        self.plays = Plays(scenario, SEED)
        self.in_hand = stock_in_hand(self.settings)
        self.books = SizeBooks(self.plays, self.in_hand, vary, CONFIDENCE, CHOOSE, CERTIFY)
        self.recommended = self.stock(self.summary["recommended"]["stock"])

    def stock(self, counts: dict[str, Any]) -> Stock:
        """A stock from its counts in the summary."""
        return self.books.stock(counts)

    def rows(self, table: str) -> list[dict[str, Any]]:
        """Rows of a table as they were written."""
        return self.tables[table].to_dict("records")


@cache
def case_of(number: int) -> Case:
    """Size a random scene once."""
    return Case(number)


def cases() -> list[Any]:
    quick = [pytest.param(n, id=f"scene {n}") for n in range(QUICK)]
    return quick + [
        pytest.param(n, id=f"scene {n}", marks=pytest.mark.slow) for n in range(QUICK, CASES)
    ]


@pytest.fixture(params=cases())
def case(request) -> Case:
    return case_of(request.param)


def shown(case: Case) -> tuple[list[Stock], list[Stock]]:
    """Stocks shown to pass and shown to fail, by second accounts of their surges."""
    books, plays = case.books, case.plays
    passed, failed = [case.recommended], []
    rows = [*case.rows("chain"), *case.rows("evidence")]
    for row in rows:
        stock, surges = case.stock(row), int(row["surges"])
        if not surges:
            continue
        kept = int(plays.kept(Sample.CERTIFY, stock, surges).sum())
        if row["verdict"] == "passes":
            passed.append(stock)
        if upper(kept, surges, books.error) < books.share and row["verdict"] == "fails":
            failed.append(stock)
    return passed, failed


def waiting_in_hand(case: Case) -> list[dict[str, Any]]:
    """What people wait for with the stock in hand, in the surges that choose."""
    raw = play_raw(case.plays.scenario, case.in_hand, CHOOSE, SEED, Sample.CHOOSE)
    return waiting_for(Books(raw, case.settings.target, case.settings.supplies.wipes_per_clean))


@cache
def accounts(case: Case) -> dict[str, list[dict[str, Any]]]:
    """Return each table of the folder from the second accounts."""
    books, band = case.books, case.tables["band"]
    passed, failed = shown(case)
    failed = [*failed, *case.result.least_cost.failed]
    needed = case.tables["needed"]
    # of each item as many were searched as the curve begins and ends with
    searched = {
        item: (int(rows["number"].min()), int(rows["number"].max()))
        for item, rows in needed.groupby("item")
    }
    kept = {
        "evidence": books.evidence(case.rows("evidence"), case.recommended),
        "chain": books.chain(case.rows("chain")),
        "frontier": books.frontier(case.rows("frontier"), passed),
        "band": books.band(case.rows("band"), passed, failed),
        "needed": books.needed(case.rows("needed"), case.recommended),
        "needed_quantiles": books.needed_quantiles(
            case.rows("needed_quantiles"), case.recommended, searched
        ),
        "other_shares": books.other_shares(case.rows("other_shares"), band),
        "more_stock": books.more_stock(case.rows("more_stock")),
        "waiting_in_hand": waiting_in_hand(case),
    }
    for name, begin in (("in_hand", case.in_hand), ("recommended", case.recommended)):
        table = f"next_item_{name}"
        if table in case.tables:
            surges = case.summary["next_item"][name]["surges"]
            kept[table] = books.next_items(case.rows(table), begin, surges)
    return kept


def none_wrong(wrong: list[str]) -> None:
    """Fail with the first of what was found."""
    assert not wrong, "\n".join([f"{len(wrong)} numbers differ", *wrong[:20]])


def test_every_table_of_a_sizing_is_what_its_stocks_do_when_they_are_played_again(
    case: Case,
) -> None:
    kept = accounts(case)
    assert set(case.tables) == set(kept), "a table of which nobody keeps a second account"
    wrong = []
    for name, rows in kept.items():
        wrong += differences(name, case.tables[name], rows)
    none_wrong(wrong)


@cache
def second_summary(case: Case) -> dict[str, Any]:
    """Return summary.json from the second accounts; words, and sums of the method, are left out."""
    books, plays, said = case.books, case.plays, case.summary
    tables = accounts(case)
    answer: dict[str, Any] = {
        "scenario": case.result.name,
        "seed": SEED,
        "target": promise(case.settings.target),
        "confidence": CONFIDENCE,
        "vary": said["vary"],
        "held_fixed": [name for name in said["held_fixed"] if name not in said["vary"]],
        "recommended": {
            **counts(case.recommended),
            "cost": plays.cost(case.recommended),
            "stock": counts(case.recommended),
        },
        "in_hand": counts(case.in_hand) | {"cost": plays.cost(case.in_hand)},
        "waiting_in_hand": {row["waiting_for"]: row["share"] for row in tables["waiting_in_hand"]},
        "currency": case.settings.prices.currency,
        "frontier": tables["frontier"],
        "evidence": [
            {"stock": {name: row[name] for name in COUNTS}}
            | {key: row[key] for key in row if key not in (*COUNTS, "cost", "low_alone")}
            for row in tables["evidence"]
        ],
        "needed_distribution": tables["needed_quantiles"],
        "other_shares_of_surges": tables["other_shares"],
        "average_rates": beside(case, said["average_rates"]),
        "central_values": None,
        # without supplies no part can run out: see sizing/test_parts.py
        "parts": [],
        "surges_choosing": CHOOSE,
        "surges_certifying": CERTIFY,
    }
    answer["next_item"] = {
        name: None
        if said["next_item"][name] is None
        else {
            "stock": counts(begin),
            "surges": said["next_item"][name]["surges"],
            "surges_on_target": kept(case, begin, said["next_item"][name]["surges"]),
            "changes": tables[f"next_item_{name}"],
        }
        for name, begin in (("in_hand", case.in_hand), ("recommended", case.recommended))
    }
    best = said["budget"]
    stock = case.stock(best)
    surges, passes = best["surges"], kept(case, stock, best["surges"])
    assert plays.cost(stock) <= case.budget
    low, high = (end(passes, surges, books.error / 2) for end in (lower, upper))
    answer["budget"] = {
        "budget": case.budget,
        "reaches_target": "shown"
        if low >= books.share
        else "no"
        if high < books.share
        else "not shown",
        "cost_recommended": plays.cost(case.recommended),
        **counts(stock),
        "cost": plays.cost(stock),
        "surges": surges,
        "surges_on_target": passes,
        "low": low,
        "high": high,
        "share_in_time": float(plays.in_time(Sample.CERTIFY, stock, surges).mean()),
    }
    answer["least_cost"] = least_cost(case)
    return answer


#: counts of a stock in the summary
COUNTS = ("kits", "batteries", "spare_batteries", "bays")
#: words and sums of the method itself: how many plays, how often more stock hurt
WORDS = {
    "title", "notes", "caution", "chain_sha256", "plays", "plays_of_full_grid", "more_stock_hurt",
}  # fmt: skip


def counts(stock: Stock) -> dict[str, int]:
    """Return a stock as the summary counts it."""
    spare = max(stock.batteries - stock.kits, 0)
    return dict(zip(COUNTS, (stock.kits, stock.batteries, spare, stock.bays), strict=True))


def kept(case: Case, stock: Stock, surges: int) -> int:
    """How many of the first fresh surges a stock keeps the target in."""
    return int(case.plays.kept(Sample.CERTIFY, stock, surges).sum())


def beside(case: Case, said: dict[str, Any]) -> dict[str, Any]:
    """A stock that is shown beside the answer."""
    stock, surges = case.stock(said["stock"]), said["surges"]
    passes = kept(case, stock, surges)
    return {
        "stock": counts(stock),
        "surges": surges,
        "surges_on_target": passes,
        "low": lower(passes, surges, case.books.error / 2),
        "high": upper(passes, surges, case.books.error / 2),
    }


def ruled_out(case: Case, stock: Stock, by_richer: bool = True) -> bool:
    """Whether a stock is shown to fail with the chance of error that the least cost may spend.

    A surge in which a richer stock fails counts as failed.
    """
    books = case.books
    for sample, surges, part in ((Sample.CHOOSE, CHOOSE, 0.25), (Sample.CERTIFY, CERTIFY, 0.75)):
        served = case.plays.kept(sample, stock, surges)
        if upper(int(served.sum()), surges, part * books.error) < books.share:
            return True
        for richer in books.richer(stock) if by_richer else ():
            served &= case.plays.kept(sample, richer, surges)
            if upper(int(served.sum()), surges, part * books.error) < books.share:
                return True
    return False


def least_cost(case: Case) -> dict[str, Any]:
    """The cheapest stock that no poorer or equal one that was shown to fail rules out.

    Each stock that the bound leans on is shown to fail, by a quarter of the chance of error on
    the choosing surges or by the rest of it on the fresh ones, if more stock never hurts.
    """
    said = case.summary["least_cost"]
    for stock in case.result.least_cost.failed:
        assert ruled_out(case, stock), stock
    cheapest = said["cheapest_not_ruled_out"]
    low = said["high"]
    if cheapest is not None:
        stock = case.stock(cheapest)
        # what richer stocks rule out besides may not have been looked at
        assert not ruled_out(case, stock, by_richer=False)
        low = case.plays.cost(stock)
        cheapest = counts(stock)
    high = case.plays.cost(case.recommended)
    if len(case.summary["vary"]) > 2:
        # stocks outside the box that was searched may be cheaper, and the screen says so
        low = min(low, said["low"])
    return {"low": low, "high": high, "cheapest_not_ruled_out": cheapest}


def test_every_number_of_the_summary_of_a_sizing_is_that_of_the_plays(case: Case) -> None:
    said = without_words(case.summary)
    none_wrong(apart("summary", said, second_summary(case)))


def without_words(summary: dict[str, Any]) -> dict[str, Any]:
    """Return a summary without what is nobody's second account."""
    said = {key: value for key, value in summary.items() if key not in WORDS}
    said["next_item"] = {
        name: items
        and {
            **{key: value for key, value in items.items() if key != "reading"},
        }
        for name, items in said["next_item"].items()
    }
    return said


def screen_wrong(case: Case, text: str) -> list[str]:
    """Return what is not so on a screen of the case."""

    def cost(counts: dict[str, int]) -> float:
        return case.plays.cost(case.stock(counts))

    return screen_differences(text, second_summary(case), case.settings.target, cost)


def test_every_number_of_the_screen_of_a_sizing_is_that_of_the_plays(case: Case) -> None:
    none_wrong(screen_wrong(case, case.screen))


def test_a_changed_number_of_a_sizing_is_noticed() -> None:
    """In each column of each table, in the summary and on the screen."""
    case = case_of(0)
    for name, rows in accounts(case).items():
        seen = case.tables[name]
        for column in seen.select_dtypes("number"):
            if seen[column].abs().sum() > 0 and isinstance(rows[0][column], int | float):
                changed = seen.assign(**{column: seen[column] * 1.01 + 1e-3})
                assert differences(name, changed, rows), (name, column)
    end = case.screen.index("Not covered")
    shown = re.sub(r"(?s)\(it hurt.*?\)|Held fixed.*?In hand|Next step.*?\n(?=\w)", "", case.screen)
    unnoticed = []
    for found in re.finditer(r"\d[\d,.]*", shown[:end]):
        if found.start() < shown.index("Target"):
            continue
        other = str((int(found[0][0]) + 3) % 10) + found[0][1:]
        text = shown[: found.start()] + other + shown[found.end() :]
        if not screen_wrong(case, text):
            unnoticed.append(shown[found.start() - 30 : found.end() + 9])
    assert unnoticed == []
