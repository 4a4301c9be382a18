"""Recorded waits beside simulated ones, worked out by hand."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from surge_sim.engine.play import play
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.report.run_answer import recorded_blocks, run_answer
from surge_sim.report.run_folder import run_json
from surge_sim.report.terminal import render
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.recorded import (
    Recorded,
    by_entry_joined,
    comparison_table,
    entries_table,
    reading_of,
    recorded_in,
    recorded_play,
)
from surge_sim.statistics.run import run
from tests.engine.tiny import PLAIN, merged

#: one kit: the second entry waits 15 min, the others none
LOG = """requested,room_minutes,wait_minutes
0,20,0
5,20,14
1440,10,
1500,10,3
"""
TORN = {"failures": {"hood_damage": "50 %"}}
WIPES = {"cleaning": {"wipe_down": {"shape": "lognormal", "mean": "9 min", "cv": "90 %"}}}


@pytest.fixture
def logged(tmp_path: Path):
    """Load a log of two days of a unit with one kit."""

    def made(log: str = LOG, **changes):
        (tmp_path / "log.csv").write_text(log)
        changed = merged({**PLAIN, "horizon": "48 h", "entries": {"from": "log.csv"}}, changes)
        (tmp_path / "unit.yaml").write_text(json.dumps(changed))
        return load_scenario(tmp_path / "unit.yaml")

    return made


def played(scenario, surges: int = 1):
    return run(scenario, surges=surges, engine="reference", processes=1)


def test_recorded_and_simulated_measures_stand_side_by_side_whole_and_by_day(logged):
    """Of the three entries with a recorded wait: 0, 14, 3 min, simulated 0, 15, 0.

    Target 5 min: one of three is late in both. The quantile of a share is the smallest wait that
    so many reach: the median of three is the second, of two the first.
    """
    table = played(logged()).recorded_waits
    found = {
        (row["group"], row["measure"]): (round(row["recorded"], 4), round(row["simulated"], 4))
        for row in table.to_dict("records")
    }
    assert found == {
        ("whole period", "share late"): (0.3333, 0.3333),
        ("whole period", "mean"): (5.6667, 5.0),
        ("whole period", "median"): (3.0, 0.0),
        ("whole period", "90th percentile"): (14.0, 15.0),
        ("whole period", "95th percentile"): (14.0, 15.0),
        ("day 1", "share late"): (0.5, 0.5),
        ("day 1", "mean"): (7.0, 7.5),
        ("day 1", "median"): (0.0, 0.0),
        ("day 1", "90th percentile"): (14.0, 15.0),
        ("day 1", "95th percentile"): (14.0, 15.0),
        ("day 2", "share late"): (0.0, 0.0),
        ("day 2", "mean"): (3.0, 0.0),
        ("day 2", "median"): (3.0, 0.0),
        ("day 2", "90th percentile"): (3.0, 0.0),
        ("day 2", "95th percentile"): (3.0, 0.0),
    }
    assert table.groupby("group")["entries"].first().to_dict() == {
        "day 1": 2, "day 2": 1, "whole period": 3,
    }  # fmt: skip
    assert (table["simulated_lowest"] == table["simulated_highest"]).all(), "one play"
    start = played(logged()).start
    dates = [f"{start + timedelta(days=n):%Y-%m-%d}" for n in (0, 1)]
    assert table["date"].isna().tolist() == [True] * 5 + [False] * 10, "the whole period has none"
    assert table["date"][5:].tolist() == [dates[0]] * 5 + [dates[1]] * 5


def test_each_entry_is_compared_with_its_own_recorded_wait(logged):
    table = played(logged()).recorded_waits_by_entry
    assert list(table)[:3] == ["entry", "day", "date"]
    assert table["entry"].tolist() == [0, 1, 3], "the third has no recorded wait"
    assert table["day"].tolist() == [1, 1, 2]
    assert table["recorded_min"].tolist() == [0, 14, 3]
    assert table["simulated_min"].tolist() == [0, 15, 0]
    assert table["share_of_replications_late"].tolist() == [0, 1, 0]


def test_recorded_waits_follow_urgent_entries_to_the_front(logged):
    """Two entries of one second, the urgent one second in the log: it comes first in the play."""
    log = "requested,room_minutes,urgent,wait_minutes\n0,10,no,7\n0,10,yes,1\n"
    table = played(logged(log)).recorded_waits_by_entry
    assert table["recorded_min"].tolist() == [1, 7]
    assert table["simulated_min"].tolist() == [0, 10]


def test_the_reading_says_what_is_not_reproduced_and_how(logged):
    """The median is 3 min and simulated 0: more than a minute. All else is within a minute."""
    result = played(logged())
    reading = result.recorded_reading
    assert reading.apart == ("median too low",)
    assert not reading.reproduced
    # differences of 0, 1 and 3 min
    assert reading.typical_difference_min == 1
    late = reading.late_in_both, reading.late_in_record_only, reading.late_in_replications_only
    assert late == (1, 0, 0)
    table, verdict, pairs = recorded_blocks(result)
    assert table.rows[:3] == (
        ("Late entries", "33.3 %", "33.3 %"),
        ("mean", "5.7 min", "5.0 min"),
        ("median", "3.0 min", "0 min"),
    )
    assert verdict.kind == "warning"
    assert "does NOT reproduce the recorded waits (median too low)" in verdict.text
    assert pairs.text == (
        "Late in the record: 1 entry, 1 of them also when simulated; late in the simulation only: "
        "0."
    )
    screen = " ".join(render(run_answer(result)).split())
    assert screen.index("The model does NOT reproduce") < screen.index("Kit within 5 min")


@pytest.mark.parametrize(
    ("waits", "apart"),
    [
        ((0, 15, 0), ()),
        # 16 min is less than a tenth from 15
        ((0, 16, 1), ()),
        # two late of three, simulated one: one entry is no difference; mean 8 and 5 are one
        ((9, 15, 0), ("mean too low", "median too low")),
        ((0, 3, 0), ("mean too high", "90th percentile too high", "95th percentile too high")),
    ],
)
def test_close_is_within_two_points_or_one_entry_a_minute_or_a_tenth(logged, waits, apart):
    """Simulated: 0, 15 and 0 min."""
    first, second, last = waits
    log = f"requested,room_minutes,wait_minutes\n0,20,{first}\n5,20,{second}\n1500,10,{last}\n"
    assert played(logged(log)).recorded_reading.apart == apart


def test_several_plays_give_mean_lowest_and_highest():
    """Two plays of two entries: waits 0 and 5 min, then 1 and 15 min; recorded 0 and 10."""
    waits = np.array([[0, 300], [60, 900]])
    late = (waits > 300).astype(np.int64)
    recorded = Recorded(np.arange(2), np.array([0, 60]), np.array([0, 600]))
    plays = np.stack([recorded.measured(*play) for play in zip(waits, late > 0, strict=True)])
    assert plays[1, 0].tolist() == [1, 960, 60, 900, 900]
    table = comparison_table(recorded, plays, 300)
    whole = table[table["group"] == "whole period"].set_index("measure")
    names = ["recorded", "simulated", "simulated_lowest", "simulated_highest"]
    assert whole.loc["share late", names].tolist() == [0.5, 0.25, 0.0, 0.5]
    assert whole.loc["mean", names].tolist() == [5.0, 5.25, 2.5, 8.0]
    assert whole.loc["90th percentile", names].tolist() == [10.0, 10.0, 5.0, 15.0]
    each = [np.stack([wait, one, wait, wait]) for wait, one in zip(waits, late, strict=True)]
    pairs = entries_table(recorded, by_entry_joined(each), 2)
    assert pairs["simulated_min"].tolist() == [0.5, 10.0]
    assert pairs["lowest_min"].tolist() == [0, 5]
    assert pairs["highest_min"].tolist() == [1, 15]
    assert pairs["share_of_replications_late"].tolist() == [0, 0.5]
    # what was recorded lies among the plays, though no play is like it
    assert reading_of(table, pairs, 300).reproduced


def test_plays_that_are_added_up_in_workers_are_all_counted(logged):
    """As many plays as asked for, and the sum of the waits of each entry, play by play."""
    scenario = logged(**WIPES)
    result = played(scenario, 40)
    settings = scenario.settings
    assert result.summary.rows["recorded"].shape[0] == 40
    waits = np.zeros(3, dtype=np.int64)
    for surge in range(40):
        case = situation_of(scenario, stock_in_hand(scenario.settings), 1, surge)
        log = play(*case, engine="reference")
        waits += recorded_play(recorded_in(settings), log, settings.target)[1][0]
    assert result.summary.by_entry[0].tolist() == waits.tolist()


def test_a_log_without_waits_and_drawn_demand_have_no_comparison(logged):
    log = "requested,room_minutes,wait_minutes\n0,20,\n5,20,\n"
    for none in (log, log.replace(",wait_minutes", "").replace(",\n", "\n")):
        result = played(logged(none))
        assert result.recorded_waits is result.recorded_waits_by_entry is None
        assert "recorded_waits" not in run_json(result)
        assert "Late in the record" not in render(run_answer(result))


def test_programs_read_the_same_numbers(logged):
    said = run_json(played(logged()))["recorded_waits"]
    assert (said["entries"], said["reproduced"], said["apart"]) == (3, False, ["median too low"])
    assert said["whole_period"]["95th_percentile"] == {
        "recorded": 14, "simulated": 15, "simulated_lowest": 15, "simulated_highest": 15,
    }  # fmt: skip
    assert said["entry_by_entry"]["late_in_record_and_replications"] == 1


@pytest.mark.parametrize("waits", ["0", "4", ""])
def test_waits_that_are_not_compared_are_told_of(logged, waits):
    """A visit that is made within another one, or later, is no longer that of the log."""
    change = {"what": "care bundled", "dropped": "20 %", "at": "1 h", "lasts": "2 h"}
    log = f"requested,room_minutes,wait_minutes\n0,20,{waits}\n5,20,\n"
    bundled = played(logged(log, timeline=[change]))
    told = [one for one in bundled.warnings if "are not compared" in one]
    assert bundled.recorded_reading is None
    assert len(told) == bool(waits)
    assert not [one for one in played(logged(log)).warnings if "are not compared" in one]
