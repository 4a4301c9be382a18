"""A case as people read it who must decide: what it says of less, of counts, and what runs."""

from __future__ import annotations

import shlex
import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.equipment.stock import purchase
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.demand import MORE, higher_demand, short_of
from surge_sim.purchase.sized import read_sized
from surge_sim.report.case_document import answer_words, case_document
from surge_sim.report.case_planner import TO_ADD, planner_parts, typed_words
from surge_sim.report.case_stages import met_words
from surge_sim.report.case_words import price_words, sized_parts
from surge_sim.report.document import Remark, Rows, Table
from surge_sim.report.rounding import limit_number, number
from surge_sim.report.terminal import render
from surge_sim.scenario.load import load_scenario
from tests.purchase.test_case import sized_folder


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> PurchaseCase:
    return purchase_case(read_sized(sized_folder(tmp_path_factory.mktemp("read"))), processes=1)


def tables_of(case: PurchaseCase) -> list[Table]:
    return [one for one in case_document(case).blocks if isinstance(one, Table)]


def test_a_limit_does_not_round_to_the_share_that_is_asked_for() -> None:
    assert limit_number(0.900799, 0.9) == "90.1" and limit_number(0.899195, 0.9) == "89.9"
    assert limit_number(0.89996, 0.9) == "under 90" and limit_number(0.9, 0.9) == "90"
    assert limit_number(0.90004, 0.9) == "over 90" and limit_number(0.9953, 0.995) == "over 99.5"
    assert limit_number(0.391756, 0.9) == "39" and limit_number(1.0, 0.995) == "100"
    for limit in (0.7951, 0.799, 0.7999, 0.8001, 0.801, 0.8099):
        said = limit_number(limit, 0.8)
        above = said == "over 80" or (said != "under 80" and float(said) > 80)
        assert above == (limit > 0.8), limit


def test_the_request_adds_up_item_by_item(case: PurchaseCase) -> None:
    table, sized = case.tables["request"], case.sized
    prices = sized.scenario.settings.prices
    assert table["price"].sum() == purchase(sized.in_hand, sized.proposed, prices)
    assert table["price"].sum() == case.stage(sized.place, "purchase").value
    assert (table["in_hand"] + table["to_buy"] == table["in_all"]).all()


def test_the_dearest_tested_stock_below_the_request_is_told(case: PurchaseCase) -> None:
    sized = case.sized
    tested, price = sized.tables["tested"], case.stage(sized.place, "cost").value
    dearest = tested.loc[tested["cost"] < price, "cost"].max()
    stages = sized.tables["stages"]["cost"].tolist()
    near = sized.nearest_cheaper
    shown = " ".join(render(case_document(case)).split())
    if near is None:
        assert dearest in stages and "also tested" not in shown
    else:
        assert case.tested(near, "cost").value == dearest
        assert sized.tested_stock(near) not in sized.stages
        assert met_words(case, near, tested=True) in shown and "also tested" in shown


def test_a_dearer_tested_stock_that_is_no_stage_gets_a_row(case: PurchaseCase) -> None:
    """The table of tested stocks with one more of them, just below the request."""
    tables = dict(case.sized.tables)
    row = tables["tested"].iloc[[case.sized.place]].assign(
        kits=99, cost=case.stage(case.sized.place, "cost").value, verdict="undecided", surges=800,
        surges_on_target=601,
    )  # fmt: skip
    row["cost"] -= 0.5
    tables["tested"] = pd.concat([tables["tested"], row], ignore_index=True)
    object.__setattr__(case.sized, "tables", tables)
    place = case.sized.nearest_cheaper
    assert place == len(tables["tested"]) - 1
    rows = [row for table in tables_of(case) for row in table.rows if row[0] == "also tested"]
    assert len(rows) == 1 and rows[0][3] == "601 of 800" and rows[0][-1] == "undecided"
    assert rows[0][1].startswith("99, ")
    tables["tested"] = tables["tested"].iloc[:-1]


def test_median_and_worst_surge_stand_beside_the_mean(case: PurchaseCase) -> None:
    same = case.same_surges
    for stock in ("in_hand", "proposed"):
        values = same[f"{stock}_late"]
        assert case.nothing("late", f"{stock}_median").value == pytest.approx(values.median())
        assert case.nothing("late", f"{stock}_worst").value == values.max()
    head = "Median and worst of the surges"
    table = next(one for one in tables_of(case) if one.columns[0].header == head)
    assert table.rows[0] == (
        "late entries",
        *(
            number(case.nothing("late", f"{stock}_{kind}").value)
            for stock in ("in_hand", "proposed")
            for kind in ("median", "worst")
        ),
    )
    assert not any(cell.startswith("-") for row in table.rows for cell in row[1:])


def test_shares_of_waiting_by_item_are_the_sums_of_their_causes(case: PurchaseCase) -> None:
    table = case.tables["waiting_by_item"]
    assert table["share_in_hand"].sum() == pytest.approx(1, abs=1e-4)
    causes = case.waiting[case.waiting["reduced_by"] == "kits"]
    mine = table.set_index("reduced_by").loc["kits"]
    assert mine["share_in_hand"] == pytest.approx(causes["share_in_hand"].sum(), rel=1e-5)
    assert mine["causes"] == len(causes)


def test_what_is_invented_is_said_at_the_head(case: PurchaseCase) -> None:
    blocks = case_document(case).blocks
    # prices are, by the name of their currency
    assert case.invented == ["arrivals", "prices"]
    assert blocks[2] == Remark(
        "warning",
        "Arrivals and prices are invented: an example, not for a decision.",
    )
    assert "(invented)" in case.currency and "(invented)" not in case.money_unit


def test_commands_for_the_planner_run_where_the_sizing_lies(
    case: PurchaseCase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = case.sized.folder
    assert str(folder.parent) not in render(case_document(case)) + typed_words(case)
    shutil.copytree(folder, tmp_path / folder.name)
    monkeypatch.chdir(tmp_path)
    told = dict(next(one for one in planner_parts(case) if isinstance(one, Rows)).rows)
    few = ["--surges", "20", "--processes", "1"]
    for name in ("alternatives", "what matters"):
        _, *command = shlex.split(told[name])
        assert exit_code_of([*command, *few]) == 0, name
    assert exit_code_of(["new", "--life", "life.yaml"]) == 0
    assert told["cost over its life"] == "surge-sim new --life life.yaml"
    _, *command = shlex.split(told["then this again"])
    assert exit_code_of([*command, "--processes", "1"]) == 0
    again = (tmp_path / "case_again" / "answer.txt").read_text()
    assert "Over 10 years" in again and "was not compared" not in again
    # what is still to be added is only the stock for more patients
    assert "surge-sim case" not in again


def test_the_scenario_for_more_patients_is_what_was_played(case: PurchaseCase) -> None:
    typed = ("surge-sim", "size", "/far/away/unit.yaml", "--choose=40", "--out", "found", "--quick")
    case = replace(case, sized=replace(case.sized, command=typed))
    per_cent = short_of(case.demand, case.target.share_of_surges)
    rows = next(one for one in planner_parts(case) if isinstance(one, Rows)).rows
    name = f"stock for {per_cent} % more patients"
    labels = [label for label, _ in rows]
    if per_cent is None:
        assert not any("more patients" in label for label in labels)
        return
    copied, put, again = (said for _, said in rows[labels.index(name) :])
    assert copied == "cp found/scenario/unit.yaml more.yaml"
    assert again == "surge-sim size more.yaml --choose=40 --quick --out more"
    entry = put.partition("under timeline: ")[2]
    assert entry.startswith("- {")
    own = case.sized.folder / "scenario" / "unit.yaml"
    more = own.with_name("more.yaml")
    more.write_text(f"{own.read_text()}\ntimeline:\n  {entry}\n")
    played = higher_demand(case.scenario)[MORE.index(per_cent)].settings
    try:
        found = load_scenario(more).settings
    finally:
        more.unlink()
    assert (found.timeline, found.arrivals) == (played.timeline, played.arrivals)
    assert TO_ADD in " ".join(render(case_document(case)).split())


def test_no_more_is_short_where_the_request_does_for_all() -> None:
    assert short_of(pd.DataFrame(), 0.9) is None
    rows = [
        {"more_patients": more, "stock": stock, "share_on_target": share}
        for more, now, then in ((0.0, 0.1, 0.96), (0.2, 0.1, 0.93), (0.5, 0.0, 0.5))
        for stock, share in (("in_hand", now), ("proposed", then))
    ]
    demand = pd.DataFrame(rows)
    assert short_of(demand, 0.9) == 50 and short_of(demand, 0.5) is None


def test_a_price_is_told_once_and_for_each_surge(case: PurchaseCase) -> None:
    tables = dict(case.sized.tables)
    whole = tables["stages"]
    for once, again, said in (
        (5080.0, 2200.0, "5,080 talers once and 2,200 talers in each surge"),
        (0.0, 2200.0, "2,200 talers in each surge"),
        (5080.0, 0.0, "5,080 talers"),
    ):
        tables["stages"] = whole.assign(purchase=once, paid_per_surge=again, cost=once + again)
        other = replace(case, sized=replace(case.sized, tables=tables))
        assert price_words(other, other.sized.place) == said
        assert f"for {said}, to meet the target" in answer_words(other)


def test_an_empty_store_and_a_quick_look_are_said_at_the_head(case: PurchaseCase) -> None:
    assert not list(sized_parts(case))
    command = (*case.sized.command, "--quick")
    other = replace(case, sized=replace(case.sized, new=True, command=command))
    blocks = case_document(other).blocks
    assert [one for one in blocks[2:4] if isinstance(one, Remark)] == list(sized_parts(other))
    shown = " ".join(render(case_document(other)).split())
    assert "An empty store was sized" in shown and "Sized with --quick" in shown
    assert "Stock in hand" not in shown and "the stock in hand" not in shown


def test_every_verdict_follows_from_the_sizing(case: PurchaseCase) -> None:
    """A stage below the least cost is undecided by its own test, and ruled out by another."""
    tables, stages = dict(case.sized.tables), case.sized.tables["stages"]
    price = case.stage(case.sized.place, "cost").value or 0.0
    tables["stages"] = stages.assign(
        verdict=["undecided" if cost < price else one
                 for cost, one in zip(stages["cost"], stages["verdict"], strict=True)]
    )  # fmt: skip
    for low, said in ((0.9 * price, True), (0.1 * price, False)):
        sized = replace(case.sized, tables=tables, least_cost={"low": low})
        shown = " ".join(render(case_document(replace(case, sized=sized))).split())
        assert ("nothing below" in shown) == said
        assert any("ruled out" in row[-1] for table in tables_of(replace(case, sized=sized))
                   for row in table.rows) == said  # fmt: skip
