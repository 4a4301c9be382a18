"""One surge, worked out by hand."""

import pandas as pd
import pytest

from surge_sim.demand.table import Demand
from surge_sim.engine.log import Count, RunLog, Use
from surge_sim.equipment.causes import Cause
from surge_sim.scenario.schema import Settings
from surge_sim.statistics.rows import surge_table
from surge_sim.statistics.summary import hours_per_stretch, stretch_seconds, summarise
from tests.engine.tiny import settings
from tests.statistics.by_hand import LEFT, RENEGED, SERVED, Need, layout_of, log_of, trace_of

#: what is counted of each group, in this order
COUNTED = ("entries", "in_time", "unserved", "requests", "wait_s")


class Played:
    """One surge, summarised."""

    def __init__(self, trace: Demand, log: RunLog, changed: Settings | None = None) -> None:
        self.layout = layout_of(trace, changed)
        self.summary = summarise(trace, log, self.layout)
        self.row = self.summary.rows[0]
        self.told = surge_table(self.summary, self.layout).iloc[0]

    def group(self, by: str, place: int = 0) -> list[int]:
        return [int(self.row[name][self.layout.where[by]][place]) for name in COUNTED]


def test_an_entry_is_in_time_only_if_all_its_needs_were_served_in_time():
    """The set wait is 5 min. Entries: waits 5 (in time), 5.02 (late), 0 then 6 after an alarm
    (late), 1 then given up (late, unserved), left waiting from the start (late, unserved).
    """
    needs = [
        Need(0, 5), Need(10, 5 + 1 / 60), Need(20), Need(30, 1), Need(40, 2000, LEFT),
        Need(50, 6, entry=2, part=1), Need(60, 45, RENEGED, entry=3, part=1),
    ]  # fmt: skip
    played = Played(trace_of([0, 10, 20, 30, 40]), log_of(needs))
    waits = 5 * 60 + 301 + 0 + 60 + 2000 * 60 + 6 * 60 + 45 * 60
    assert played.group("all") == [5, 1, 2, 7, waits]
    assert played.row["entries"][0] - played.row["in_time"][0] == 4
    assert played.told["target_parts_missed"] == "wait"
    assert (played.told["reached_maximum_wait"], played.told["waiting_at_end"]) == (1, 1)
    assert played.told["wait_max_min"] == 2000


def test_a_wait_within_the_set_time_does_not_help_who_gave_up():
    """Patience of 2 min ran out before the set 5 min had passed: late all the same."""
    played = Played(trace_of([0]), log_of([Need(0, 2, RENEGED)]))
    assert played.group("all")[:3] == [1, 0, 1]


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
    played = Played(trace, log)
    assert played.group("urgency", 0) == [3, 2, 0, 3, 14 * 60]
    assert played.group("urgency", 1) == [1, 0, 0, 1, 20 * 60]
    assert played.group("role", 0) == [2, 1, 0, 2, 11 * 60]
    assert played.group("role", 1) == [2, 1, 0, 2, 23 * 60]
    assert played.group("class", 0) == [2, 1, 0, 2, 21 * 60]
    assert played.group("class", 1) == [1, 0, 0, 1, 10 * 60]
    assert played.group("class", 2) == [1, 1, 0, 1, 3 * 60]
    assert played.row["urgent_wait_s"] == played.row["urgent_longest_wait_s"] == 20 * 60
    assert (played.told["urgent_entries"], played.told["urgent_late"]) == (1, 1)


def test_urgent_entries_are_judged_by_their_own_wait():
    """Urgent ones wait 2 and 4 min; their own set wait is 3 min, that of all is 5."""
    urgent = {"wait": "3 min", "service_level": "95 %"}
    changed = settings(target={"urgent": urgent})
    trace = trace_of([0, 1], urgent=[True, True])
    played = Played(trace, log_of([Need(0, 2), Need(1, 4)]), changed)
    assert (played.told["in_time"], played.told["urgent_late"]) == (2, 1)
    assert played.told["target_parts_missed"] == "urgent wait"


def test_day_and_hour_are_those_in_which_the_entry_was_due():
    """The surge begins at 22:30. Due at minute 0 (22 h), 90 (0 h), 1440 (22 h, second day).

    The last one's need comes a day later, for its wearer was busy: it stays in its day.
    """
    changed = settings(start="2031-01-06 22:30", horizon="2 d")
    trace = trace_of([0, 90, 1440], changed=changed)
    log = log_of([Need(0, 0), Need(90, 7), Need(2880, 1)], hours=48)
    played = Played(trace, log, changed)
    assert played.group("hour", 22) == [2, 2, 0, 2, 60]
    assert played.group("hour", 0) == [1, 0, 0, 1, 420]
    assert played.group("day", 0) == [2, 1, 0, 2, 420]
    assert played.group("day", 1) == [1, 1, 0, 1, 60]
    assert (played.told["worst_day"], played.told["worst_day_service_level"]) == (1, 0.5)


def test_days_without_entries_are_not_the_worst():
    changed = settings(horizon="3 d")
    trace = trace_of([2900], changed=changed)
    played = Played(trace, log_of([Need(2900)], hours=72), changed)
    assert (played.told["worst_day"], played.told["worst_day_service_level"]) == (3, 1.0)


def test_alarms_and_stock_outs_come_from_the_counts():
    counts = {
        Count.ALARMS_BATTERY: 2, Count.ALARMS_FLOW: 3, Count.ALARMS_FAILURE: 4,
        Count.STOCK_OUTS_HOODS: 1, Count.STOCK_OUTS_HE_FILTERS: 5, Count.CHARGES: 99,
    }  # fmt: skip
    played = Played(trace_of([0]), log_of([Need(0)], counts=counts))
    assert (played.told["alarms"], played.told["stock_outs"]) == (9, 6)


def test_waiting_seconds_are_split_by_cause():
    need = Need(0, 9, waited={Cause.KIT_AWAY: 9})
    played = Played(trace_of([0]), log_of([need]))
    assert played.row["cause_s"][Cause.KIT_AWAY] == played.row["cause_s"].sum() == 9 * 60


def test_a_surge_without_entries_has_nothing_to_tell():
    played = Played(trace_of([]), log_of([]))
    assert played.group("all") == [0, 0, 0, 0, 0]
    assert pd.isna(played.told["worst_day"])
    assert pd.isna(played.told["worst_day_service_level"])
    assert played.told["target_parts_missed"] == ""


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
    played = Played(trace_of([0], changed=changed), log, changed)
    assert played.summary.use_s.shape == (len(Use), 505)
    assert played.summary.use_s[Use.KITS_IN_USE, :3].tolist() == [1800, 4200, 0]


def test_served_is_what_the_log_calls_served():
    assert (SERVED, RENEGED, LEFT) == (1, 2, 3)
