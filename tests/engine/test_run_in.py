"""Surges that begin after a day of run-in, worked out on paper, in both engines. Times in minutes.

Moments of the run-in count from its beginning, so it ends at 1,440; those of the surge from there.
"""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.engine.log import Count, Kind, Outcome, RunLog, Use
from surge_sim.engine.play import play, score
from surge_sim.equipment.stock import Stock
from surge_sim.errors import ScenarioError
from tests.engine.conftest import Player
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import MINUTE, HandMade, settings, tiny_trace

DAY = 1_440
CREW = [{"start": "00:00", "end": "00:00", "cleaners": "1"}]


def day_before(need, room, **more) -> HandMade:
    """Entries of a day of run-in."""
    return tiny_trace(settings(run_out="0 h"), need=need, room=room, same_wearers=True, **more)


def surge(before, need, room, changed=None, **more) -> HandMade:
    """Entries of the surge behind it."""
    changes = settings(run_in="1 d", **(changed or {}))
    return tiny_trace(changes, need=need, room=room, before=before, same_wearers=True, **more)


def waits(log: RunLog) -> list[float]:
    """Waits of all needs of the surge [min]."""
    return (log.wait_s / MINUTE).tolist()


def test_a_kit_in_use_when_the_surge_begins_is_there_when_its_visit_has_ended(played: Player):
    """Worn from 20 before the surge until 10 after it; the entry at 5 waits 5."""
    log = played(surge(day_before([DAY - 20], 30), [5], 10))
    assert log.need_s.tolist() == [5 * MINUTE]
    assert waits(log) == [5]
    assert log.entry.tolist() == [0]
    assert log.in_hand_s.tolist() == [10 * MINUTE] and log.end_s.tolist() == [20 * MINUTE]


def test_a_battery_goes_on_charging_into_the_surge(played: Player):
    """Of 8 h half is used from 300 to 60 before the surge: full 112.5 min later, 52.5 into it."""
    reissue = {"charging": {"partial_charge_at_reissue": "no"}}
    log = played(surge(day_before([DAY - 300], 240), [0], 10, reissue), kits=2, batteries=1)
    assert waits(log) == [52.5]


def test_rounds_at_the_bays_are_counted_from_the_beginning_of_the_surge(played: Player):
    """Every 7 h: worn 0-420, full at 855, on the shelf from the round at 1260 to 1440, the end."""
    changed = {
        "charging": {"partial_charge_at_reissue": "no", "rounds_every": "7 h"},
        "batteries": {"charge_time": "8 h"},
    }
    without = tiny_trace(settings(**changed), need=[0], room=420)
    for trace in (without, surge(day_before([], []), [0], 420, changed)):
        log = played(trace, batteries=1)
        assert log.use_area[Use.BATTERIES_ON_SHELF].sum() == 180 * MINUTE


def test_without_a_run_in_the_same_entry_waits_for_nothing(played: Player):
    log = played(tiny_trace(settings(), need=[5], room=10))
    assert waits(log) == [0]


def test_who_waits_from_the_run_in_is_served_before_the_surge(played: Player):
    """Both of the run-in are served first: until 20, then until 50; the entry at 5 waits 45."""
    log = played(surge(day_before([DAY - 20, DAY - 10], [40, 30]), [5], 10))
    assert waits(log) == [45]
    assert log.missing_at_s.tolist()[0] == 0 and log.missing_mask.tolist()[0] > 0


def test_late_entries_alarms_and_counts_are_those_of_the_surge(played: Player):
    """Three visits of the run-in, two of them late; nothing of them is counted."""
    case = surge(day_before([1_000, 1_000, 1_000], 60), [100], 10).situation(Stock(1, 9, 9))
    log = played(surge(day_before([1_000, 1_000, 1_000], 60), [100], 10))
    assert log.outcome.tolist() == [Outcome.SERVED]
    assert log.counts[Count.CHECKS] == log.counts[Count.WIPE_DOWNS] == 1
    for engine in ("reference", "compiled"):
        found = score(*case, engine=engine)
        assert (found.entries, found.late, found.alarms) == (1, 0, 0)


def test_time_in_use_and_peaks_are_those_of_the_horizon(played: Player):
    """Three kits in use in the run-in, one of them for 30 min of the surge, then another for 10."""
    before = day_before([100, 100, DAY - 30], [60, 60, 60])
    log = played(surge(before, [60], 10), kits=3)
    assert log.use_area.shape[1] == 24
    assert log.use_area[Use.KITS_IN_USE].tolist()[:3] == [30 * MINUTE, 10 * MINUTE, 0]
    assert log.use_peak[Use.KITS_IN_USE] == 1


def test_spare_parts_are_those_of_the_shelf_when_the_surge_begins(played: Player):
    """Two hoods are torn in the run-in and one in the surge: the one spare is still there then."""
    changed = {"supplies": {"hoods": {"spare": "1"}}}
    before = day_before([100, 200], 10, hood_torn=[0, 1])
    log = played(surge(before, [10, 60], 10, changed, hood_torn=[0]))
    assert waits(log) == [0, 0]
    assert log.counts[Count.HOODS_USED] == 1
    log = played(surge(before, [10, 60, 120], 10, changed, hood_torn=[0, 1]))
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.SERVED, Outcome.WAITING_AT_END]


def test_filters_have_run_when_the_surge_begins(played: Player):
    """A prefilter that lasts 60 has run 50 in the run-in: the alarm comes 10 into the visit."""
    before = day_before([100], 50)
    trace = surge(before, [10], 30, {"filters": FILTERS}, prefilter_life=[60, 900], he_life=[9_000])
    log = played(trace)
    assert (log.worn_s / MINUTE).tolist()[0] == 10
    assert log.alarm[0] and len(log.entry) == 2
    assert log.entry.tolist() == [0, 0]


def test_changes_of_the_timeline_count_from_the_beginning_of_the_surge(played: Player):
    """Half empty 60 before the surge, full 52.5 into it but for an outage from 30 to 90."""
    changed = {
        "charging": {"partial_charge_at_reissue": "no"},
        "timeline": [{"what": "power outage", "at": "30 min", "lasts": "1 h"}],
    }
    log = played(surge(day_before([DAY - 300], 240), [0], 10, changed), kits=2, batteries=1)
    assert waits(log) == [112.5]


def test_cleaners_are_on_duty_by_the_clock_and_absent_by_the_surge(played: Player):
    """Handed in at 10; the one cleaner is absent until 60."""
    changed = {
        "cleaning": {"by": "crew", "crew": CREW},
        "timeline": [{"what": "cleaning crew absent", "at": "0 min", "lasts": "1 h"}],
    }
    before = day_before([DAY - 20], 30)
    assert waits(played(surge(before, [5], 10, changed, wipe=[3]))) == [58]


def test_a_central_round_brings_back_what_was_collected_before_the_surge(played: Player):
    """Collected at 23:00, two hours of work: back with the round of 03:00, 180 into the surge."""
    cleaning = {"by": "central", "rounds": ["23:00", "03:00"], "turnaround": "2 h"}
    log = played(surge(day_before([1_300], 20), [60], 10, {"cleaning": cleaning}))
    assert waits(log) == [120]


def test_he_filters_are_fitted_on_the_weekdays_before_the_surge(played: Player):
    """The surge begins on Monday 2031-01-06 at midnight, the run-in on a Sunday.

    The HE filter is spent on Sunday; 2 h of work are done on Monday from 8 to 10.
    """
    filters = FILTERS | {"he_filter_turnaround": "2 h"}
    filters |= {"working_hours": {"start": "08:00", "end": "16:00", "weekend": "no"}}
    before = day_before([100, 200], 60)
    trace = surge(
        before, [0], 5, {"filters": filters}, prefilter_life=[9_000], he_life=[60, 9_000]
    )  # fmt: skip
    assert waits(played(trace)) == [pytest.approx(600, abs=70)]
    late = settings(run_in="1 d", filters=filters, start="2031-01-08 00:00")
    tuesday = tiny_trace(
        late, need=[0], room=5, before=before, prefilter_life=[9_000], he_life=[60, 9_000]
    )
    assert waits(played(tuesday)) == [0]


def test_a_wearer_of_the_shift_in_which_the_surge_begins_is_one_person(played: Player):
    """Busy until 10, so the visit at 5 begins at 10; with another wearer it begins at 5."""
    for shift_end, second in ((60, 10), (90, 5)):
        before = day_before([DAY - 20], 30, wearer=[0], shift_end=[DAY + 60])
        trace = surge(before, [5], 10, wearer=[0], shift_end=[shift_end])
        assert played(trace, kits=2).need_s.tolist() == [second * MINUTE]


def test_a_kit_held_in_the_run_in_is_held_until_its_shift_ends(played: Player):
    """Held from before the surge until 60; an entry without a name at 5 waits 55."""
    changed = {"policy": {"kit": "held for a shift", "wipe_between_visits": "0 min"}}
    before = day_before([DAY - 60], 30, wearer=[0], shift_end=[DAY + 60])
    assert waits(played(surge(before, [5], 10, changed))) == [55]


def test_events_of_the_run_in_stand_below_second_0_and_those_of_the_surge_count_from_it():
    """The visit of the run-in, number -2 of its entries, is taken off 10 into the surge."""
    trace = surge(day_before([DAY - 20], 30, wearer=[0], shift_end=[DAY]), [5], 10)
    for engine in ("reference", "compiled"):
        events = play(*trace.situation(Stock(1, 9, 9)), engine=engine, events=True).events
        assert events is not None
        off = events[events[:, 1] == Kind.TAKES_OFF][:, [0, 2]]
        assert off.tolist() == [[10 * MINUTE, -2], [20 * MINUTE, 0]]
        needs = events[events[:, 1] == Kind.NEEDS_KIT][:, 0]
        assert needs.tolist() == [-20 * MINUTE, 5 * MINUTE]
        assert (np.diff(events[:, 0]) >= 0).all()


def test_a_visit_of_the_run_in_that_gets_nowhere_is_told_of():
    """A battery that runs 8 h, an alarm 479 min before it is empty, and donning of 2 min."""
    with pytest.raises(ScenarioError, match="an entry of the run-in is never completed"):
        no_way = {"batteries": {"low_battery_alarm": "479 min"}, "kit": {"don": "2 min"}}
        before = tiny_trace(settings(**no_way), need=[10], room=10)
        play(*surge(before, [], [], no_way).situation(Stock(1, 1, 1)))
