"""The rules of the equipment, worked out by hand; numbers are invented."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.equipment.batteries import (
    Issue,
    charge_after_wear,
    issue_rank,
    least_charge,
    level_wanted,
    may_be_issued,
    may_be_taken,
    next_round,
    powered_end,
    powered_seconds,
    run_left,
    seconds_to_reserve,
    wants_charging,
)
from surge_sim.equipment.causes import Cause, part_cause
from surge_sim.equipment.charge_curve import (
    FULL,
    charge_in_bay,
    charge_on_curve,
    second_on_curve,
    seconds_to_charge,
)
from surge_sim.equipment.filters import (
    AfterFailedCheck,
    after_failed_check,
    fitted_life,
    level_or_highest,
    lowest_level,
    repair_after_check,
    seconds_to_flow_loss,
    working_end,
)
from surge_sim.equipment.kits import (
    Alarm,
    Keep,
    Missing,
    Repair,
    begins_to_lack,
    busy_after_giving_up,
    first_alarm,
    is_late,
    kept_after_visit,
    missing_parts,
    parts_that_follow,
    recheck_count,
    rechecks_by,
    repair_after_wear,
    rest_of_visit,
    still_kept,
    wear,
)
from surge_sim.equipment.order import Line, kept_back, line_to_join, served_next
from surge_sim.equipment.stock import Use
from surge_sim.equipment.supplies import (
    HOODS,
    PREFILTERS,
    TUBES,
    delivery_s,
    in_stock,
    order_quantity,
    spare_parts,
)

#: holds 1000 after 1000 s: 800 after 600 s, the other 200 after 400 s more
CURVE = (1_000, 800, 600, 1_000, np.zeros(0, dtype=np.int64))


def whole(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.int64)


def test_the_curve_is_quick_at_constant_current_and_slow_above_it():
    """400 at 300 s, 800 at 600 s, 900 half way through the slow part, at 800 s."""
    seconds, charges = (0, 300, 600, 800, 1_000), (0, 400, 800, 900, 1_000)
    assert [charge_on_curve(second, *CURVE) for second in seconds] == list(charges)
    assert [second_on_curve(charge, *CURVE) for charge in charges] == list(seconds)
    assert seconds_to_charge(400, 900, *CURVE) == 500
    assert seconds_to_charge(900, 1_000, *CURVE) == 200
    assert seconds_to_charge(900, 400, *CURVE) == 0


def test_charging_goes_on_from_where_the_battery_stands_on_the_curve():
    """400 is second 300; 500 s later it is second 800, so 900; and never above full."""
    assert charge_in_bay(400, 500, *CURVE) == 900
    assert charge_in_bay(400, 0, *CURVE) == 400
    assert charge_in_bay(400, 5_000, *CURVE) == 1_000
    assert [charge_in_bay(400, seconds, *CURVE) for seconds in (1, 2, 3)] == [401, 402, 404]
    # 3 is reached in second 3, which brings 4: what lacks takes a second; no second brings nothing
    assert seconds_to_charge(3, 4, *CURVE) == 1 and charge_in_bay(3, 0, *CURVE) == 3


def test_a_power_cut_takes_its_seconds_from_the_charge():
    """Cuts 20-50 and 80-90: from 0 to 100 are 60 s of power; 70 s of power end at 110."""
    cuts = whole(20, 80), whole(50, 90)
    assert powered_seconds(0, 100, *cuts) == 60
    assert powered_seconds(30, 85, *cuts) == 30
    assert powered_end(0, 70, *cuts) == 110
    assert powered_end(30, 10, *cuts) == 60
    assert powered_end(0, 20, *cuts) == 20
    # after the first cut only the second counts; one second without power is one less
    assert powered_end(60, 30, *cuts) == 100 and powered_seconds(60, 100, *cuts) == 30
    assert powered_seconds(49, 60, *cuts) == 10


def test_a_round_in_this_second_is_still_in_time():
    assert [next_round(now, 100, 0) for now in (0, 1, 100, 101)] == [0, 100, 100, 200]
    assert [next_round(now, 100, 30) for now in (0, 30, 31, 130)] == [30, 30, 130, 130]
    assert next_round(101, 0, 0) == 101


def test_a_battery_is_charged_below_the_threshold_or_when_no_use_is_left_in_it():
    """Threshold 60 % of 1,000; the least for any use is 100, or 700 where levels are thirsty."""
    answers = {charge: wants_charging(charge, 1_000, 600_000, 100) for charge in (99, 599, 600)}
    assert answers == {99: True, 599: True, 600: False}
    assert wants_charging(650, 1_000, 600_000, 700)
    assert wants_charging(999, 1_000, 1_000_000, 100)
    # what is left for the least use is not too little for any, and a billionth below is below
    assert not wants_charging(100, 1_000, 50_000, 100)
    assert wants_charging(FULL * 6 // 10 - 1, FULL, 600_000, 0)


def test_drain_and_least_charge_are_shares_of_the_run_time():
    """Of 8 h of run time 2 h are a quarter; 30 min are a sixteenth, rounded up to suffice."""
    assert charge_after_wear(FULL, 7_200, 28_800) == FULL * 3 // 4
    assert charge_after_wear(FULL // 8, 7_200, 28_800) == 0
    assert least_charge(28_800, 1_800) == FULL // 16
    assert least_charge(28_800, 1) * 28_800 >= FULL


def test_the_alarm_of_a_battery_comes_as_long_before_its_end_as_the_reserve():
    """A quarter of 8 h are 2 h: after 1 h 50 min with a reserve of 10 min; at once with 3 h."""
    assert run_left(FULL // 4, 28_800) == 7_200
    answers = [seconds_to_reserve(FULL // 4, 28_800, reserve) for reserve in (600, 7_200, 10_800)]
    assert answers == [6_600, 0, 0]


def test_the_lowest_level_at_which_both_filters_pass():
    """Lives of 100 and 300; the second level buys half as much again, the third twice that."""
    shares = whole(1_000_000, 1_500_000, 2_000_000)
    cases = {(99, 299): 0, (100, 0): 1, (0, 300): 1, (149, 449): 1, (150, 0): 2, (200, 0): 3}
    found = {runs: lowest_level(runs[0], 100, runs[1], 300, shares) for runs in cases}
    assert found == cases
    assert seconds_to_flow_loss(60, 100, 100, 300, 0, shares) == 40
    assert seconds_to_flow_loss(60, 100, 290, 300, 0, shares) == 10


def test_a_filter_of_a_defective_lot_has_a_share_of_its_life_and_never_none():
    assert [fitted_life(1_000, ppm) for ppm in (1_000_000, 300_000, 0)] == [1_000, 300, 1]


def test_an_alarm_counts_only_inside_the_visit_and_ties_have_an_order():
    """A visit of 100: an alarm due at its very end is none."""
    assert first_alarm(100, 200, 300, 400, 100) == Alarm.NONE
    assert first_alarm(99, 200, 300, 400, 100) == Alarm.BATTERY
    assert first_alarm(99, 99, 300, 400, 100) == Alarm.FLOW
    assert first_alarm(99, 99, 99, 100, 100) == Alarm.FAILURE
    assert first_alarm(99, 99, 99, 99, 100) == Alarm.BATTERY_FAILURE


def test_the_rest_of_a_visit_is_the_room_time_not_yet_done():
    """Don 10, room 50: an alarm at 25 leaves 35, at 62 with 5 of rechecks until then 3.

    One while donning leaves all of it, whatever was rechecked.
    """
    assert rest_of_visit(10, 50, 25, 0) == 35
    assert rest_of_visit(10, 50, 62, 5) == 3
    assert rest_of_visit(10, 50, 4, 0) == rest_of_visit(10, 50, 12, 3) == 50


def test_rechecks_come_while_the_kit_is_worn_not_at_the_end():
    """First after 240, then every 120: a wear of exactly 240 or 360 has none at its end."""
    wears = (240, 241, 360, 361, 480, 481)
    assert [recheck_count(wear, 240, 120) for wear in wears] == [0, 1, 1, 2, 2, 3]
    assert recheck_count(10_000, 0, 120) == 0 and recheck_count(4, 1, 2) == 2


def test_of_the_rechecks_those_before_an_alarm_are_made_and_take_their_time():
    """First after 240, which takes 5; the next after 120 more, from 365 on."""
    by = {
        alarm: rechecks_by(alarm, 5, 240, 120) for alarm in (100, 240, 242, 245, 365, 366, 370, 372)
    }
    assert by == {
        100: (0, 0), 240: (0, 0), 242: (0, 2), 245: (1, 5), 365: (1, 5), 366: (1, 6),
        370: (2, 10), 372: (2, 10),
    }  # fmt: skip
    assert rechecks_by(10_000, 5, 0, 120) == (0, 0)


@pytest.mark.parametrize("alarm", range(1, 48))
def test_what_an_alarm_leaves_of_a_visit_is_what_was_not_done_second_by_second(alarm: int):
    """Don 7, room 30, a check of 3 after 5 and then after each 4 of wear; doffing takes 2."""
    done = made = rechecked = 0
    for _ in range(alarm):
        checking = done >= 5 and (done - 5) % 4 == 0 and (done - 5) // 4 == made
        rechecked += checking
        done += not checking
        made += checking and rechecked % 3 == 0
    if done >= 37:
        assert wear(7, 30, 2, 3, 5, 4, 999, 999, 999, alarm)[0] == Alarm.NONE
        return
    left = 30 - max(done - 7, 0)
    assert wear(7, 30, 2, 3, 5, 4, 999, 999, 999, alarm) == (
        Alarm.BATTERY_FAILURE, alarm + 2, left, made,
    )  # fmt: skip


def test_whole_lots_are_ordered_until_the_spares_exceed_the_reorder_point():
    """Reorder at 3 in lots of 2: with 3 left one lot, with none two lots; with 4 nothing."""
    assert [order_quantity(left, 3, 2) for left in (4, 3, 2, 1, 0)] == [0, 2, 2, 4, 4]
    assert order_quantity(0, -1, 2) == 0


def test_a_missed_delivery_comes_at_the_end_and_only_of_the_supply_that_is_missed():
    """No hoods come from 100 to 200, nothing at all from 200 to 300."""
    missed = whole(100, 200), whole(200, 300), whole(HOODS, -1)
    assert [delivery_s(due, HOODS, *missed) for due in (99, 100, 199, 300)] == [99, 300, 300, 300]
    assert [delivery_s(due, TUBES, *missed) for due in (100, 199, 200)] == [100, 199, 300]


def issued_in_order(issued: Issue, mark: int = 0) -> list[str]:
    """Names of some batteries in the order in which they are issued, one after the other."""
    bay, queue = Use.BATTERIES_IN_BAY, Use.BATTERIES_WAITING_FOR_BAY
    batteries = {
        "old": (80, Use.BATTERIES_ON_SHELF, 0, 100),
        "new": (70, Use.BATTERIES_ON_SHELF, 0, 200),
        "full": (90, bay, 1, 50),
        "charging": (60, bay, 0, 20),
        "long in bay": (80, bay, 0, 10),
        "waits": (20, queue, 0, 0),
    }
    ranks = {
        name: (issue_rank(issued, charge, place, full, since, mark, number), -number)
        for number, (name, (charge, place, full, since)) in enumerate(batteries.items())
    }
    return sorted(ranks, key=lambda name: ranks[name], reverse=True)


def test_the_fullest_battery_is_issued_wherever_it_is_and_of_equals_one_that_blocks_no_bay():
    in_order = ["full", "old", "long in bay", "new", "charging", "waits"]
    assert issued_in_order(Issue.FULLEST) == in_order
    shelf, bay = (
        issue_rank(Issue.FULLEST, charge, place, 0, 0, 0, 0)
        for charge, place in ((80, Use.BATTERIES_ON_SHELF), (81, Use.BATTERIES_IN_BAY))
    )
    assert bay > shelf


def test_whoever_does_not_look_for_the_fullest_takes_from_the_shelf_before_bays():
    in_order = ["new", "old", "full", "charging", "long in bay", "waits"]
    assert issued_in_order(Issue.LEAST_CHARGED) == in_order
    in_order = ["old", "new", "full", "long in bay", "charging", "waits"]
    assert issued_in_order(Issue.LONGEST_ON_SHELF) == in_order


def test_any_usable_is_either_of_two_on_the_shelf_as_the_entry_s_mark_says():
    firsts = [issued_in_order(Issue.ANY_USABLE, mark)[0] for mark in range(1_000)]
    assert set(firsts) == {"old", "new"}
    # 1000 fair tosses are this far from 500 with a chance of 1 in 1,000; the marks are fixed
    assert abs(firsts.count("old") - 500) < 52


def test_from_where_a_battery_may_be_issued():
    """From the shelf; full in its bay; not full, or in the queue, only with a partial charge."""
    bay, queue = Use.BATTERIES_IN_BAY, Use.BATTERIES_WAITING_FOR_BAY
    assert may_be_taken(Use.BATTERIES_ON_SHELF, 0, 0)
    assert may_be_taken(bay, 1, 0) and may_be_taken(bay, 0, 1) and not may_be_taken(bay, 0, 0)
    assert may_be_taken(queue, 0, 1) and not may_be_taken(queue, 0, 0)
    assert not may_be_taken(Use.BATTERIES_IN_USE, 1, 1)
    assert not may_be_taken(Use.BATTERIES_AWAY, 1, 1)


def test_the_fullest_battery_is_issued_with_the_least_charge_and_while_more_than_those_kept_back():
    assert may_be_issued(10, 10, 0, 0) and not may_be_issued(9, 10, 5, 0)
    assert may_be_issued(10, 10, 3, 2) and not may_be_issued(10, 10, 2, 2)
    assert not may_be_issued(-1, 0, 0, 0)


def test_a_wearer_without_a_kit_is_busy_for_the_visit_unless_it_is_postponed():
    assert busy_after_giving_up(0, 120, 600, 90) == 810
    assert busy_after_giving_up(1, 120, 600, 90) == 0


def test_a_missing_hood_or_tube_is_on_order_or_not():
    assert part_cause(Missing.HOOD, 3) == Cause.HOOD_ON_ORDER
    assert part_cause(Missing.HOOD, 0) == Cause.NO_HOOD
    assert part_cause(Missing.TUBE, 1) == Cause.TUBE_ON_ORDER
    assert part_cause(Missing.TUBE, 0) == Cause.NO_TUBE


def test_what_is_missing_for_a_kit():
    """Two reserved for urgent entries: of three one is to take, of two none."""
    assert [kept_back(line, 3, 2) for line in (Line.URGENT, Line.SWAPS, Line.ROUTINE)] == [0, 3, 2]
    assert missing_parts(3, 3, 3, 2, False) == 0
    assert missing_parts(2, 3, 3, 2, False) == Missing.BLOWER
    assert missing_parts(1, 0, 0, 0, False) == Missing.HOOD | Missing.TUBE
    assert missing_parts(1, 0, 0, 0, True) == Missing.LARGE_HOOD | Missing.TUBE


def test_a_part_begins_to_lack_when_a_clean_blower_waits_for_it():
    hood, blower = int(Missing.HOOD), int(Missing.BLOWER)
    assert begins_to_lack(hood, hood, 0) and begins_to_lack(hood, hood, hood | blower)
    assert not begins_to_lack(hood, hood, hood)
    assert not begins_to_lack(hood, hood | blower, 0)
    assert not begins_to_lack(hood, Missing.TUBE, 0)


def test_what_follows_a_failed_check():
    """A new prefilter if there is one; with a new one it must be the HE filter."""
    follows = [after_failed_check(fresh, there) for fresh, there in ((0, 1), (0, 0), (1, 1))]
    assert follows == list(AfterFailedCheck)
    assert [repair_after_check(one) for one in follows[1:]] == [
        Repair.PREFILTER, Repair.HE_FILTER,
    ]  # fmt: skip


def test_who_keeps_the_kit_for_the_shift():
    """Held, not urgent, before the end of the shift, no repair, hood and tube on it."""
    good = (Keep.SHIFT, Keep.NOT, 0, 99, 100, 0, Repair.NOTHING, 1)
    assert kept_after_visit(*good) == Keep.SHIFT
    # one that was held before is kept whatever the policy is by now
    assert kept_after_visit(Keep.NOT, Keep.SHIFT, *good[2:]) == Keep.SHIFT
    assert kept_after_visit(Keep.ROUND, Keep.SHIFT, *good[2:]) == Keep.SHIFT
    for place, bad in ((0, Keep.NOT), (2, 1), (3, 100), (4, 99), (6, Repair.FAILURE), (7, 0)):
        assert kept_after_visit(*good[:place], bad, *good[place + 1 :]) == Keep.NOT


def test_who_keeps_the_kit_for_a_round():
    """While the round goes on, also past the end of the shift; not urgent, no repair, complete."""
    good = (Keep.ROUND, Keep.NOT, 0, 100, 100, 1, Repair.NOTHING, 1)
    assert kept_after_visit(*good) == Keep.ROUND
    assert kept_after_visit(Keep.NOT, Keep.ROUND, *good[2:]) == Keep.ROUND
    for place, bad in ((0, Keep.NOT), (2, 1), (5, 0), (6, Repair.FAILURE), (7, 0)):
        assert kept_after_visit(*good[:place], bad, *good[place + 1 :]) == Keep.NOT
    # held for the shift from now on, as far as that lasts
    assert kept_after_visit(Keep.SHIFT, Keep.ROUND, 0, 99, 100, *good[5:]) == Keep.SHIFT
    assert kept_after_visit(Keep.SHIFT, Keep.ROUND, *good[2:]) == Keep.ROUND


def test_until_when_a_kit_is_kept():
    """For a shift: until it ends; for a round: as long as that goes on."""
    assert still_kept(Keep.SHIFT, 99, 100, 0) and not still_kept(Keep.SHIFT, 100, 100, 1)
    assert still_kept(Keep.ROUND, 200, 100, 1) and not still_kept(Keep.ROUND, 99, 100, 0)


def test_parts_follow_the_kits_that_are_away_as_far_as_they_are_ready():
    """Five kits away and two hoods: three more go, or the one that is ready; all come back."""
    assert [parts_that_follow(5, 2, ready) for ready in (4, 1)] == [3, 1]
    assert [parts_that_follow(0, 2, 7), parts_that_follow(2, 2, 7)] == [-2, 0]


def test_urgent_then_swaps_then_the_others_who_wait_for_both_lines():
    lines = [served_next(*waiting, -1) for waiting in ((1, 1, 1), (0, 1, 1), (0, 0, 1), (0, 0, 0))]
    assert lines == list(Line)
    assert served_next(1, 1, 1, Line.URGENT) == Line.SWAPS
    assert served_next(1, 0, 1, Line.URGENT) == Line.NOBODY
    assert served_next(0, 1, 1, Line.SWAPS) == Line.NOBODY
    assert served_next(0, 0, 1, Line.SWAPS) == Line.ROUTINE
    assert served_next(0, 0, 1, Line.ROUTINE) == Line.NOBODY


def test_who_joins_which_line():
    """Also an urgent entry whose wearer holds a kit takes one from the shelf."""
    assert [line_to_join(*one) for one in ((1, 0), (1, 1), (0, 1), (0, 0))] == [
        Line.URGENT, Line.URGENT, Line.SWAPS, Line.ROUTINE,
    ]  # fmt: skip


def test_the_level_for_which_the_first_in_line_lacks_a_battery():
    """Swap at level 2, blower on the shelf at level 0: urgent before swap before the others."""
    assert [level_wanted(8, *one) for one in ((1, 2, 0), (0, 2, 0), (0, -1, 0))] == [0, 2, 0]
    assert level_wanted(8, 0, 0, 1) == 0
    assert level_wanted(0, 1, 2, 0) == -1


def test_hoods_and_tubes_are_spare_beyond_one_for_each_kit():
    assert [spare_parts(one, 7, 5) for one in (HOODS, TUBES, PREFILTERS)] == [2, 2, 7]


def test_late_is_who_was_not_served_or_later_than_the_target():
    assert [is_late(1, 300, 300), is_late(1, 301, 300), is_late(0, 0, 300)] == [False, True, True]


def test_an_endless_part_or_a_spare_one_is_in_stock():
    assert in_stock(1, 0) and in_stock(0, 1) and not in_stock(0, 0)


def test_a_blower_that_will_fail_its_check_counts_as_one_of_the_highest_level():
    assert [level_or_highest(level, 2) for level in (0, 1, 2)] == [0, 1, 1]


def test_how_a_visit_goes():
    """5 to don, 20 in the room, 3 to doff, checks of 1 after 10 and 20: 30 in all.

    An alarm at 15 comes after one of them and 9 in the room.
    """
    assert wear(5, 20, 3, 1, 10, 10, 999, 999, 27, 999) == (Alarm.NONE, 30, 0, 2)
    assert wear(5, 20, 3, 1, 10, 10, 15, 999, 999, 999) == (Alarm.BATTERY, 18, 11, 1)


def test_a_blower_that_ran_to_its_fault_needs_a_repair():
    assert repair_after_wear(Repair.NOTHING, 100, 100) == Repair.FAILURE
    assert repair_after_wear(Repair.HE_FILTER, 99, 100) == Repair.HE_FILTER


@pytest.mark.parametrize(
    ("now", "work", "weekend", "end"),
    [(9, 7, 0, 16), (15, 2, 0, 24 + 9), (6, 1, 0, 9), (4 * 24 + 15, 2, 0, 7 * 24 + 9),
     (4 * 24 + 15, 2, 1, 5 * 24 + 9), (20, 8, 0, 24 + 16)],
)  # fmt: skip
def test_work_goes_on_in_working_hours_only(now: int, work: int, weekend: int, end: int):
    """Hours 8 to 16; second 0 is a Monday's midnight; day 4 is a Friday. All in hours."""
    hour = 3_600
    found = working_end(now * hour, work * hour, 0, 0, 8 * hour, 16 * hour, weekend)
    assert found == end * hour


def test_work_ends_in_the_last_second_of_the_hours_and_none_begins_at_their_end():
    """Hours 8 to 16. A second of work is done a second before 16; of no time, next morning."""
    hour = 3_600
    ends = [
        working_end(16 * hour - left, work, 0, 0, 8 * hour, 16 * hour, 0)
        for left, work in ((1, 1), (1, 2), (0, 0), (1, 0))
    ]
    assert ends == [16 * hour, 32 * hour + 1, 32 * hour, 16 * hour - 1]
