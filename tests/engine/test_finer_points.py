"""Finer points of the timelines, worked out on paper, in both engines. Times in minutes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from surge_sim.engine.log import Count, Missing, Outcome, Use
from tests.engine.conftest import Player
from tests.engine.tiny import MINUTE, settings, tiny_trace

FILTERS = {
    "prefilter_life": "60 min", "he_filter_life": "300 min", "prefilter_change": "5 min",
    "he_filter_turnaround": "2 h", "at_start": "new",
}  # fmt: skip


def test_the_wipe_between_visits_keeps_the_wearer_busy(played: Player):
    """Visit 0-20, short wipe until 22: the visit due at 21 becomes a need at 22."""
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "2 min"})
    trace = tiny_trace(changed, need=[0, 21], room=[20, 5], wearer=[0, 0], shift_end=[120])
    assert (played(trace).need_s / MINUTE).tolist() == [0, 22]


def test_the_kit_that_came_off_first_is_wiped_first(played: Player):
    """One cleaner, wipe-downs of 15: kits off at 10, 11 and 12 are clean at 25, 40 and 55."""
    crew = [{"start": "00:00", "end": "00:00", "cleaners": "1"}]
    changed = settings(cleaning={"by": "crew", "crew": crew})
    trace = tiny_trace(changed, need=[0, 0, 0, 13, 14, 15], room=[10, 11, 12, 5, 5, 5], wipe=[15])
    log = played(trace, kits=3)
    assert log.blower.tolist() == [0, 1, 2, 0, 1, 2]
    assert (log.in_hand_s / MINUTE).tolist() == [0, 0, 0, 25, 40, 55]


def test_a_torn_tube_is_missed_when_there_is_none(played: Player):
    """The only tube tears at 10 and none is in stock."""
    changed = settings(supplies={"tubes": {"spare": "0"}})
    trace = tiny_trace(changed, need=[0, 20], room=10)
    log = played(replace(trace, tube_torn=np.array([True, False])))
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.WAITING_AT_END]
    assert log.missing_mask.tolist()[0] == Missing.TUBE
    assert log.counts[Count.TUBES_USED] == 1


def test_the_battery_drains_while_the_kit_is_taken_off(played: Player):
    """Room 440 and doff 20 leave 20 of 480, less than the 30 that are the least; no bay."""
    changed = settings(kit={"doff": "20 min"})
    log = played(tiny_trace(changed, need=[0, 470], room=[440, 5]), kits=2, batteries=1, bays=0)
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.WAITING_AT_END]


def test_a_power_cut_leaves_a_battery_taken_early_with_less(played: Player):
    """Half empty at 240. 30 min in the bay without power are no charge.

    The second entry may run 240 less nothing gained: its visit of 300 ends at an alarm after 240.
    """
    changed = settings(
        timeline=[{"what": "power outage", "at": "200 min", "lasts": "200 min"}],
    )
    trace = tiny_trace(changed, need=[0, 270], room=[240, 300])
    log = played(trace, kits=2, batteries=1, bays=1)
    assert (log.worn_s / MINUTE).tolist()[:2] == [240, 240]


def test_an_urgent_entry_is_left_its_battery(played: Player):
    """From 440 on one full battery is left. The urgent entry at 465 waits for a kit until 475, so
    the wearer whose held kit is low at 470 may not have it; at 475 a second one comes back.
    """
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "0 min"})
    trace = tiny_trace(
        changed, need=[0, 440, 465, 470], room=[460, 35, 5, 5], wearer=[0, -1, -1, 0],
        shift_end=[900], urgent=[False, False, True, False],
    )  # fmt: skip
    log = played(trace, kits=2, batteries=3, bays=0)
    assert log.outcome[2] == Outcome.SERVED
    assert log.in_hand_s[2] / MINUTE == 475
    assert log.in_hand_s[3] / MINUTE == 475


def test_of_equal_batteries_the_one_on_the_shelf_goes(played: Player):
    """Battery 0 is full in its bay until the round at 480; battery 1 is full on the shelf."""
    changed = settings(charging={"rounds_every": "8 h"})
    trace = tiny_trace(changed, need=[0, 400], room=[60, 5])
    assert played(trace, kits=2, batteries=2, bays=1).battery.tolist() == [0, 1]


def test_a_swap_goes_before_a_routine_entry_that_would_do_with_less(played: Player):
    """No bay. Both batteries are back with less than half: enough for the kit on the shelf, whose
    filter is good, but not for the held kit, which runs 1 h at its second level. It was first.
    """
    levels = [{"run_time": "8 h"}, {"run_time": "1 h", "further_life": "100 %"}]
    changed = settings(
        kit={"levels": levels}, filters=FILTERS,
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
    )  # fmt: skip
    trace = tiny_trace(
        changed, need=[0, 0, 310, 320], room=[300, 290, 5, 5], wearer=[0, -1, 0, -1],
        shift_end=[900], prefilter_life=[300], he_life=[900],
    )  # fmt: skip
    log = played(trace, kits=2, batteries=2, bays=0)
    assert log.outcome[2:].tolist() == [Outcome.WAITING_AT_END] * 2


def test_a_battery_that_left_its_bay_is_full(played: Player):
    """Half empty at 240, full at 352.5: from 400 on it runs 300 without an alarm."""
    trace = tiny_trace(settings(), need=[0, 400], room=[240, 300])
    log = played(trace, kits=2, batteries=1, bays=1)
    assert (log.worn_s / MINUTE).tolist() == [240, 300]


def test_batteries_queue_for_a_bay_in_the_order_in_which_they_came(played: Player):
    """Half empty at 240: one bay fills it by 352.5, then those that came at 250 and 260."""
    changed = settings(charging={"partial_charge_at_reissue": "no"})
    trace = tiny_trace(changed, need=[0, 0, 0, 300, 300, 300], room=[240, 250, 260, 5, 5, 5])
    log = played(trace, kits=6, batteries=3, bays=1)
    assert log.battery.tolist() == [0, 1, 2, 0, 1, 2]
    assert log.in_hand_s[3] == 352.5 * MINUTE < log.in_hand_s[4] < log.in_hand_s[5]


def test_the_blower_that_passes_at_the_lowest_level_goes_first(played: Player):
    """After 60 run minutes blower 0 passes at the second level only: blower 1 is taken."""
    levels = [{"run_time": "8 h"}, {"run_time": "6 h", "further_life": "50 %"}]
    changed = settings(kit={"levels": levels}, filters=FILTERS)
    trace = tiny_trace(changed, need=[0, 100], room=[60, 5], prefilter_life=[60], he_life=[900])
    assert played(trace, kits=2, batteries=2).blower.tolist() == [0, 1]


def test_a_new_he_filter_has_all_its_life_before_it(played: Player):
    """The first HE filter lasts 50, the second 60: fitted anew, it is worn for 55, no alarm."""
    changed = settings(start="2031-01-06 08:00", filters=FILTERS)
    trace = tiny_trace(
        changed, need=[0, 100], room=[50, 55], prefilter_life=[500], he_life=[50, 60]
    )
    log = played(trace)
    assert log.counts[Count.HE_FILTERS_USED] == 1
    assert (log.worn_s / MINUTE).tolist() == [50, 55]


def test_of_kits_clean_in_one_second_the_lowest_number_goes_first(played: Player):
    trace = tiny_trace(settings(), need=[0, 0, 0, 10, 10, 10], room=[10, 10, 10, 5, 5, 5])
    assert played(trace, kits=3).blower.tolist() == [0, 1, 2, 0, 1, 2]


def test_a_fuller_battery_in_a_bay_goes_before_one_on_the_shelf(played: Player):
    """Charged below 60 % only: battery 0 is on the shelf with 75 % from 120 on; battery 1 goes into
    its bay with 37.5 % at 300 and has more than 75 % at 420.
    """
    changed = settings(charging={"charge_below": "60 %"})
    trace = tiny_trace(changed, need=[0, 0, 420], room=[120, 300, 5])
    assert played(trace, kits=2, batteries=2, bays=1).battery.tolist() == [0, 1, 1]


def test_time_in_each_state_by_the_hour_and_its_peak_within_the_horizon(played: Player):
    """Three kits, 2.5 hours: one is in use from 50 to 80 and one from 70 on, beyond the end.

    In use: 10 minutes of the first hour; 10 + 2 x 10 + 40 of the second; 30 of the last half hour.
    That three are in use at 156 is past the horizon, and a wipe-down of no time makes no peak.
    """
    changed = settings(horizon="150 min", run_out="60 min")
    log = played(tiny_trace(changed, need=[50, 70, 155, 156], room=[30, 100, 5, 5]), kits=3)
    spent = log.use_area // MINUTE
    assert spent[Use.KITS_IN_USE].tolist() == [10, 70, 30]
    assert spent[Use.KITS_READY].tolist() == [170, 110, 60]
    assert spent[Use.KITS_IN_WIPE_DOWN].tolist() == [0, 0, 0]
    assert log.use_peak[Use.KITS_IN_USE] == 2
    assert log.use_peak[Use.KITS_READY] == 3
    assert log.use_peak[Use.KITS_IN_WIPE_DOWN] == 0
    assert log.use_peak[Use.ENTRIES_WAITING] == 0


def test_a_state_that_never_changes_fills_every_hour(played: Player):
    """A kit on the shelf all the time: 60 minutes an hour, though nothing happens in most."""
    log = played(tiny_trace(settings(horizon="5 h"), need=[0, 299], room=1), kits=2)
    assert (log.use_area[Use.KITS_READY] // MINUTE).tolist() == [119, 120, 120, 120, 119]
    assert log.use_peak[Use.KITS_READY] == 2
