"""A scenario that is changed in Python is one that could have been written so."""

from __future__ import annotations

import pickle
import re
from datetime import date

import numpy as np
import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario, scenario_from_text
from tests.conftest import ROOT
from tests.scenario.base import BASE, changed
from tests.scenario.test_any_file import EVERYTHING, JUNK, PLACES, STARTER, TREES, changed_at

CREW = changed(
    ("by: wearer", "by: crew, crew: [{start: 07:00, end: 19:00, cleaners: 2},"
     " {start: 19:00, end: 07:00, cleaners: 1}]")
)  # fmt: skip


def faults(text: str, changes: dict[str, object]) -> list[str]:
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(text, name="ward").changed(changes)
    assert all(fault.line == 0 for fault in error.value.faults)
    return [str(fault) for fault in error.value.faults]


@pytest.mark.parametrize(
    ("changes", "old", "new"),
    [
        ({"stock.kits": 9}, "kits: 4", "kits: 9"),
        ({"stock.kits": np.int64(9)}, "kits: 4", "kits: 9"),
        ({"title": "Another"}, "Two rooms (invented)", "Another"),
        ({"classes.ward.length_of_isolation": "3 d"},
         "length_of_isolation: {shape: lognormal, median: 68 h, p75: 97.5 h}",
         "length_of_isolation: 3 d"),
        ({"classes.ward.length_of_isolation.p75": "99 h"}, "p75: 97.5 h", "p75: 99 h"),
        ({"kit.pre_use_check": {"low": "1 min", "high": "2 min"}},
         "pre_use_check: 1 min", "pre_use_check: {low: 1 min, high: 2 min}"),
        ({"kit.levels.0.run_time": "7 h"}, "run_time: 8 h", "run_time: 7 h"),
        ({"kit.levels": [{"run_time": "7 h"}, {"run_time": "6 h"}]},
         "[{run_time: 8 h}]", "[{run_time: 7 h}, {run_time: 6 h}]"),
        ({"rooms": None}, "rooms: {count: 2, air_changes: 12 per h}", "rooms: none"),
        # sections and lists that the file leaves to their defaults
        ({"policy.reserved_for_urgent": 2, "policy.maximum_wait": "45 min"}, "roles:",
         "policy: {reserved_for_urgent: 2, maximum_wait: 45 min}\nroles:"),
        ({"roles.nurse.shifts.1": "20:00"}, "{room_time: 5 min}",
         "{room_time: 5 min, shifts: [07:00, 20:00]}"),
        ({"kit.recheck.first_after": "3 h"}, "pre_use_check: 1 min",
         "pre_use_check: 1 min, recheck: {first_after: 3 h}"),
        ({"kit.single_use_hoods": True}, "pre_use_check: 1 min",
         "pre_use_check: 1 min, single_use_hoods: yes"),
        ({"batteries.state_of_health": [0.5, "90 %"]}, "minimum_run_time",
         "state_of_health: [0.5, 90 %], minimum_run_time"),
        ({"roles.clerk": {"room_time": "1 min"}}, "  nurse:",
         "  clerk: {room_time: 1 min}\n  nurse:"),
    ],
    ids=lambda one: ", ".join(one) if isinstance(one, dict) else "",
)  # fmt: skip
def test_a_change_is_as_if_it_stood_in_the_file(changes, old, new):
    """Also where the file with it is refused: for the same reason."""
    scenario = scenario_from_text(BASE)
    try:
        wanted = scenario_from_text(changed((old, new)))
    except ScenarioError as error:
        said = [fault.right for fault in error.faults]
        with pytest.raises(ScenarioError) as found:
            scenario.changed(changes)
        assert [fault.right for fault in found.value.faults] == said
    else:
        other = scenario.changed(changes)
        assert other.settings == wanted.settings
        assert [one.name for one in other.ranges] == [one.name for one in wanted.ranges]
        assert other.settings_for(1, 0, 3) == wanted.settings_for(1, 0, 3)
    assert scenario.settings == scenario_from_text(BASE).settings
    assert scenario.full_form() == scenario_from_text(BASE).full_form()


def test_entries_of_lists_are_changed_one_after_the_other_and_the_original_stays():
    scenario = scenario_from_text(CREW)
    other = scenario.changed({"cleaning.crew.0.cleaners": 4}).changed(
        {"cleaning.drying_time": "5 min"}
    )
    assert [shift.cleaners for shift in other.settings.cleaning.crew] == [4, 1]
    assert other.settings.cleaning.drying_time == 300
    assert [shift.cleaners for shift in scenario.settings.cleaning.crew] == [2, 1]
    assert scenario.tree.root["cleaning"]["drying_time"] == "10 min"


def test_what_is_recorded_reads_back_as_the_changed_scenario():
    other = scenario_from_text(BASE).changed({"stock.kits": 9, "policy.maximum_wait": "45 min"})
    text = other.data.decode()
    assert text.startswith(
        "# scenario.yaml with other values for stock.kits, policy.maximum_wait\n"
    )
    again = scenario_from_text(text)
    assert again.settings == other.settings == scenario_from_text(other.full_form()).settings
    assert again.sha256 == other.sha256 != scenario_from_text(BASE).sha256
    assert "kits: 9" in other.full_form()
    # prices that nobody wrote are still told as invented
    assert not other.settings.prices.model_fields_set


def test_the_scenario_with_every_setting_keeps_its_files_and_ranges_when_one_value_changes():
    scenario = load_scenario(ROOT / "tests" / "everything" / "every_feature.yaml")
    other = scenario.changed({"stock.kits": scenario.settings.stock.kits + 1})
    assert other.ranges == scenario.ranges
    assert other.input_bytes == scenario.input_bytes
    back = other.changed({"stock.kits": scenario.settings.stock.kits})
    assert back.settings == scenario.settings
    assert back.full_form() == scenario.full_form()
    assert pickle.loads(pickle.dumps(other)).settings == other.settings


def test_what_python_shows_of_a_scenario_is_short_and_names_what_was_changed():
    scenario = scenario_from_text(BASE)
    assert repr(scenario).startswith(
        "Scenario scenario: Two rooms (invented)\nUncertain inputs: 0;"
    )
    assert repr(scenario.changed({"stock.kits": 9})).splitlines()[:3] == [
        "Scenario scenario: Two rooms (invented)",
        "Other values than in the file: stock.kits",
        "Uncertain inputs: 0; warnings: 1",
    ]
    assert len(repr(scenario.changed({"note": "x" * 10_000, "title": "y" * 200}))) < 500


def test_dates_follow_a_changed_start_as_they_would_in_the_file():
    text = BASE + "timeline: [{what: power outage, at: 2031-01-08 07:00, lasts: 4 h}]\n"
    other = scenario_from_text(text).changed({"start": "2031-01-07 07:00"})
    assert other.settings.timeline[0].at == 86_400


def test_a_log_is_read_once_and_kept(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes\n5,5\n9,5\n")
    log = BASE.replace("arrivals: {baseline: 1 per day, initial_census: 1}",
                       "entries: {from: log.csv}")  # fmt: skip
    scenario = scenario_from_text(log, folder=tmp_path)
    (tmp_path / "log.csv").unlink()
    other = scenario.changed({"stock.kits": 9})
    assert len(other.settings.entries.rows) == 2
    assert other.inputs == scenario.inputs


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"stock.kits": "many"}, "ward.yaml, changed: stock.kits is 'many'.\n  It must be a whole"),
        ({"stock.kits": -4}, "stock.kits is '-4'.\n  It must be a whole number from 0 to 100,000."),
        ({"cleaning.crew.1.cleaners": "x"}, "ward.yaml, changed: cleaning.crew.1.cleaners is 'x'."),
        ({"cleaning.buy": "crew"}, "cleaning.buy is not known.\n  Did you mean `by`?"),
        ({"clening": {}}, "clening is not known.\n  Did you mean `cleaning`?"),
        ({"clening.by": "crew"}, "clening.by leads nowhere: there is no 'clening'.\n"),
        ({"classes.wart.share": "5 %"},
         "there is no 'wart' in classes.\n  Did you mean `ward`? Known here: ward."),
        ({"cleaning.crew.2.cleaners": 1},
         "there is no '2' in cleaning.crew.\n  It has 2 entries, counted from 0."),
        ({"cleaning.crew.first": 1}, "there is no 'first' in cleaning.crew."),
        ({"kit.pre_use_check.low": "1 min"},
         "kit.pre_use_check.low leads nowhere: kit.pre_use_check is '1 min'.\n"
         "  Write the whole value of"),
        ({"batteries.constant_current_to.x": 1}, "batteries.constant_current_to is '80 %'"),
        ({"": 1}, " is not known."),
        ({"start": date(2031, 1, 6)}, "start is a date.\n  Write what a file would hold"),
        ({"title": "a\x1b[31m"}, "title holds a character that does not print: U+001B"),
        ({"stock.\x1b": "1"}, "stock.\\x1b holds a character that does not print"),
        ({"stock.kits": float("nan")}, "stock.kits is 'nan'."),
        ({"rooms": "none", "rooms.count": 3}, "rooms.air_changes is missing"),
        ({"target.share_of_surges": 0.9}, "target.share_of_surges is '0.9'."),
        ({"batteries.minimum_run_time": "11 min"}, "batteries.minimum_run_time is 11 min.\n"
         "  A battery that is"),
        ({"roles.nurse.shifts": ["19:00", "07:00"]}, "roles.nurse.shifts are not in order."),
    ],
)  # fmt: skip
def test_a_wrong_name_or_value_is_told_with_its_dotted_name_and_nothing_else(changes, told):
    (fault,) = faults(CREW, changes)
    assert told in fault


def test_all_faults_come_at_once():
    wrong = {"stock.kits": "x", "target.wait": "5", "cleaning.drying_time": "-1 min"}
    assert len(faults(BASE, wrong)) == 3
    assert len(faults(BASE, {"a.b": 1, "c.d": 2})) == 2


def test_warnings_of_a_changed_scenario_have_the_dotted_name_in_place_of_a_line():
    (warning,) = scenario_from_text(BASE, name="ward").changed({"limits": {"kits": 3}}).warnings
    assert warning == "ward.yaml, changed: limits.kits is below the stock in hand (4)."


def test_a_value_nested_without_end_is_a_fault():
    inside: dict[str, object] = {}
    inside["x"] = inside
    (fault,) = faults(BASE, {"kit": inside})
    assert "is nested too deep" in fault


SCENARIOS = [scenario_from_text(text) for text in (STARTER.read_text("utf-8"), EVERYTHING)]


@pytest.mark.slow
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(PLACES), st.sampled_from(JUNK))
def test_whatever_is_put_somewhere_is_judged_as_in_the_file(place, junk):
    """The same settings, or the same faults with dotted names."""
    number, path = place
    text = yaml.safe_dump(changed_at(TREES[number], path, junk, "set"), sort_keys=False)
    try:
        wanted = scenario_from_text(text).settings
    except ScenarioError as error:
        wanted = told(error)
    try:
        found = SCENARIOS[number].changed({".".join(map(str, path)): junk}).settings
    except ScenarioError as error:
        found = told(error)
    assert found == wanted


def told(error: ScenarioError) -> set[tuple[str, str]]:
    """What is told, with list entries counted from 0; of many alike the first is another one."""
    return {
        (re.sub(r"\[(\d+)\]", lambda one: f".{int(one[1]) - 1}", fault.found), fault.right)
        for fault in error.faults
        if "more like this" not in fault.right
    }
