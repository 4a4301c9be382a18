"""The rules of the equipment, worked out by hand; numbers are invented."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.equipment.batteries import FULL, charge_after_wear, least_charge, wants_charging
from surge_sim.equipment.calendar import round_after, value_at, working_end
from surge_sim.equipment.chargers import (
    charge_in_bay,
    charge_on_curve,
    next_round,
    powered_end,
    powered_seconds,
    second_on_curve,
    seconds_to_charge,
)
from surge_sim.equipment.filters import fitted_life, lowest_level, seconds_to_flow_loss
from surge_sim.equipment.order import battery_rank, may_swap, may_take
from surge_sim.equipment.supplies import HOODS, TUBES, delivery_s, order_size
from surge_sim.equipment.wear import (
    BATTERY_ALARM,
    FAULT_ALARM,
    FLOW_ALARM,
    NO_ALARM,
    first_alarm,
    recheck_count,
    rest_of_visit,
)

#: holds 1000 after 1000 s: 800 after 600 s, the other 200 after 400 s more
CURVE = (1_000, 800, 600, 1_000)


def whole(*values: int) -> np.ndarray:
    return np.array(values, dtype=np.int64)


def test_the_curve_is_quick_up_to_the_knee_and_slow_above_it():
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


def test_a_power_cut_takes_its_seconds_from_the_charge():
    """Cuts 20-50 and 80-90: from 0 to 100 are 60 s of power; 70 s of power end at 110."""
    cuts = whole(20, 80), whole(50, 90)
    assert powered_seconds(0, 100, *cuts) == 60
    assert powered_seconds(30, 85, *cuts) == 30
    assert powered_end(0, 70, *cuts) == 110
    assert powered_end(30, 10, *cuts) == 60
    assert powered_end(0, 20, *cuts) == 20


def test_a_round_in_this_second_is_still_in_time():
    assert [next_round(now, 100) for now in (0, 1, 100, 101)] == [0, 100, 100, 200]
    rounds = whole(100, 200, 300)
    assert [round_after(now, rounds) for now in (0, 100, 101, 300, 301)] == [0, 0, 1, 2, 3]


def test_a_battery_is_charged_below_the_threshold_or_when_no_use_is_left_in_it():
    """Threshold 60 % of 1,000; the least for any use is 100, or 700 where levels are thirsty."""
    answers = {charge: wants_charging(charge, 1_000, 600_000, 100) for charge in (99, 599, 600)}
    assert answers == {99: True, 599: True, 600: False}
    assert wants_charging(650, 1_000, 600_000, 700)
    assert wants_charging(999, 1_000, 1_000_000, 100)


def test_drain_and_least_charge_are_shares_of_the_run_time():
    """Of 8 h of run time 2 h are a quarter; 30 min are a sixteenth, rounded up to suffice."""
    assert charge_after_wear(FULL, 7_200, 28_800) == FULL * 3 // 4
    assert charge_after_wear(FULL // 8, 7_200, 28_800) == 0
    assert least_charge(28_800, 1_800) == FULL // 16
    assert least_charge(28_800, 1) * 28_800 >= FULL


def test_the_lowest_level_at_which_both_filters_pass():
    """Lives of 100 and 300; the second level buys half as much again, the third twice that."""
    shares = whole(1_000_000, 1_500_000, 2_000_000)
    cases = {(99, 299): 0, (100, 0): 1, (0, 300): 1, (149, 449): 1, (150, 0): 2, (200, 0): 3}
    found = {runs: lowest_level(runs[0], 100, runs[1], 300, shares) for runs in cases}
    assert found == cases
    assert seconds_to_flow_loss(60, 100, 100, 300, 0, shares) == 40
    assert seconds_to_flow_loss(60, 100, 290, 300, 0, shares) == 10


def test_a_filter_fitted_in_a_run_of_bad_ones_has_a_share_of_its_life():
    bad = whole(100), whole(200), whole(300_000)
    assert [fitted_life(1_000, now, *bad) for now in (99, 100, 199, 200)] == [
        1_000, 300, 300, 1_000,
    ]  # fmt: skip


def test_an_alarm_counts_only_inside_the_visit_and_ties_have_an_order():
    """A visit of 100: an alarm due at its very end is none."""
    assert first_alarm(100, 200, 300, 100) == NO_ALARM
    assert first_alarm(99, 200, 300, 100) == BATTERY_ALARM
    assert first_alarm(99, 99, 300, 100) == FLOW_ALARM
    assert first_alarm(99, 99, 99, 100) == FAULT_ALARM


def test_the_rest_of_a_visit_is_the_room_time_not_yet_done():
    """Don 10, room 50: an alarm at 25 leaves 35; one while donning leaves all of it.

    With a recheck of 5 inside, planned 65, an alarm at 62 leaves 3.
    """
    assert rest_of_visit(10, 50, 60, 25) == 35
    assert rest_of_visit(10, 50, 60, 4) == 50
    assert rest_of_visit(10, 50, 65, 62) == 3


def test_rechecks_come_while_the_kit_is_worn_not_at_the_end():
    """First after 240, then every 120: a wear of exactly 240 or 360 has none at its end."""
    wears = (240, 241, 360, 361, 480, 481)
    assert [recheck_count(wear, 240, 120) for wear in wears] == [0, 1, 1, 2, 2, 3]
    assert recheck_count(10_000, 0, 120) == 0


def test_whole_lots_are_ordered_until_the_spares_exceed_the_reorder_point():
    """Reorder at 3 in lots of 2: with 3 left one lot, with none two lots; with 4 nothing."""
    assert [order_size(left, 3, 2) for left in (4, 3, 2, 1, 0)] == [0, 2, 2, 4, 4]
    assert order_size(0, -1, 2) == 0


def test_a_missed_delivery_comes_at_the_end_and_only_of_the_supply_that_is_missed():
    """No hoods come from 100 to 200, nothing at all from 200 to 300."""
    missed = whole(100, 200), whole(200, 300), whole(HOODS, -1)
    assert [delivery_s(due, HOODS, *missed) for due in (99, 100, 199, 300)] == [99, 300, 300, 300]
    assert [delivery_s(due, TUBES, *missed) for due in (100, 199, 200)] == [100, 199, 300]


def test_the_fullest_battery_then_the_one_that_blocks_no_bay():
    assert battery_rank(11, False) > battery_rank(10, True) > battery_rank(10, False)


def test_what_is_kept_back_for_urgent_entries():
    """Two reserved of three leave one to take; as many batteries as urgent ones wait are theirs."""
    assert may_take(3, 2) and not may_take(2, 2)
    assert may_swap(3, 2) and not may_swap(2, 2)


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


def test_a_step_holds_from_its_second_on():
    steps = whole(0, 10, 20), whole(5, 6, 7)
    assert [value_at(now, *steps) for now in (0, 9, 10, 19, 20, 99)] == [5, 5, 6, 6, 7, 7]
