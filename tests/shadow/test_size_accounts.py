"""Every number that ``size`` writes, kept a second time from raw rows."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pandas as pd
import pytest

from surge_sim.errors import OutOfReach
from surge_sim.report.folder import result_folder
from surge_sim.report.sizing_folder import fill_size_folder, size_json
from surge_sim.scenario.load import Scenario, load_scenario
from surge_sim.sizing.inputs import with_asked
from surge_sim.sizing.size import size
from tests.conftest import ROOT, undrawn
from tests.shadow.cells import differences, read_table
from tests.shadow.run_screen import N, Screen
from tests.shadow.run_summary import promise
from tests.shadow.size_books import SizeBooks
from tests.shadow.test_run_accounts import none_wrong, numbers_in
from tests.sizing.test_no_contradiction import scenario as small

#: random small scenarios
SCENES = 24
SHORT: dict[str, Any] = {"choose": 20, "surges": 60, "confidence": 0.8}
SHIPPED: dict[str, dict[str, Any]] = {
    "scenarios/rule_out_unit.yaml": SHORT | {"target": "share_of_surges=70%", "spend": 700},
    "scenarios/exposure_cluster.yaml": SHORT | {"target": "share_of_surges=50%", "new": True},
    "scenarios/winter_wave.yaml": {"choose": 20, "surges": 24, "confidence": 0.6,
                                   "target": "share_of_surges=50%"},
    "tests/approved/recorded_log.yaml": SHORT,
}  # fmt: skip


class Case:
    """One sizing as it was written, and its second accounts."""

    def __init__(self, scenario: Scenario, folder: Path, **asked: Any) -> None:
        result = size(scenario, seed=5, processes=1, **asked)
        with undrawn(), result_folder(folder / "out", scenario, ["surge-sim"], {}) as place:
            fill_size_folder(place, result)
        out = folder / "out"
        self.summary: dict[str, Any] = json.loads((out / "summary.json").read_text("utf-8"))
        self.printed = json.loads(json.dumps(size_json(result)))
        self.screen = (out / "answer.txt").read_text("utf-8")
        self.tables = {path.stem: read_table(path) for path in (out / "tables").glob("*.csv")}
        self.scenario = scenario
        self.books = SizeBooks(scenario, self.tables, self.summary)


#: what the quick tests look at; keeping the accounts of hundreds of surges takes longest
QUICK = "recorded_log"


def cases() -> list[Any]:
    named = {name: Path(name).stem for name in SHIPPED} | {n: f"small {n}" for n in range(SCENES)}
    return [
        pytest.param(case, id=name, marks=[] if name == QUICK else pytest.mark.slow)
        for case, name in named.items()
    ]


#: cases that are kept at a time: each holds all plays of its stocks, so tests go case by case
KEPT = 1


@lru_cache(maxsize=KEPT)
def situation_of(which: str | int) -> Case | None:
    """Size a file, or a random small scenario, once; None where nothing meets the target."""
    with TemporaryDirectory() as folder:
        if isinstance(which, str):
            asked = dict(SHIPPED[which])
            scenario = with_asked(load_scenario(ROOT / which), asked.pop("target", None), None)
            return Case(scenario, Path(folder), **asked)
        try:
            # others than those of the test of contradictions
            return Case(
                small(1_000 + which), Path(folder), choose=30, surges=110, confidence=0.8,
                new=which % 3 == 2, spend=2_000.0 if which % 2 else None,
            )  # fmt: skip
        except OutOfReach:
            return None


@pytest.fixture(params=cases(), scope="module")
def case(request) -> Case:
    found = situation_of(request.param)
    if found is None:
        pytest.skip("no stock within the limits meets the target")
    return found


@lru_cache(maxsize=KEPT)
def accounts(case: Case) -> dict[str, list[dict[str, Any]]]:
    """Return each table of the folder from the second accounts."""
    books = case.books
    found = {
        "tested": books.tested_rows(), "stages": books.stage_rows(),
        "cause_of_waiting_in_hand": books.waiting_rows(), "parts": books.part_rows(),
    }  # fmt: skip
    return {name: rows for name, rows in found.items() if rows or name != "parts"}


def test_every_table_is_that_of_the_second_accounts(case: Case) -> None:
    kept = accounts(case)
    assert set(case.tables) == set(kept)
    none_wrong(
        one for name, rows in kept.items() for one in differences(name, case.tables[name], rows)
    )


def test_the_summary_is_that_of_the_second_accounts(case: Case) -> None:
    books, summary = case.books, case.summary
    assert summary == case.printed
    wrong = [f"target: {summary['target']}"] * (summary["target"] != promise(books.target))

    def compare(place: str, seen: dict[str, Any], own: dict[str, Any]) -> None:
        assert set(own) == set(seen), place
        for key, value in own.items():
            same = seen[key] == (pytest.approx(value, rel=2e-5, abs=1e-9)
                                 if isinstance(value, float) else value)  # fmt: skip
            if not same:
                wrong.append(f"{place}.{key}: {seen[key]!r}, expected {value!r}")

    compare("in_hand", summary["in_hand"], books.about(books.owned))
    best = books.about(books.recommended) | books.remaining(books.recommended)
    compare("recommended", summary["recommended"], best)
    if summary["spend"] is not None:
        spent = dict(summary["spend"])
        amount = spent.pop("budget")
        stock = books.stock_of(spent)
        compare("spend", spent, books.about(stock))
        assert books.money(stock)["cost"] <= amount
    ruled_out = summary["least_cost"]["ruled_out"]
    compare("least_cost", summary["least_cost"], books.least_cost() | {"ruled_out": ruled_out})
    for row in ruled_out:
        assert books.known[books.stock_of(row)]["verdict"] == "not met"
    compare("hurt", summary["extra_stock_worsened_service"], books.monotonicity_violations())
    tables = {"stages": "stages", "tested": "tested", "parts": "parts",
              "cause_of_waiting_in_hand": "cause_of_waiting_in_hand"}  # fmt: skip
    for key, name in tables.items():
        rows = accounts(case).get(name, [])
        seen = pd.DataFrame(summary[key]).replace("", None).infer_objects()
        wrong += differences(f"summary, {key}", seen.astype(object).where(seen.notna(), None), rows)
    none_wrong(wrong)


@pytest.mark.slow
@pytest.mark.parametrize("case", ["scenarios/exposure_cluster.yaml"], indirect=True)
def test_the_central_values_are_played_with_all_ranges_at_them(case: Case) -> None:
    assert case.scenario.ranges

    fixed = SizeBooks(replace(case.scenario, ranges=()), case.tables, case.summary)
    found = case.summary["central_values"]
    # the stock that is recommended with the ranges: without them another one may be
    kept = fixed.kept(case.books.recommended, found["surges"])
    assert found["surges_on_target"] == kept.sum() and found["surges"] == fixed.first


# --- the screen --------------------------------------------------------------------------------


def screen_wrong(case: Case, text: str) -> list[str]:
    """Return the numbers of a screen that are not those of the second accounts."""
    books, screen = case.books, Screen(text)
    hand, best = books.about(books.owned), books.about(books.recommended)
    recorded, new = "replay" in case.summary, case.summary["empty_store"]
    met = rf"{N} % of replications" if recorded else rf"{N} of {N} new surges \({N} to {N} %\)"

    def share(cells: dict[str, Any]) -> list[tuple[Any, str]]:
        if recorded:
            return [(cells["surges_on_target"] / cells["surges"], "%")]
        counts = [(cells[name], "") for name in ("surges_on_target", "surges")]
        return [*counts, *((cells[name], "%") for name in ("low", "high"))]

    ten = 10 * books.share
    tenths = (rf"{N} of 10", round(ten, 9), "")
    how_often, often, unit = tenths if ten == round(ten, 9) // 1 else (rf"{N} %", books.share, "%")
    screen.look(
        rf"{N} % of entries wait {N} (?:min|s) or less in at least {how_often} ",
        (books.target.service_level, "%"), (books.target.wait / 60, ""), (often, unit),
    )  # fmt: skip
    if books.recommended == books.owned:
        screen.look("Buy nothing: with the stock in hand")
    else:
        without = replace(books.recommended, extra_cleaners=books.owned.extra_cleaners)
        said = re.escape(books.words(without, books.owned))
        once, each = best["purchase"], best["paid_per_surge"]
        screen.look(rf"[Bb]uy {said} for ")
        if once or not each:
            screen.look(rf" for {N} [^;:]*?: then", (once, "")) if not each else screen.look(
                rf" for {N} .*?, and have .*? for {N} a surge", (once, ""), (each, "")
            )
        if not new:
            screen.look(rf"The stock in hand is on target in {met}\.", *share(hand))
    left = books.remaining(books.recommended)
    if left["unserved"]:
        screen.look(rf"{N} entr(?:y|ies) per \w+ gets? no kit", (left["unserved"], ""))
    if left["urgent_unserved"]:
        part = left["urgent_unserved"] / left["urgent_entries"]
        screen.look(
            rf"no kit, {N} of them urgent \({N} % of urgent ones\)",
            (left["urgent_unserved"], ""), (part, "%"),
        )  # fmt: skip
    if (left["worst_hour_share_late"] or 0) > 1 - books.target.service_level:
        screen.look(
            rf"due {N}:00-{N}:00 {N} % are late",
            (left["worst_hour"], ""), (left["worst_hour"] + 1, ""),
            (left["worst_hour_share_late"], "%"),
        )  # fmt: skip
    if recorded:
        screen.look(
            rf"the target is met in {N} of {N} new replications",
            (best["surges_on_target"], ""), (best["surges"], ""),
        )  # fmt: skip
    else:
        screen.look(
            rf"Confidence {N} % that at least {N} % of surges meet the target.*?: {N} of {N} new "
            rf"simulated surges met it\. {N} others",
            (books.confidence, "%"), (books.share, "%"), (best["surges_on_target"], ""),
            (best["surges"], ""), (books.choose, ""),
        )  # fmt: skip
        if books.choose < 200 or books.most < 800:
            screen.look(
                rf"A first look: before ordering, size without --quick \(on {N} \+ {N} surges\)",
                (200, ""), (800, ""),
            )  # fmt: skip
    _stages_wrong(case, screen, recorded)
    _details_wrong(case, screen, met, share)
    return screen.wrong


def _stages_wrong(case: Case, screen: Screen, recorded: bool) -> None:
    """Compare the order of buying row by row, and which surges it is about."""
    books, rows = case.books, {row["stage"]: row for row in accounts(case)["stages"]}
    if len(rows) < 2:
        return
    by_stock = {f"{r['kits']}-{r['batteries']}-{r['bays']}": [] for r in rows.values()}  # type: ignore[var-annotated]
    for row in rows.values():
        by_stock[f"{row['kits']}-{row['batteries']}-{row['bays']}"].append(row)
    begin = next(n for n, line in enumerate(screen.lines) if line.startswith("Buy  "))
    counts, above = [], ""
    for line in screen.lines[begin + 1 :]:
        if not line:
            screen.wrong += [f"not a row: {above}"] * bool(above)
            break
        if not re.search(r"\d-\d+-\d", line):  # a long lot goes on in the next line
            above += f"{line.strip()} "
            continue
        line, above = above + line, ""
        # the table has no room for these words
        line = line.replace(">99.99", "over 99.99").replace("<0.01", "under 0.01")
        found = re.fullmatch(
            rf"(.*?) +{N} +(\d+-\d+-\d+) +{N}(?: \([<>]?{N}-[<>]?{N}\))?"
            rf" +{N} +{N} +{N} +(\w[\w ]*)",
            line,
        )
        if found is None:
            screen.wrong.append(f"not a row: {line}")
            continue
        name, amount, stock, *numbers, verdict = found.groups()
        near = [row for row in by_stock.get(stock, []) if _same(amount, row["cost"], "")]
        if not near:
            screen.wrong.append(f"no such stage: {line}")
            continue
        row = near[0]
        counts.append(row["surges"])
        expected = [
            (row["surges_on_target"] / row["surges"], "%"), (row["low"], "%"), (row["high"], "%"),
            (row["share_late"], "%"), (row["hours_waited"], ""), (row["worst_day_share_late"], "%"),
        ]  # fmt: skip
        for words, (value, unit) in zip(numbers, expected, strict=True):
            if words is not None and not _same(words, value, unit):
                screen.wrong.append(f"{line}: {words}, expected {value}")
        bought = [int(one) for one in re.findall(r"\d+", name.split(",")[0])]
        more = [row[one] - getattr(books.owned, one) for one in ("kits", "batteries", "bays")]
        if row["stage"] and any(more) and bought[:3] != more:
            screen.wrong.append(f"{line}: {bought}, expected {more}")
        if verdict != row["verdict"] or name.endswith("*") != row["recommended"]:
            screen.wrong.append(f"{line}: {row['verdict']}, {row['recommended']}")
    screen.look(
        rf"share of the {N}(?: to {N})? new .*? of the first {N} ",
        (min(counts), ""), (max(counts), ""), (books.first, ""),
    )  # fmt: skip


def _details_wrong(case: Case, screen: Screen, met: str, share: Any) -> None:
    books, summary = case.books, case.summary
    spares = [getattr(part, "spare", 0) for _, part in books.settings.supplies]
    empty = summary["empty_store"] and not any([*vars(books.owned).values(), *spares])
    for label, stock in (("Empty store" if empty else "In hand", books.owned),
                         ("In all", books.recommended)):  # fmt: skip
        numbers = [
            int(one.replace(",", "")) for one in re.findall(r"[\d,]*\d", screen.label(label))
        ]
        named = [getattr(stock, name) for name in ("kits", "batteries", "bays")]
        extras = [v for k, v in vars(stock).items() if k.startswith("extra") and v]
        if numbers != [*named, *extras]:
            screen.wrong.append(f"{label}: {numbers}, expected {[*named, *extras]}")
    stages = [books.stock_of(row) for row in accounts(case)["stages"]]
    place = stages.index(books.recommended)
    if place:
        before = books.about(stages[place - 1])
        added = re.escape(books.words(books.recommended, stages[place - 1]))
        saved = books.money(books.recommended)["cost"] - before["cost"]
        screen.look(rf"without {added} \({N} less\): met in {met}", (saved, ""), *share(before))
    least, worse = books.least_cost(), books.monotonicity_violations()
    if books.recommended != books.owned:
        if least["low"] <= 0:
            screen.look("Least cost not known")
        elif least["strength"] != "exact":
            screen.look(
                rf"at least {N} of these {N} must be paid.*?this limit is {least['strength']}"
                if least["strength"] == "strong"
                else rf"at least {N} of these {N} must be paid.*?This limit is weak",
                (least["low"], ""), (least["high"], ""),
            )  # fmt: skip
        if least["low"] > 0 and worse["worsened"]:
            screen.look(
                rf"\(it did in {N} of {N}\)", (worse["worsened"], ""), (worse["surges"], "")
            )
    if summary["spend"] is not None:
        stock, cost = (
            books.stock_of(summary["spend"]),
            sum(books.about(books.recommended)[name] for name in ("purchase", "paid_per_surge")),
        )
        enough = cost <= summary["spend"]["budget"]
        if enough:
            screen.look(rf"the answer above takes {N} of it", (cost, ""))
        if not enough or stock != books.recommended:
            met_in = "it is met in" if enough else "the target is then met in"
            screen.look(rf"{met_in} {met}", *share(books.about(stock)))
    for row in accounts(case).get("parts", []):
        part = row["part"].removesuffix("s").replace("_", " ").replace("he filter", "HE filter")
        screen.look(rf"Spare parts .*?{N} {part}s?\b", (row["on_shelf_recommended"], ""))


def _same(words: str, expected: Any, unit: str) -> bool:
    from tests.shadow.run_screen import said

    return said(words, expected, unit)


def test_every_number_of_the_screen_is_that_of_the_second_accounts(case: Case) -> None:
    none_wrong(screen_wrong(case, case.screen))


# --- that the second accounts can tell numbers apart -------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("case", ["scenarios/rule_out_unit.yaml"], indirect=True)
def test_a_changed_number_of_any_column_is_noticed(case: Case) -> None:
    for table, kept in accounts(case).items():
        for column in numbers_in(kept):
            seen = case.tables[table]
            # taken from what was written
            if column != "order_of_test" and seen[column].abs().sum() > 0:
                wrong = seen.assign(**{column: seen[column] * 1.01})
                assert differences(table, wrong, kept), (table, column)


@pytest.mark.slow
@pytest.mark.parametrize("case", ["scenarios/rule_out_unit.yaml"], indirect=True)
def test_a_changed_number_of_the_screen_is_noticed(case: Case) -> None:
    """Every number of the answer, its confidence and the order of buying, one after the other."""
    assert not screen_wrong(case, case.screen)
    end = case.screen.index("Buy: in all")
    # causes have their own tests; the lots of a stage are those of the stocks
    left_out = [
        found.span()
        for found in re.finditer(r"Why .*?\n\n|of 10 |20 others", case.screen, re.DOTALL)
    ]
    unnoticed = []
    for found in re.finditer(r"\d[\d,.]*", case.screen[:end]):
        if any(a <= found.start() < b for a, b in left_out):
            continue
        other = str((int(found[0][0]) + 3) % 10) + found[0][1:]
        text = case.screen[: found.start()] + other + case.screen[found.end() :]
        if not screen_wrong(case, text):
            unnoticed.append(case.screen[found.start() - 20 : found.end() + 9])
    assert unnoticed == []


def test_a_limit_of_the_second_accounts_is_that_of_a_bet_by_hand() -> None:
    """29 of 29 with alpha 0.05 and 90 %: u = 0.75 is cut, 29 ln(1 + 0.75 (1-p)/p) = ln 20."""
    from tests.shadow.size_books import limit

    u = min(0.75, np.sqrt(2 * np.log(20) * 9 / 500))
    odds = (20 ** (1 / 29) - 1) / u
    assert limit(np.ones(29, dtype=bool), 0.9, 0.05, "low") == pytest.approx(1 / (1 + odds))
    assert limit(np.ones(29, dtype=bool), 0.9, 0.05, "high") == 1.0
