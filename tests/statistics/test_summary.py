"""One surge, worked out by hand."""

import numpy as np
import pytest

from surge_sim.engine.log import Count, Use
from surge_sim.equipment.causes import Cause
from surge_sim.statistics.summary import hours_per_stretch, stretch_seconds, summarise
from tests.engine.tiny import settings
from tests.statistics.by_hand import GAVE_UP, LEFT, SERVED, Need, log_of, trace_of

ENTRIES, IN_TIME, UNMET, NEEDS, WAIT_S = range(5)


def group(summary, by: str, place: int = 0) -> list[int]:
    return summary.table[:, summary.slices.first(by) + place].tolist()


def test_an_entry_is_in_time_only_if_all_its_needs_were_served_in_time():
    """The set wait is 5 min. Entries: waits 5 (in time), 5.02 (late), 0 then 6 after an alarm
    (late), 1 then given up (late, unmet), left waiting from the start (late, unmet).
    """
    needs = [
        Need(0, 5), Need(10, 5 + 1 / 60), Need(20), Need(30, 1), Need(40, 2000, LEFT),
        Need(50, 6, entry=2, part=1), Need(60, 45, GAVE_UP, entry=3, part=1),
    ]  # fmt: skip
    summary = summarise(trace_of([0, 10, 20, 30, 40]), log_of(needs), settings().target)
    waits = 5 * 60 + 301 + 0 + 60 + 2000 * 60 + 6 * 60 + 45 * 60
    assert group(summary, "all") == [5, 1, 2, 7, waits]
    assert summary.score.late == 4
    assert summary.missed == ("wait",)
    assert (summary.gave_up, summary.left_waiting) == (1, 1)
    assert summary.longest_wait_s == 2000 * 60


def test_a_wait_within_the_set_time_does_not_help_who_gave_up():
    """Patience of 2 min ran out before the set 5 min had passed: late all the same."""
    summary = summarise(trace_of([0]), log_of([Need(0, 2, GAVE_UP)]), settings().target)
    assert group(summary, "all")[:3] == [1, 0, 1]


def test_groups_are_told_apart():
    """Four entries: nurse/ward, nurse/intensive, physician/no class, urgent physician/ward."""
    trace = trace_of(
        [0, 1, 2, 3],
        urgent=[False, False, False, True],
        role=[0, 0, 1, 1],
        roles=("nurse", "physician"),
        patient_class=[0, 1, -1, 0],
        classes=("ward", "intensive"),
    )
    log = log_of([Need(0, 1), Need(1, 10), Need(2, 3), Need(3, 20)])
    summary = summarise(trace, log, settings().target)
    assert group(summary, "urgency", 0) == [3, 2, 0, 3, 14 * 60]
    assert group(summary, "urgency", 1) == [1, 0, 0, 1, 20 * 60]
    assert group(summary, "role", 0) == [2, 1, 0, 2, 11 * 60]
    assert group(summary, "role", 1) == [2, 1, 0, 2, 23 * 60]
    assert group(summary, "class", 0) == [2, 1, 0, 2, 21 * 60]
    assert group(summary, "class", 1) == [1, 0, 0, 1, 10 * 60]
    assert group(summary, "class", 2) == [1, 1, 0, 1, 3 * 60]
    assert summary.urgent_wait_s == summary.longest_urgent_wait_s == 20 * 60
    assert (summary.score.urgent_entries, summary.score.urgent_late) == (1, 1)


def test_urgent_entries_are_judged_by_their_own_wait():
    """Urgent ones wait 2 and 4 min; their own set wait is 3 min, that of all is 5."""
    urgent = {"wait": "3 min", "share_of_entries": "95 %"}
    target = settings(target={"urgent": urgent}).target
    trace = trace_of([0, 1], urgent=[True, True])
    summary = summarise(trace, log_of([Need(0, 2), Need(1, 4)]), target)
    assert (summary.score.late, summary.score.urgent_late) == (0, 1)
    assert summary.missed == ("urgent wait",)


def test_day_and_hour_are_those_in_which_the_entry_was_due():
    """The surge begins at 22:30. Due at minute 0 (22 h), 90 (0 h), 1440 (22 h, second day).

    The last one's need comes a day later, for its wearer was busy: it stays in its day.
    """
    changed = settings(start="2031-01-06 22:30", horizon="2 d")
    trace = trace_of([0, 90, 1440], changed=changed)
    log = log_of([Need(0, 0), Need(90, 7), Need(2880, 1)], hours=48)
    summary = summarise(trace, log, changed.target)
    assert group(summary, "hour", 22) == [2, 2, 0, 2, 60]
    assert group(summary, "hour", 0) == [1, 0, 0, 1, 420]
    assert group(summary, "day", 0) == [2, 1, 0, 2, 420]
    assert group(summary, "day", 1) == [1, 1, 0, 1, 60]
    assert (summary.worst_day, summary.worst_day_share) == (0, 0.5)


def test_days_without_entries_are_not_the_worst():
    changed = settings(horizon="3 d")
    trace = trace_of([2900], changed=changed)
    summary = summarise(trace, log_of([Need(2900)], hours=72), changed.target)
    assert (summary.worst_day, summary.worst_day_share) == (2, 1.0)


def test_alarms_and_stock_outs_come_from_the_counts():
    counts = {
        Count.ALARMS_BATTERY: 2, Count.ALARMS_FLOW: 3, Count.ALARMS_FAULT: 4,
        Count.STOCK_OUTS_HOODS: 1, Count.STOCK_OUTS_MAIN_FILTERS: 5, Count.CHARGES: 99,
    }  # fmt: skip
    summary = summarise(trace_of([0]), log_of([Need(0)], counts=counts), settings().target)
    assert (summary.score.alarms, summary.score.stock_outs) == (9, 6)


def test_waiting_seconds_are_split_by_cause():
    need = Need(0, 9, waited={Cause.KIT_AWAY: 9})
    summary = summarise(trace_of([0]), log_of([need]), settings().target)
    assert summary.cause_s[Cause.KIT_AWAY] == summary.cause_s.sum() == 9 * 60


def test_a_surge_without_entries_has_nothing_to_tell():
    summary = summarise(trace_of([]), log_of([]), settings().target)
    assert group(summary, "all") == [0, 0, 0, 0, 0]
    assert summary.worst_day == -1
    assert np.isnan(summary.worst_day_share)
    assert summary.missed == ()


@pytest.mark.parametrize(
    ("hours", "stretches", "last_s"),
    [(24.0, 24, 3600), (1008.0, 1008, 3600), (1009.0, 505, 3600), (2.5, 3, 1800)],
)
def test_use_is_kept_in_not_too_many_stretches_of_time(hours, stretches, last_s):
    horizon_s = round(hours * 3600)
    lengths = stretch_seconds(horizon_s)
    assert (len(lengths), lengths[-1], lengths.sum()) == (stretches, last_s, horizon_s)
    assert hours_per_stretch(horizon_s) == lengths[0] // 3600


def test_long_use_is_added_up_by_stretch():
    """1,010 hours are 505 stretches of 2: what was in hours 0 to 3 is in stretches 0 and 1."""
    changed = settings(horizon="1010 h")
    use = {Use.KITS_IN_USE: [10, 20, 30, 40]}
    log = log_of([Need(0)], use=use, hours=1010)
    summary = summarise(trace_of([0], changed=changed), log, changed.target)
    assert summary.use_area.shape == (len(Use), 505)
    assert summary.use_area[Use.KITS_IN_USE, :3].tolist() == [1800, 4200, 0]


def test_served_is_what_the_log_calls_served():
    assert (SERVED, GAVE_UP, LEFT) == (1, 2, 3)
