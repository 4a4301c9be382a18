"""Timelines worked out on paper, to the minute, in both engines. All times are in minutes."""

from __future__ import annotations

import pytest

from surge_sim.engine.log import Alarm, Count, Missing, Outcome, RunLog
from tests.engine.conftest import Player
from tests.engine.tiny import MINUTE, settings, tiny_trace


def waits(log: RunLog) -> list[float]:
    return (log.wait_s / MINUTE).tolist()


def test_second_entry_waits_until_the_only_kit_is_clean(played: Player):
    """Kit worn 0-20, wiped until 35: the entry at 10 waits 25."""
    trace = tiny_trace(settings(), need=[0, 10], room=20, wipe=[15])
    assert waits(played(trace)) == [0, 25]


def test_check_donning_and_doffing_take_their_time_but_the_check_is_no_wait(played: Player):
    """Check 0-2, worn 2-27 (don 3, room 20, doff 2), wiped until 37, wet and dry until 45.

    The entry at 10 takes the kit at 45 and has it in hand at 47: it waited 35, without the check.
    """
    changed = settings(
        kit={"pre_use_check": "2 min", "don": "3 min", "doff": "2 min"},
        cleaning={"contact_time": "3 min", "drying_time": "5 min"},
    )
    log = played(tiny_trace(changed, need=[0, 10], room=20, wipe=[10]))
    assert waits(log) == [0, 35]
    assert (log.in_hand_s / MINUTE).tolist() == [2, 47]
    assert (log.end_s / MINUTE).tolist() == [27, 72]


def test_one_battery_is_charged_only_to_the_minimum_run_time_before_it_goes_out_again(
    played: Player,
):
    """Run 8 h, so 240 min of room leave half; least run 300 min is 62.5 % of the charge.

    80 % come in 60 % of 180 min, so 62.5 % stand at minute 84.375 of the curve and 50 % at 67.5:
    16.875 min in the bay from 240, that is 16 min 53 s in whole seconds.
    """
    changed = settings(batteries={"minimum_run_time": "300 min"})
    log = played(tiny_trace(changed, need=[0, 240], room=[240, 10]), kits=2, batteries=1, bays=1)
    assert log.wait_s.tolist() == [0, 16 * 60 + 53]


def test_without_early_taking_a_battery_goes_out_only_when_it_is_full(played: Player):
    """Half empty at 240: from minute 67.5 to 180 of the curve are 112.5 min."""
    changed = settings(charging={"partial_charge_at_reissue": "no"})
    log = played(tiny_trace(changed, need=[0, 240], room=[240, 10]), kits=2, batteries=1, bays=1)
    assert log.wait_s.tolist() == [0, 112 * 60 + 30]


def test_two_batteries_share_one_bay_first_come_first_served(played: Player):
    """Both are half empty, at 240 and 250; the first leaves the bay full at 352.5, then the second.

    Without early taking, the entries at 260 get them at 352.5 and 465: waits 92.5 and 205.
    """
    changed = settings(charging={"partial_charge_at_reissue": "no"})
    trace = tiny_trace(changed, need=[0, 10, 260, 260], room=[240, 240, 5, 5])
    log = played(trace, kits=4, batteries=2, bays=1)
    assert waits(log) == [0, 0, 92.5, 205]


def test_a_full_battery_blocks_its_bay_until_the_next_round(played: Player):
    """Rounds every 4 h. The first battery is full at 352.5, leaves at 480; the second then starts.

    The first is taken for the entry at 260 when full (352.5), which frees the bay early: the
    second is full at 465. With nobody waiting it would start at 480 and be full at 592.5.
    """
    changed = settings(charging={"partial_charge_at_reissue": "no", "rounds_every": "4 h"})
    waiting = tiny_trace(changed, need=[0, 10, 260, 260], room=[240, 240, 5, 5])
    assert waits(played(waiting, kits=4, batteries=2, bays=1)) == [0, 0, 92.5, 205]
    later = tiny_trace(changed, need=[0, 10, 500, 501], room=[240, 240, 5, 5])
    assert waits(played(later, kits=4, batteries=2, bays=1)) == [0, 0, 0, 91.5]


def test_no_bay_charges_in_a_power_cut(played: Player):
    """112.5 min of charging from 240, with a cut from 300 to 420: full at 472.5."""
    changed = settings(
        charging={"partial_charge_at_reissue": "no"},
        timeline=[{"what": "power outage", "at": "300 min", "lasts": "120 min"}],
    )
    log = played(tiny_trace(changed, need=[0, 240], room=[240, 10]), kits=2, batteries=1, bays=1)
    assert waits(log) == [0, 232.5]


def test_the_fullest_battery_goes_first(played: Player):
    """Battery 0 comes back with 7/8 of its charge; without a bay the next entry gets battery 1."""
    trace = tiny_trace(settings(), need=[0, 70], room=[60, 10])
    assert played(trace, kits=2, batteries=2, bays=0).battery.tolist() == [0, 1]


def test_a_battery_of_low_health_runs_shorter(played: Player):
    """Half the health: 8 h become 4 h, so with a reserve of 15 min the alarm comes at 225."""
    changed = settings(batteries={"state_of_health": ["50 %"], "low_battery_alarm": "15 min"})
    log = played(tiny_trace(changed, need=[0], room=300), kits=2, batteries=2)
    assert (log.worn_s / MINUTE).tolist() == [225, 75]
    assert log.alarm.tolist() == [Alarm.BATTERY, Alarm.NONE]


def test_after_an_alarm_the_rest_of_the_visit_is_a_new_need(played: Player):
    """Alarm at 465 of 480 (reserve 15): off at 467, wiped until 477, the rest of 35 starts then."""
    changed = settings(kit={"doff": "2 min"}, batteries={"low_battery_alarm": "15 min"})
    log = played(tiny_trace(changed, need=[0], room=500, wipe=[10]), kits=1, batteries=2)
    assert log.entry.tolist() == [0, 0] and log.part.tolist() == [0, 1]
    assert waits(log) == [0, 10]
    assert (log.need_s / MINUTE).tolist() == [0, 467]
    assert (log.worn_s / MINUTE).tolist() == [467, 37]
    assert log.counts[Count.ALARMS_BATTERY] == 1


def test_a_crew_goes_home_at_night_and_finishes_what_it_began(played: Player):
    """One cleaner 07:00-19:00; second 0 is 18:00. A kit used until 18:50 is wiped 18:50-19:10.

    The one used until 19:05 waits for 07:00 and is clean at 07:20: the entry at 19:30 (minute 90)
    takes the first at once, the entry at minute 91 waits until minute 800.
    """
    changed = settings(
        start="2031-01-06 18:00",
        cleaning={"by": "crew", "crew": [{"start": "07:00", "end": "19:00", "cleaners": "1"}]},
    )
    trace = tiny_trace(changed, need=[0, 0, 90, 91], room=[50, 65, 5, 5], wipe=[20])
    assert waits(played(trace, kits=2)) == [0, 0, 0, 709]


def test_absent_cleaners_start_nothing(played: Player):
    """The kit is used until 20, nobody wipes until 60, it is clean at 70."""
    changed = settings(
        start="2031-01-06 08:00",
        cleaning={"by": "crew", "crew": [{"start": "07:00", "end": "19:00", "cleaners": "2"}]},
        timeline=[{"what": "cleaning crew absent", "at": "10 min", "lasts": "50 min"}],
    )
    assert waits(played(tiny_trace(changed, need=[0, 30], room=20, wipe=[10]))) == [0, 40]


def test_central_wipe_down_collects_in_rounds_and_returns_with_a_later_one(played: Player):
    """Rounds at 08:00, 12:00, 16:00; second 0 is 07:00. Used until 07:30, collected at 08:00.

    A turnaround of 5 h ends at 13:00, so the kit is back with the round at 16:00, minute 540.
    """
    changed = settings(
        start="2031-01-06 07:00",
        cleaning={
            "by": "central", "rounds": ["08:00", "12:00", "16:00"], "turnaround": "5 h",
        },
    )  # fmt: skip
    assert waits(played(tiny_trace(changed, need=[0, 40], room=[30, 5]))) == [0, 500]


def test_places_limit_how_many_wearers_wipe_at_once(played: Player):
    """One place: kits off at 10 and 10 are clean at 25 and 40."""
    changed = settings(cleaning={"places": "1"})
    trace = tiny_trace(changed, need=[0, 0, 11, 12], room=[10, 10, 5, 5], wipe=[15])
    assert waits(played(trace, kits=2)) == [0, 0, 14, 28]


def test_an_urgent_team_overtakes_those_who_wait(played: Player):
    """Both kits are clean at 30; the routine entry at 5 waits behind the team of two at 20.

    The team's kits are clean at 50 and 50.
    """
    trace = tiny_trace(
        settings(), need=[0, 0, 5, 20, 20], room=[20, 20, 5, 10, 10], wipe=[10],
        urgent=[False, False, False, True, True],
    )  # fmt: skip
    assert waits(played(trace, kits=2)) == [0, 0, 45, 10, 10]


def test_reserved_kits_are_for_urgent_entries_only(played: Player):
    """Two kits, one reserved: the second routine entry waits until a kit is back at 20."""
    changed = settings(policy={"reserved_for_urgent": "1"})
    trace = tiny_trace(changed, need=[0, 1, 2], room=[20, 5, 5], urgent=[False, False, True])
    assert waits(played(trace, kits=2)) == [0, 19, 0]


def test_who_runs_out_of_maximum_wait_gives_up_unless_served_in_that_very_second(played: Player):
    """Patience 10. The kit is back at 20: the entry at 10 is served then, the one at 9 had left."""
    trace = tiny_trace(settings(), need=[0, 9, 10], room=[20, 5, 5], maximum_wait=10)
    log = played(trace)
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.RENEGED, Outcome.SERVED]
    assert waits(log) == [0, 10, 10]


def test_a_postponed_visit_comes_again(played: Player):
    """Gives up at 15, comes again 60 later, at 75."""
    changed = settings(policy={"after_maximum_wait": "postponed", "postponed_by": "60 min"})
    log = played(tiny_trace(changed, need=[0, 5], room=[30, 5], maximum_wait=10))
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.RENEGED, Outcome.SERVED]
    assert (log.need_s / MINUTE).tolist() == [0, 5, 75]
    assert log.entry.tolist() == [0, 1, 1]


def test_a_wearer_makes_one_visit_at_a_time_and_wipes_down_before_the_next(played: Player):
    """Visit 0-20, wipe until 30: the visit due at 10 becomes a need at 30 and does not wait."""
    trace = tiny_trace(settings(), need=[0, 10], room=[20, 5], wipe=[10], wearer=[0, 0])
    log = played(trace, kits=2)
    assert (log.need_s / MINUTE).tolist() == [0, 30]
    assert waits(log) == [0, 0]


def test_a_held_kit_needs_no_shelf_and_is_wiped_at_the_end_of_the_shift(played: Player):
    """The wearer keeps the only kit: visits at 0 and 60; another person's entry at 30 waits.

    The shift ends at 120; the kit is wiped 120-130.
    """
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "2 min"})
    trace = tiny_trace(
        changed, need=[0, 30, 60], room=[20, 5, 20], wipe=[10], wearer=[0, -1, 0], shift_end=[120]
    )
    log = played(trace)
    assert waits(log) == [0, 100, 0]
    assert log.counts[Count.SHORT_WIPES] == 2


def test_a_held_kit_whose_battery_is_low_gets_a_fresh_one(played: Player):
    """7 h 40 of 8 h are worn, less than the 30 min that are the least: a swap, no wait."""
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "0 min"})
    trace = tiny_trace(changed, need=[0, 470], room=[460, 5], wearer=[0, 0], shift_end=[600])
    log = played(trace, kits=1, batteries=2)
    assert waits(log) == [0, 0]
    assert log.battery.tolist() == [0, 1]
    assert log.counts[Count.BATTERY_SWAPS] == 1


FILTERS = {
    "prefilter_life": "60 min", "he_filter_life": "300 min", "prefilter_change": "5 min",
    "he_filter_turnaround": "2 h", "at_start": "new",
    "working_hours": {"start": "08:00", "end": "16:00"},
}  # fmt: skip


def test_past_its_life_a_filter_passes_at_the_next_level_then_is_changed(played: Player):
    """Life 60; the second level buys half as much again, so it passes until 90 run minutes.

    The visit at 100 begins with 50 run minutes: alarm after 10, rest at level 1 until 90: alarm
    after 30 at 142. No level passes at 143; prefilter 5 and check 1: in hand at 149, a wait of 6.
    """
    levels = [{"run_time": "8 h"}, {"run_time": "6 h", "further_life": "50 %"}]
    changed = settings(kit={"levels": levels, "pre_use_check": "1 min"}, filters=FILTERS)
    trace = tiny_trace(changed, need=[0, 100, 200], room=50, prefilter_life=[60], he_life=[300])
    log = played(trace)
    assert log.alarm.tolist() == [0, Alarm.FLOW, 0, Alarm.FLOW, 0]
    assert log.level.tolist() == [0, 0, 0, 1, 0]
    assert (log.worn_s / MINUTE).tolist() == [50, 10, 50, 30, 10]
    assert waits(log) == [0, 0, 0, 0, 6]
    assert log.counts[Count.PREFILTERS_USED] == 1


def test_a_spent_he_filter_sends_the_blower_out_and_the_wearer_stays_first(played: Player):
    """Main life 50, no prefilter helps: check 101, change until 106, check fails at 107.

    Out at 08:00 + 107 min for 2 h of working time: back at 227. The wearer of 100 was first in
    line with the entry at 105 behind: in hand at 228, a wait of 127; worn until 238, then the
    entry at 105: in hand 239.
    """
    changed = settings(
        start="2031-01-06 08:00", kit={"pre_use_check": "1 min"}, filters={**FILTERS}
    )
    trace = tiny_trace(
        changed, need=[0, 100, 105], room=[50, 10, 5], prefilter_life=[500], he_life=[50, 500]
    )
    log = played(trace)
    assert waits(log) == [0, 127, 133]
    assert log.failed_checks.tolist() == [0, 2, 0]
    assert log.counts[Count.HE_FILTERS_USED] == 1


def test_work_on_an_he_filter_stops_for_the_night_and_the_weekend(played: Player):
    """Friday 15:00: spent at 15:50, tried at 16:40; 2 h from Monday 08:00: back at 10:00.

    From Friday 15:00 to Monday 10:00 are 67 h, minute 4020.
    """
    changed = settings(
        start="2031-01-10 15:00", horizon="4 d", kit={"pre_use_check": "0 min"}, filters=FILTERS
    )
    trace = tiny_trace(
        changed, need=[0, 95], room=[50, 10], prefilter_life=[500], he_life=[50, 500]
    )
    assert waits(played(trace)) == [0, 4020 - 95]


def test_without_a_prefilter_in_stock_the_blower_waits_for_the_delivery(played: Player):
    """Spent at 60; at 100 the check fails, none in stock. One was ordered never: the kit stays out.

    With a reorder point of 0 the use of the only one at 100 orders another, which comes at 220;
    the next spent one at 160 (check at 170) is fitted 220-225.
    """
    supplies = {"prefilters": {"spare": "0"}}
    changed = settings(filters=FILTERS, supplies=supplies)
    trace = tiny_trace(changed, need=[0, 100], room=[60, 5], prefilter_life=[60], he_life=[900])
    log = played(trace)
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.WAITING_AT_END]
    assert log.counts[Count.STOCK_OUTS_PREFILTERS] == 1
    supplies = {
        "prefilters": {
            "spare": "1",
            "reorder_point": "0",
            "order_quantity": "1",
            "lead_time": "2 h",
        }
    }
    changed = settings(filters=FILTERS, supplies=supplies)
    trace = tiny_trace(
        changed, need=[0, 100, 170], room=[60, 60, 5], prefilter_life=[60], he_life=[900]
    )
    log = played(trace)
    assert waits(log) == [0, 5, 55 - 5 + 5]


def test_a_run_of_bad_filters_has_half_the_life(played: Player):
    """The prefilter fitted at 100 lasts 30 instead of 60: the alarm comes after 30."""
    changed = settings(
        filters=FILTERS,
        timeline=[
            {"what": "defective filter lot", "at": "90 min", "lasts": "60 min", "life": "50 %"}
        ],
    )
    trace = tiny_trace(changed, need=[0, 100], room=[60, 40], prefilter_life=[60], he_life=[900])
    log = played(trace)
    assert (log.worn_s / MINUTE).tolist() == [60, 30, 10]


def test_a_broken_blower_is_wiped_then_repaired(played: Player):
    """Fault after 30 run minutes: off at 30, wiped until 40, repaired 3 h until 220.

    The rest of 20 waits from 30 to 220.
    """
    changed = settings(failures={"blower_run_between_failures": "30 min", "repair_time": "3 h"})
    trace = tiny_trace(changed, need=[0], room=50, wipe=[10], failure_run=[30, 900], repair=[180])
    log = played(trace)
    assert log.alarm.tolist() == [Alarm.FAILURE, 0]
    assert waits(log) == [0, 190]
    assert log.counts[Count.BLOWER_REPAIRS] == 1


def test_a_torn_hood_is_replaced_from_stock_and_missed_when_there_is_none(played: Player):
    """One spare hood: the first torn one is replaced, after the second the kit has no hood.

    A hood ordered at the second tear (20) comes at 80.
    """
    supplies = {
        "hoods": {"spare": "1", "reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    }
    changed = settings(supplies=supplies)
    trace = tiny_trace(changed, need=[0, 10, 25], room=[10, 10, 5], hood_torn=[0, 1])
    log = played(trace)
    # the first tear at 10 leaves no spare and orders one that comes at 70
    assert waits(log) == [0, 0, 45]
    assert log.missing_mask.tolist() == [Missing.HOOD, 0]
    assert log.counts[Count.HOODS_USED] == 2


def test_single_use_hoods_are_used_up(played: Player):
    """One kit, one spare hood, none ordered: the third entry has no hood."""
    changed = settings(kit={"single_use_hoods": "yes"}, supplies={"hoods": {"spare": "1"}})
    log = played(tiny_trace(changed, need=[0, 20, 40], room=10))
    assert log.outcome.tolist() == [1, 1, Outcome.WAITING_AT_END]


def test_a_late_delivery_comes_when_deliveries_come_again(played: Player):
    """The hood due at 70 comes at 200."""
    supplies = {
        "hoods": {"spare": "1", "reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    }
    changed = settings(
        supplies=supplies,
        timeline=[{"what": "late delivery", "at": "60 min", "lasts": "140 min"}],
    )
    trace = tiny_trace(changed, need=[0, 10, 25], room=[10, 10, 5], hood_torn=[0, 1])
    assert waits(played(trace)) == [0, 0, 175]


def test_long_wear_is_checked_again_after_4_h_and_every_2_h(played: Player):
    """450 min of room time reach 4 h and 6 h: two more checks of 2 min, worn 454."""
    changed = settings(
        kit={"pre_use_check": "2 min", "recheck": {"first_after": "4 h", "then_every": "2 h"}}
    )
    log = played(tiny_trace(changed, need=[0], room=450))
    assert (log.worn_s / MINUTE).tolist() == [454]
    assert log.counts[Count.RECHECKS] == 2


def test_with_nothing_in_stock_everybody_is_left_waiting_and_nothing_hangs(played: Player):
    """Closing at 48 h: waits of 2880 and 2870 min."""
    log = played(tiny_trace(settings(), need=[0, 10], room=5), kits=0, batteries=0, bays=0)
    assert log.outcome.tolist() == [Outcome.WAITING_AT_END] * 2
    assert waits(log) == [2880, 2870]


def test_what_comes_free_in_a_second_is_there_for_who_needs_it_then(played: Player):
    """Clean at 35 sharp, needed at 35 sharp."""
    assert waits(played(tiny_trace(settings(), need=[0, 35], room=20, wipe=[15]))) == [0, 0]


@pytest.mark.parametrize("more", [{"kits": 3}, {"batteries": 3}, {"bays": 2}])
def test_one_more_of_anything_makes_no_wait_longer_on_these_timelines(played: Player, more):
    """A busy day of twelve entries on two kits, two batteries and one bay."""
    trace = tiny_trace(
        settings(), need=[0, 5, 10, 60, 65, 70, 200, 205, 300, 310, 320, 330], room=45, wipe=[15]
    )
    had = {"kits": 2, "batteries": 2, "bays": 1}
    less, plenty = played(trace, **had), played(trace, **{**had, **more})
    assert (plenty.wait_s <= less.wait_s).all()


def test_with_plenty_of_everything_nobody_waits(played: Player):
    """Every wait is 0."""
    trace = tiny_trace(settings(), need=list(range(50)), room=45, wipe=[15])
    assert waits(played(trace, kits=50, batteries=100, bays=100)) == [0] * 50
