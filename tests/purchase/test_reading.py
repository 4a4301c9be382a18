"""A case as people read it who must decide: what it says of less, of counts, and what runs."""

from __future__ import annotations

import shlex
import shutil
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pandas as pd
import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.equipment.stock import Stock, purchase
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.demand import short_of
from surge_sim.purchase.sized import read_sized
from surge_sim.report.case_document import answer_words, case_document
from surge_sim.report.case_planner import planner_parts, typed_words
from surge_sim.report.case_use import used_parts
from surge_sim.report.case_words import price_words, sized_parts
from surge_sim.report.case_workbook import case_workbook
from surge_sim.report.document import Remark, Rows, Table
from surge_sim.report.rounding import limit_number, number
from surge_sim.report.terminal import render
from tests.purchase.test_case import sized_folder
from tests.purchase.test_page import recorded


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


def test_workbook_and_document_count_the_spare_parts_on_the_shelf(case: PurchaseCase) -> None:
    from openpyxl import load_workbook

    hoods = {"spare": 2, "reorder_point": 1, "order_quantity": 1, "lead_time": "5 d"}
    scenario = case.scenario.changed({"supplies.hoods": hoods})
    proposed = replace(case.sized.proposed, extra_hoods=3)
    other = replace(case, sized=replace(case.sized, scenario=scenario, proposed=proposed))
    book = load_workbook(BytesIO(case_workbook(other)))
    rows = {row[0].value: [cell.value for cell in row] for row in book["Request"]}
    told = other.tables["request"].set_index("item").loc["hoods"]
    assert rows["hoods"][1:3] == [told["in_hand"], told["in_all"]] == [2, 5]


def test_the_dearest_tested_stock_below_the_request_is_told(case: PurchaseCase) -> None:
    sized = case.sized
    tested, price = sized.tables["tested"], case.stage(sized.place, "cost").value
    dearest = tested.loc[tested["cost"] < price, "cost"].max()
    stages = sized.tables["stages"]["cost"].tolist()
    near = sized.next_cheaper_no_stage
    shown = " ".join(render(case_document(case)).split())
    if near is None:
        assert dearest in stages
    else:
        assert case.tested(near, "cost").value == dearest
        assert sized.tested_stock(near) not in sized.stages
        met, played = (case.tested(near, one).value for one in ("surges_on_target", "surges"))
        assert f"met it in {met:.0f} of {played:.0f} new simulated surges" in shown


def test_a_dearer_tested_stock_that_is_no_stage_is_told_with_its_limit(case: PurchaseCase) -> None:
    """The table of tested stocks with one more of them, just below the request."""
    tables, price = dict(case.sized.tables), case.stage(case.sized.place, "cost").value or 0.0
    for low, verdict, said in (
        # no candidate: nothing is missed, and nothing proved
        (0.82, "undecided", "its lower limit, 82 %, is high enough, but it is not confirmed"),
        (0.795, "undecided", "narrowly missed the proof: the lower limit is 79.5 %, 80 % are"),
        (0.7, "undecided", "was not shown to meet it: the lower limit is 70 %, 80 % are asked"),
        (0.6, "not met", "was shown to miss it: the upper limit is 79.9 %, 80 % are asked"),
    ):
        row = case.sized.tables["tested"].iloc[[case.sized.place]].assign(
            kits=99, cost=price - 0.5, purchase=price - 0.5, verdict=verdict, surges=800,
            surges_on_target=601, low=low, high=0.799 if verdict == "not met" else 0.9,
        )  # fmt: skip
        tables["tested"] = pd.concat([case.sized.tables["tested"], row], ignore_index=True)
        other = replace(case, sized=replace(case.sized, tables=dict(tables)))
        assert other.sized.next_cheaper_no_stage == len(tables["tested"]) - 1
        shown = " ".join(render(case_document(other)).split())
        assert "99 kits" in shown and "met it in 601 of 800 new simulated surges" in shown
        assert said in shown, verdict


def test_stages_are_named_so_that_the_request_is_one_of_them(case: PurchaseCase) -> None:
    table = next(one for one in tables_of(case) if one.columns[0].header == "Stage")
    names = [row[0] for row in table.rows]
    assert names[0] == "0: in hand" and f"{case.sized.place}: requested" in names
    assert [int(one.split(":")[0]) for one in names] == sorted(int(n.split(":")[0]) for n in names)


def test_half_of_the_price_and_the_most_that_could_be_saved_are_told(case: PurchaseCase) -> None:
    """Prices of stages and the least cost, set by hand."""
    stages, best = case.sized.tables["stages"], case.sized.place
    assert best >= 2
    costs = [1000.0 * place / best for place in range(len(stages))]
    tables = case.sized.tables | {"stages": stages.assign(cost=costs, purchase=costs)}
    half = min(range(1, best), key=lambda place: abs(costs[place] - 500))
    for low, said in (
        (400.0, "only prices below 400 talers were ruled out, so 600 talers is the most"),
        (1000.0, "Every lower price was ruled out"),
        (0.0, "what a cheaper stock could save is not known"),
    ):
        sized = replace(case.sized, tables=tables, least_cost={"low": low})
        shown = " ".join(render(case_document(replace(case, sized=sized))).split())
        assert said in shown
        assert f"(stage {half}) the target was met in " in shown
        assert f"to {number(stages['late'].iloc[half])}, with the request to " in shown


def test_median_and_worst_surge_stand_beside_the_mean(case: PurchaseCase) -> None:
    same = case.same_surges
    for stock in ("in_hand", "proposed"):
        values = same[f"{stock}_late"]
        assert case.nothing("late", f"{stock}_median").value == pytest.approx(values.median())
        assert case.nothing("late", f"{stock}_worst").value == values.max()
    table = next(one for one in tables_of(case) if one.columns[0].header == "In 100 surges")
    heads = ["In hand: median", "In hand: worst", "As requested: median", "As requested: worst"]
    assert [one.header for one in table.columns[1:]] == heads
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
    """Each as it is printed; the stock for more patients has tests of its own."""
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
    _, *command = shlex.split(told["then this again"].replace(" --with more", ""))
    assert exit_code_of([*command, "--processes", "1"]) == 0
    again = (tmp_path / "case_again" / "answer.txt").read_text()
    assert "Over 10 years" in again and "was not compared" not in again
    # what is still to be added is only the stock for more patients
    last = "surge-sim case found --with alternatives --with inputs --life life.yaml --with more"
    assert (last in " ".join(again.split())) == (short_of(case.demand, 0.8) is not None)


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
    nothing = replace(case.sized, new=True, in_hand=Stock(0, 0, 0), command=command)
    other = replace(case, sized=nothing)
    blocks = case_document(other).blocks
    assert [one for one in blocks[2:4] if isinstance(one, Remark)] == list(sized_parts(other))
    shown = " ".join(render(case_document(other)).split())
    assert "An empty store was sized" in shown and "Sized with --quick" in shown
    assert "Stock in hand" not in shown and "the stock in hand" not in shown


def test_a_store_that_keeps_what_may_not_be_bought_is_not_called_empty(case: PurchaseCase) -> None:
    other = replace(case, sized=replace(case.sized, new=True, in_hand=Stock(0, 0, 6)))
    shown = " ".join(render(case_document(other)).split())
    assert "The sizing assumed a stock in hand of 0 kits, 0 batteries, 6 bays. Everything" in shown
    assert "mpty store" not in shown and "Nothing: the sizing" not in shown


def test_a_period_played_once_has_no_share_of_plays_in_what_is_used(tmp_path: Path) -> None:
    [_, table, _] = used_parts(recorded(tmp_path))
    assert isinstance(table, Table)
    assert [column.header for column in table.columns] == [
        "What", "In hand: mean", "As requested: mean"
    ]  # fmt: skip
    assert all(len(row) == len(table.columns) for row in table.rows)


def test_every_verdict_follows_from_the_sizing(case: PurchaseCase) -> None:
    """A stage that is undecided by its own test may be ruled out by another, which is named."""
    stages, tested = case.sized.tables["stages"], case.sized.tables["tested"]
    place = case.sized.place - 1
    below = [one if at < place else "undecided" if at == place else "confirmed"
             for at, one in enumerate(stages["verdict"])]  # fmt: skip
    row = tested.iloc[[0]].assign(
        **{name: 90 for name in ("kits", "batteries", "bays")}, verdict="not met", surges=321,
        surges_on_target=123, low=0.3, high=0.5, cost=9e6,
    )  # fmt: skip
    none = tested.assign(verdict="undecided")
    for with_row in (True, False):
        tables = case.sized.tables | {
            "stages": stages.assign(verdict=below),
            "tested": pd.concat([none, row], ignore_index=True) if with_row else none,
        }
        other = replace(case, sized=replace(case.sized, tables=tables))
        table = next(one for one in tables_of(other) if one.columns[0].header == "Stage")
        verdict = next(row[-1] for row in table.rows if row[0] == str(place))
        assert verdict == ("ruled out" if with_row else "undecided")
        shown = " ".join(render(case_document(other)).split())
        assert ("(123 of 321 surges, upper limit 50 %)" in shown) == with_row


def test_a_change_that_is_not_shown_says_so(case: PurchaseCase) -> None:
    """Limits of one measure, set by hand: with 0 within them, and beyond the mean itself."""
    whole = case.doing_nothing
    late = whole["measure"] == "late"
    low, high = -2 * whole.loc[late, "in_hand"].iloc[0], 1.0
    for ends, shown in (((low, high), False), ((low, -1.0), True)):
        table = whole.copy()
        table.loc[late, ["difference_low", "difference_high"]] = ends
        other = replace(case, doing_nothing=table)
        blocks = tables_of(other)
        row = next(row for one in blocks for row in one.rows if row[0] == "late entries")
        assert (row[3] == "not shown") != shown and row[4].startswith("\u2212")
        words = " ".join(render(case_document(other)).split())
        assert ("A change is not shown where 0 lies within them" in words) != shown
        assert "Limits may lie beyond the mean itself" in words


def test_the_total_and_the_requested_stage_are_set_off(case: PurchaseCase) -> None:
    tables = [one for one in case_document(case).blocks if isinstance(one, Table)]
    request = next(one for one in tables if one.columns[0].header == "Item")
    assert [request.rows[place][0] for place in request.sums] == ["in all, paid once"]
    stages = next(one for one in tables if one.columns[-1].header == "Verdict")
    assert ["requested" in stages.rows[place][0] for place in stages.strong] == [True]
    assert all(column.header for one in tables for column in one.columns)
