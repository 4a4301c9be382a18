"""The table of every need."""

import io
from dataclasses import replace

import numpy as np
import pandas as pd

from surge_sim.engine.log import Alarm
from surge_sim.equipment.causes import Cause
from surge_sim.plain import csv_text
from surge_sim.statistics.rows import entry_table
from tests.statistics.by_hand import LEFT, RENEGED, Need, log_of, trace_of

COLUMNS = (
    "surge", "requested_min", "wait_min", "outcome", "role", "urgent", "cause_of_waiting", "entry",
    "visit_part", "class", "kit_in_hand_min", "end_min", "alarm", "failed_checks", "kit",
    "battery", "requested_at", "delay_min",
)  # fmt: skip


def table() -> pd.DataFrame:
    trace = trace_of(
        [0, 11, 20],
        surge=7,
        urgent=[False, True, False],
        role=[0, 1, 0],
        roles=("nurse", "physician"),
        patient_class=[0, -1, 0],
        classes=("ward",),
    )
    needs = [
        Need(0, alarm=Alarm.BATTERY),
        Need(11, 9.5, waited={Cause.KIT_IN_USE: 1, Cause.BATTERY_WAITING_FOR_BAY: 8.5}),
        Need(20, 45, RENEGED, failed_checks=1, waited={Cause.NO_HOOD: 5}),
        Need(30, 2000, LEFT, entry=0, part=1, waited={}),
    ]  # fmt: skip
    return entry_table(trace, log_of(needs))


def test_every_need_is_one_row_in_the_agreed_columns():
    rows = table()
    assert tuple(rows.columns) == COLUMNS
    assert rows["surge"].tolist() == [7] * 4
    assert rows["requested_min"].tolist() == [0, 11, 20, 30]
    assert rows["wait_min"].tolist() == [0, 9.5, 45, 2000]
    assert rows["outcome"].tolist() == [
        "served",
        "served",
        "maximum wait reached",
        "still waiting at the end",
    ]
    assert rows["role"].tolist() == ["nurse", "physician", "nurse", "nurse"]
    assert rows["urgent"].tolist() == ["no", "yes", "no", "no"]
    assert rows["class"].tolist() == ["ward", "", "ward", "ward"]
    assert rows["alarm"].tolist() == ["low battery", "", "", ""]


def test_waiting_for_is_the_cause_of_the_longest_part_of_the_wait():
    """Of 9.5 minutes 8.5 for a bay; of 45 minutes 40 for a failed check; then for the wearer."""
    said = ["", "battery waiting for a bay", "failed check", "wearer busy"]
    assert table()["cause_of_waiting"].tolist() == said


def test_a_rest_of_a_visit_is_told_by_its_part():
    rows = table()
    assert rows["entry"].tolist() == [0, 1, 2, 0]
    assert rows["visit_part"].tolist() == [0, 0, 0, 1]


def test_who_got_no_kit_has_no_time_in_hand():
    rows = table()
    for name in ("kit_in_hand_min", "end_min"):
        assert rows[name].isna().tolist() == [False, False, True, True]
    assert rows["kit_in_hand_min"][1] == 11 + 9.5 + 1, "one check of a minute after the wait"


def test_times_of_the_clock_count_from_the_scenarios_start():
    assert table()["requested_at"].tolist()[1] == "2031-01-06T00:11:00"


def test_whole_seconds_come_back_from_the_csv():
    trace = trace_of([1 / 60, 100 + 7 / 60])
    rows = entry_table(trace, log_of([Need(1 / 60, 1 / 60), Need(100 + 7 / 60, 59 / 60)]))
    text = csv_text(rows, header=True) + csv_text(rows, header=False)
    back = pd.read_csv(io.StringIO(text))
    assert len(back) == 4
    assert (back["requested_min"] * 60).round(2).tolist() == [1, 6007, 1, 6007]
    assert (back["wait_min"] * 60).round(2).tolist() == [1, 59, 1, 59]


def test_a_surge_without_entries_is_a_header():
    text = csv_text(entry_table(trace_of([]), log_of([])), header=True)
    assert text == ",".join(COLUMNS) + "\n"


def test_what_was_used_when_it_ended_and_what_was_delayed_stand_in_columns_of_their_own():
    """Both visits end ten minutes after the kit was in hand; the second is delayed by 25."""
    trace = trace_of([0, 20])
    log = log_of([Need(0, failed_checks=2), Need(20, 9)])
    log = replace(log, blower=np.array([4, 5]), battery=np.array([6, 7]))
    rows = entry_table(trace, log, np.array([0, 1500])).set_index("entry")
    told = [
        "kit",
        "battery",
        "failed_checks",
        "kit_in_hand_min",
        "end_min",
        "wait_min",
        "delay_min",
    ]
    assert rows[told].to_numpy().tolist() == [[4, 6, 2, 1, 11, 0, 0], [5, 7, 0, 30, 40, 9, 25]]
    # without delays each one's wait is told
    assert entry_table(trace, log)["delay_min"].tolist() == [0, 9]
