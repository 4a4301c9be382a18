"""Visits that never end are told of as a fault, in both engines; those that get on are played."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from surge_sim.cli.main import cli
from surge_sim.engine.log import Alarm
from surge_sim.engine.play import Engine, play, score
from surge_sim.equipment.kits import LITTLE_S, MOST_IN_VAIN, alarms_in_vain
from surge_sim.equipment.stock import Stock
from surge_sim.errors import ScenarioError
from tests.engine.tiny import MINUTE, HandMade, settings, tiny_trace
from tests.scenario.base import changed

ENGINES: tuple[Engine, ...] = ("reference", "compiled")
STOCK = Stock(kits=2, batteries=9, bays=9)


def battery(reserve: str, **more: Any) -> dict[str, Any]:
    """A battery that runs 60 min, with an alarm so long before it is empty."""
    return {
        "kit": {"levels": [{"run_time": "60 min"}]},
        "batteries": {
            "charge_time": "3 h",
            "minimum_run_time": "30 min",
            "low_battery_alarm": reserve,
        },
        **more,
    }


def slow_donning(trace: HandMade, minutes: int) -> HandMade:
    return replace(trace, don_s=np.full(trace.entries, minutes * MINUTE))


def story(trace: HandMade, engine: Engine, how: Any = play) -> str:
    with pytest.raises(ScenarioError) as error:
        how(*trace.situation(STOCK), engine=engine)
    return str(error.value)


@pytest.mark.parametrize("engine", ENGINES)
def test_of_two_visits_without_end_in_one_second_the_first_is_told(engine: Engine):
    trace = slow_donning(tiny_trace(settings(**battery("10 min")), need=[0, 0], room=5), 55)
    assert story(trace, engine).startswith("surge 0 of seed 1: entry 0 is never completed")


@pytest.mark.parametrize("how", [play, score])
@pytest.mark.parametrize("engine", ENGINES)
def test_donning_longer_than_a_full_battery_lasts_is_told_with_both_times(engine: Engine, how: Any):
    """A full battery runs 60, the alarm comes 10 before, donning takes 55: never in the room.

    Each alarm comes 50 after the last: the fiftieth at 2500, on day 2 at 17:40.
    """
    trace = slow_donning(tiny_trace(settings(**battery("10 min")), need=[0], room=5), 55)
    said = story(trace, engine, how)
    assert said.startswith("surge 0 of seed 1: entry 0 is never completed: 50 alarms in a row")
    assert "low battery" in said
    assert "on day 2, 17:40 after the day began" in said
    assert "Donning takes this wearer 55 min." in said
    assert "runs 1 h when it is full; the alarm sounds 10 min before it is empty" in said
    assert "batteries.minimum_run_time" in said


@pytest.mark.parametrize("engine", ENGINES)
def test_alarms_that_take_no_time_at_all_end_too(engine: Engine):
    """The alarm sounds an hour before the battery is empty, which is at once: all in one second."""
    trace = tiny_trace(settings(**battery("60 min")), need=[7], room=5)
    assert "on day 1, 00:07" in story(trace, engine)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_held_kit_that_goes_round_without_the_line_ends_too(engine: Engine):
    policy = {"kit": "held for a shift", "wipe_between_visits": "0 min"}
    changed = settings(**battery("60 min", policy=policy))
    trace = tiny_trace(changed, need=[7], room=5, wearer=[0], shift_end=[900])
    assert "on day 1, 00:07" in story(trace, engine)


@pytest.mark.parametrize("engine", ENGINES)
def test_a_blower_that_fails_while_it_is_put_on_is_told_by_its_faults(engine: Engine):
    """A fault after a second, every time, and a repair that takes no time."""
    faults = {"blower_run_between_failures": "1 min", "repair_time": "0 min"}
    trace = tiny_trace(
        settings(failures=faults), need=[0], room=5, failure_run=[1 / 60], repair=[0]
    )
    said = story(slow_donning(trace, 1), engine)
    assert "blower failure" in said
    assert "failures.blower_run_between_failures" in said


@pytest.mark.parametrize("engine", ENGINES)
def test_a_filter_that_is_gone_while_it_is_put_on_is_told_by_its_life(engine: Engine):
    filters = {
        "prefilter_life": "1 min", "he_filter_life": "300 min", "prefilter_change": "0 min",
        "he_filter_turnaround": "0 min", "at_start": "new",
    }  # fmt: skip
    trace = tiny_trace(
        settings(filters=filters), need=[0], room=5, prefilter_life=[1], he_life=[9_000]
    )
    said = story(slow_donning(trace, 2), engine)
    assert "low flow" in said
    assert "filters.prefilter_life" in said


@pytest.mark.parametrize("engine", ENGINES)
def test_a_visit_that_gets_on_by_a_minute_each_time_is_played_to_its_end(engine: Engine):
    """Alarms 59 min before the battery is empty: 75 visits of a minute, 74 of them with an alarm.

    With an alarm a second earlier each visit does 59 s, and after 50 of them that is a fault.
    """
    trace = tiny_trace(settings(**battery("59 min")), need=[0], room=75)
    many = Stock(kits=2, batteries=90, bays=90)
    log = play(*trace.situation(many), engine=engine)
    assert (log.alarm == Alarm.BATTERY).sum() == 74
    assert log.worn_s.sum() == 75 * MINUTE
    earlier = tiny_trace(settings(**battery("3541 s")), need=[0], room=75)
    with pytest.raises(ScenarioError, match="is never completed"):
        play(*earlier.situation(many), engine=engine)


def test_alarms_in_vain_are_counted_until_a_minute_is_done():
    assert [alarms_in_vain(3, done_s) for done_s in (0, LITTLE_S - 1, LITTLE_S)] == [4, 4, 0]
    assert MOST_IN_VAIN == 50


def test_run_ends_with_the_story_and_code_2_and_leaves_nothing(tmp_path, monkeypatch):
    """Donning takes 10 min on average, one in twenty longer than the 30 min that a battery has."""
    monkeypatch.chdir(tmp_path)
    text = changed(
        ("don: 2 min", "don: {shape: exponential, mean: 10 min}"),
        ("run_time: 8 h", "run_time: 40 min"),
        ("minimum_run_time: 30 min", "minimum_run_time: 25 min"),
        ("{kits: 4, batteries: 6, bays: 2}", "{kits: 20, batteries: 60, bays: 60}"),
    )
    (tmp_path / "slow.yaml").write_text(text, encoding="utf-8")
    result = CliRunner().invoke(cli, ["run", "slow.yaml", "--surges", "2"])
    assert result.exit_code == 2, result.output
    assert "is never completed" in result.output
    assert "Traceback" not in result.output
    assert [path.name for path in tmp_path.iterdir()] == ["slow.yaml"]
