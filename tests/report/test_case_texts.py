"""Texts of a case that depend on names, sources and limits of the scenario."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest
from openpyxl import Workbook

from surge_sim.purchase.folder import Folder
from surge_sim.report import (
    case_beside_sheets,
    case_matters,
    case_planner,
    case_workbook,
    exercise_room,
)
from surge_sim.report.case_page_data import _leave
from surge_sim.report.case_stages import new_plays
from surge_sim.report.case_words import leaving_words
from surge_sim.report.input_words import path_words
from surge_sim.scenario.load import Scenario, scenario_from_text
from tests.scenario.base import changed

INVENTED = ("stock:", "sources: {stock: invented, roles: invented}\nstock:")


def case_of(scenario: Scenario, **more: Any) -> Any:
    return SimpleNamespace(scenario=scenario, replay=None, **more)


@pytest.mark.parametrize(("changes", "offered"), [((), False), ((INVENTED,), True)])
def test_a_study_is_offered_only_where_it_finds_inputs(monkeypatch, changes, offered):
    sized = SimpleNamespace(folder=Path("found"), command=("surge-sim", "size", "a.yaml"))
    case = case_of(
        scenario_from_text(changed(*changes)), sized=sized, study=None, comparison=None, more=None,
        life=None,
    )  # fmt: skip
    monkeypatch.setattr(case_planner, "sizing_file", lambda case, name="": "found/a.yaml")
    monkeypatch.setattr(case_planner, "_higher_demand", lambda case: [])
    rows = dict(case_planner._rows(case))
    assert ("what matters" in rows) is offered
    assert ("--with inputs" in rows["then this again"]) is offered
    monkeypatch.setattr(case_matters, "_known", lambda case: [])
    *_, said = case_matters.leans_parts(case)
    assert ("The command stands in" in said.text) is offered


def test_an_input_is_named_by_its_path_whatever_stands_in_a_name():
    text = changed(
        ("  ward:", "  Ward 3. v1.0:"),
        ("nurse: 20 per day", "nurse: {low: 9 per day, high: 30 per day}"),
        ("levels: [{run_time: 8 h}]", "levels: [{run_time: {low: 6 h, high: 8 h}}]"),
    )  # fmt: skip
    study: Any = SimpleNamespace(summary={"spread": None})
    paths = case_matters._paths(case_of(scenario_from_text(text)), study)
    names = {name: path_words(path) for name, path in paths.items()}
    assert names["classes.Ward 3. v1.0.entries.nurse"] == "entries: nurse (Ward 3. v1.0)"
    assert names["kit.levels[1].run_time"] == "levels: 1: run time (kit)"
    spread: Any = SimpleNamespace(summary={"spread": {"share": 0.25}})
    put = case_matters._paths(case_of(scenario_from_text(changed(INVENTED))), spread)
    assert "roles.nurse.room_time" in put


@pytest.mark.parametrize(("low", "high", "told"), [(-1.0, 3.0, "undecided"), (1.0, 3.0, "0 to 5")])
def test_what_random_variation_may_have_made_is_no_number_of_the_case(low, high, told):
    numbers = {"cost_at_low": 0.0, "cost_at_high": 5.0,
               "cost_difference_low": low, "cost_difference_high": high}  # fmt: skip
    case = case_of(
        scenario_from_text(changed()),
        beside=lambda sort, table, place, name: SimpleNamespace(value=numbers[name]),
    )
    study: Any = SimpleNamespace(tables={"inputs": pd.DataFrame([numbers])})
    assert case_matters._both(case, study, 0, "cost", case_matters._cost) == told


def test_alternatives_that_are_named_like_numbers_keep_their_names(tmp_path):
    data = b"alternative,surges\n1,20\n1.50,20\n007,20\n"
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "alternatives.csv").write_bytes(data)
    sums = {"tables/alternatives.csv": hashlib.sha256(data).hexdigest()}
    (tmp_path / "manifest.json").write_text(json.dumps({"sha256": sums}))
    table = Folder(tmp_path, "comparison", "").table("alternatives")
    assert table["alternative"].tolist() == ["1", "1.50", "007"]
    assert table["surges"].sum() == 60


def test_shares_of_no_entries_are_worked_out_without_an_error():
    empty: dict[str, Any] = dict.fromkeys(
        ("stage", "bought", "recommended", "kits", "batteries", "bays", "cost", "surges",
         "surges_on_target", "low", "high", "verdict", "entries", "late", "hours_waited",
         "worst_day_share_late"), 0,
    )  # fmt: skip
    demand = pd.DataFrame([dict.fromkeys(case_beside_sheets._DEMAND, 0)])
    tables = {"stages": pd.DataFrame([empty])}
    case = case_of(
        scenario_from_text(changed()), sized=SimpleNamespace(tables=tables), currency="talers",
        demand=demand, more=None, comparison=None, study=None,
    )  # fmt: skip
    book = Workbook()
    case_workbook._stages(book, case)
    case_beside_sheets.beside_sheets(book, case)
    assert book["Stages"]["R2"].value == "=IF(M2=0,0,N2/M2)"
    assert book["More patients"]["K2"].value == "=IF(G2=0,0,H2/G2)"


@pytest.mark.parametrize(
    ("policy", "role", "said", "shortest_s"),
    [
        ("{}", "", "", None),
        ("{maximum_wait: 45 min}", "", "at 45 min", 2700),
        ("{maximum_wait: 45 min, urgent_maximum_wait: 10 min}", ", maximum_wait: 6 min",
         "at 45 min (nurse 6 min, urgent 10 min)", 360),
        ("{}", ", maximum_wait: 6 min", "at their maximum wait (nurse 6 min)", 360),
        ("{urgent_maximum_wait: 10 min}", "", "at their maximum wait (urgent 10 min)", 600),
    ],
)  # fmt: skip
def test_every_maximum_wait_is_told(policy, role, said, shortest_s):
    own = ("room_time: 5 min", f"room_time: 5 min{role}")
    case = case_of(scenario_from_text(changed(own, ("stock:", f"policy: {policy}\nstock:"))))
    assert leaving_words(case) == said
    assert _leave(case) == (None if shortest_s is None else {"s": shortest_s, "words": said})


def test_a_title_with_the_mark_of_the_data_stays_a_title(monkeypatch):
    monkeypatch.setattr(exercise_room, "room_data", lambda *_: {"is": "data"})
    file = SimpleNamespace(title="An evening @DATA@ @SCRIPT@")
    tree: Any = SimpleNamespace(exercise=SimpleNamespace(file=file))
    page = exercise_room.room_page(tree, SimpleNamespace())  # type: ignore[arg-type]
    assert "<title>An evening @DATA@ @SCRIPT@</title>" in page
    assert '<script type="application/json" id="data">{"is":"data"}</script>' in page


def test_one_play_that_tested_a_stock_is_one():
    assert new_plays(case_of(scenario_from_text(changed())), 800.0) == "800 new simulated surges"
    assert new_plays(SimpleNamespace(replay=True), 1.0) == "1 replication"  # type: ignore[arg-type]
