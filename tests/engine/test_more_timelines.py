"""More timelines worked out on paper, in both engines: fleet, stock, crew, maximum_wait.

All times are in minutes.
"""

from __future__ import annotations

from typing import Any

import pytest

from surge_sim.engine.log import Alarm, Count, Missing, Outcome, RunLog
from surge_sim.equipment.causes import Cause
from tests.engine.conftest import Player
from tests.engine.test_timelines import FILTERS, waits
from tests.engine.tiny import MINUTE, settings, tiny_trace


@pytest.mark.parametrize(("below", "wait", "charges"), [("100 %", 44, 2), ("60 %", 0, 0)])
def test_topping_up_takes_a_battery_away_that_a_threshold_leaves(
    played: Player, below: str, wait: float, charges: int
):
    """Worn 0-60, 1/8 of the charge is gone, above 80 %: 45 min in the bay, until 105.

    Topped up after every use, and taken only when full: the entry at 61 waits 44. Charged below
    60 % only: it takes the battery with 7/8 at once.
    """
    changed = settings(charging={"partial_charge_at_reissue": "no", "charge_below": below})
    log = played(tiny_trace(changed, need=[0, 61], room=[60, 5]), kits=2, batteries=1, bays=1)
    assert waits(log) == [0, wait]
    assert log.counts[Count.CHARGES] == charges


def test_below_the_threshold_a_battery_is_charged(played: Player):
    """Worn 200 of 480: 58.3 % are left, below 60 %."""
    changed = settings(charging={"charge_below": "60 %"})
    log = played(tiny_trace(changed, need=[0], room=200))
    assert log.counts[Count.CHARGES] == 1


@pytest.mark.parametrize(
    "fleet",
    [{"state_of_health": "50 %"}, {"state_of_health": ["50 %", "50 %"]},
     {"age": {"ages": ["1826.25 d"], "fade_per_year": "10 %"}}],
)  # fmt: skip
def test_health_is_a_number_a_list_or_comes_of_age(played: Player, fleet: dict[str, Any]):
    """Five years at 10 % a year leave half: 8 h become 4 h, and a reserve of 15 rings at 225."""
    changed = settings(batteries={"low_battery_alarm": "15 min", **fleet})
    log = played(tiny_trace(changed, need=[0], room=230), batteries=1)
    assert log.alarm[0] == Alarm.BATTERY
    assert log.worn_s[0] == 225 * MINUTE


def test_a_list_of_healths_is_repeated_over_the_fleet(played: Player):
    """Batteries 0 and 2 hold half, 1 and 3 all: the fullest go first, 1 and 3, then 0 and 2."""
    changed = settings(batteries={"state_of_health": ["50 %", "100 %"]})
    log = played(tiny_trace(changed, need=[0, 1, 2, 3], room=30), kits=4, batteries=4, bays=0)
    assert log.battery.tolist() == [1, 3, 0, 2]


def test_a_run_of_bad_he_filters_spares_the_prefilters(played: Player):
    """The HE filter fitted at 225 lasts 30 of 60: alarm at 255.

    Spent at 50: at 100 a prefilter (5) does not help, out at 105 for 2 h. Again at 255: 260, then
    out until 380, after the bad run: the rest of 30 waits from 255 to 380.
    """
    bad = {"what": "defective filter lot", "at": "90 min", "lasts": "240 min", "life": "50 %",
           "filters": "HE filters"}  # fmt: skip
    changed = settings(start="2031-01-06 08:00", filters=FILTERS, timeline=[bad])
    trace = tiny_trace(
        changed, need=[0, 100], room=[50, 60], prefilter_life=[500], he_life=[50, 60, 900]
    )
    log = played(trace)
    assert (log.worn_s / MINUTE).tolist() == [50, 30, 30]
    assert waits(log) == [0, 125, 125]


def test_he_filters_are_ordered_at_the_reorder_point_and_come_after_the_lead_time(
    played: Player,
):
    """One spare, used at 105, which orders another for minute 1545; the next is needed at 405.

    Monday 08:00 + 1545 is Tuesday 09:45: two hours of work until 1665. The entry at 400 waits 1265.
    """
    supplies = {
        "he_filters": {
            "spare": "1",
            "reorder_point": "0",
            "order_quantity": "1",
            "lead_time": "1 d",
        }
    }
    changed = settings(start="2031-01-06 08:00", filters=FILTERS, supplies=supplies)
    trace = tiny_trace(
        changed, need=[0, 100, 400], room=[50, 50, 10], prefilter_life=[5_000],
        he_life=[50, 50, 900],
    )  # fmt: skip
    log = played(trace)
    assert waits(log) == [0, 125, 1265]
    assert log.counts[Count.STOCK_OUTS_HE_FILTERS] == 1
    assert log.counts[Count.HE_FILTERS_USED] == 2


def test_of_two_kits_that_need_the_only_he_filter_in_one_second_one_is_a_stock_out(played: Player):
    """Both filters are spent by the visits until 60, and both checks at 200 fail."""
    changed = settings(filters=FILTERS, supplies={"he_filters": {"spare": "1"}})
    trace = tiny_trace(
        changed, need=[0, 0, 200, 200], room=[60, 60, 10, 10], prefilter_life=[900],
        he_life=[60, 900],
    )  # fmt: skip
    assert played(trace, kits=2).counts[Count.STOCK_OUTS_HE_FILTERS] == 1


@pytest.mark.parametrize("days", [0, 1])
def test_a_shelf_that_begins_at_its_reorder_point_is_ordered_for_at_once(played: Player, days: int):
    """No prefilter at first: one is ordered for 240. The check at 100 fails; fitted until 245.

    In a day of run-in, in which nothing runs out, nothing is ordered.
    """
    supplies = {
        "prefilters": {
            "spare": "0", "reorder_point": "0", "order_quantity": "1", "lead_time": "4 h",
        }
    }  # fmt: skip
    run_in = {"run_in": "1 d"} if days else {}
    before = tiny_trace(settings(run_out="0 h"), need=[], room=[]) if days else None
    trace = tiny_trace(
        settings(filters=FILTERS, supplies=supplies, **run_in), need=[0, 100], room=[60, 10],
        prefilter_life=[60], he_life=[900], before=before,
    )  # fmt: skip
    assert waits(played(trace)) == [0, 145]


def test_a_torn_tube_is_ordered_again(played: Player):
    """One spare: the tear at 10 orders one for 70; after the tear at 20 the entry at 25 waits."""
    supplies = {
        "tubes": {"spare": "1", "reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    }
    trace = tiny_trace(settings(supplies=supplies), need=[0, 10, 25], room=[10, 10, 5])
    trace.tube_torn[:2] = True
    log = played(trace)
    assert waits(log) == [0, 0, 45]
    assert log.missing_mask.tolist() == [Missing.TUBE, 0]
    assert log.counts[Count.TUBES_USED] == 2
    assert log.counts[Count.STOCK_OUTS_TUBES] == 1


def test_single_use_hoods_are_ordered_in_lots(played: Player):
    """One spare, lots of 2 that come after 60.

    The use that ends at 10 leaves no spare beyond the kit's own hood and orders two for 70. The
    one that ends at 30 takes the last hood, but two are on order. The entry at 40 waits until 70;
    its use ends at 80 with no spare again, which orders two for 140. The entry at 80 takes the last
    one, and the entry at 100 waits until 140.
    """
    supplies = {
        "hoods": {"spare": "1", "reorder_point": "0", "order_quantity": "2", "lead_time": "1 h"}
    }
    changed = settings(kit={"single_use_hoods": "yes"}, supplies=supplies)
    log = played(tiny_trace(changed, need=[0, 20, 40, 80, 100], room=10))
    assert waits(log) == [0, 0, 30, 0, 40]


def test_one_of_two_cleaners_is_absent(played: Player):
    """Kits off at 10 and 10, wipe-down of 15: clean at 25 and 40 instead of 25 and 25."""
    crew = {"by": "crew", "crew": [{"start": "07:00", "end": "19:00", "cleaners": "2"}]}
    absent = {"what": "cleaning crew absent", "at": "0 min", "lasts": "2 h", "cleaners": "1"}
    for events, last in (([], 13), ([absent], 28)):
        changed = settings(start="2031-01-06 08:00", cleaning=crew, timeline=events)
        trace = tiny_trace(changed, need=[0, 0, 11, 12], room=[10, 10, 5, 5], wipe=[15])
        assert waits(played(trace, kits=2)) == [0, 0, 14, last]


def test_a_central_round_without_cleaners_does_not_take_place(played: Player):
    """Rounds at 08:00, 12:00, 16:00, turnaround 3 h, second 0 is 07:00; the kit is used until 30.

    Collected at 60 it is back with the round at 300; if nobody comes at 60, collected at 300 it is
    back at 540. The entry at 40 waits 260 or 500.
    """
    central = {"by": "central", "rounds": ["08:00", "12:00", "16:00"], "turnaround": "3 h"}
    absent = {"what": "cleaning crew absent", "at": "0 min", "lasts": "2 h"}
    for events, wait in (([], 260), ([absent], 500)):
        changed = settings(start="2031-01-06 07:00", cleaning=central, timeline=events)
        assert waits(played(tiny_trace(changed, need=[0, 40], room=[30, 5]))) == [0, wait]


@pytest.mark.parametrize(
    ("absent_from", "absent_for", "waits_for"),
    [(61, "1 h", 260), (61, "4 h", 560), (61, "120 h", None), (0, "120 h", None)],
)
def test_what_a_central_round_took_stays_away_while_no_round_brings_it_back(
    played: Player, absent_from: int, absent_for: str, waits_for: int | None
):
    """Rounds at 08:00, 12:00 and 17:00, back with the first round at least 3 h later; 07:00 is 0.

    Used 0-30 and collected at 60, the kit is back at 300, and the entry at 40 waits 260. Without
    cleaners from 61 for 4 h the round of 12:00 is missed: back at 600. Without them for days it
    never comes back; nor is it collected when they are absent from the start.
    """
    central = {"by": "central", "rounds": ["08:00", "12:00", "17:00"], "turnaround": "3 h"}
    absent = {"what": "cleaning crew absent", "at": f"{absent_from} min", "lasts": absent_for}
    changed = settings(
        start="2031-01-06 07:00", horizon="12 h", run_out="24 h", cleaning=central,
        timeline=[absent],
    )  # fmt: skip
    log = played(tiny_trace(changed, need=[0, 40], room=[30, 5]))
    if waits_for is None:
        assert log.outcome.tolist() == [Outcome.SERVED, Outcome.WAITING_AT_END]
        waits_for = 36 * 60 - 40
    assert waits(log) == [0, waits_for]


def test_reserved_kits_include_their_batteries(played: Player):
    """Three kits, two batteries, one complete kit kept: the routine entry at 1 waits until 20."""
    changed = settings(policy={"reserved_for_urgent": "1"})
    trace = tiny_trace(changed, need=[0, 1, 2], room=[20, 5, 5], urgent=[False, False, True])
    assert waits(played(trace, kits=3, batteries=2, bays=0)) == [0, 19, 0]


@pytest.mark.parametrize(
    ("after_maximum_wait", "second"), [("leaves the queue", 51), ("postponed", 25)]
)  # fmt: skip
def test_a_visit_done_with_other_protection_keeps_its_wearer_busy(
    played: Player, after_maximum_wait: str, second: float
):
    """The only kit is out until 60; the wearer's visit at 5 gives up at 21 and takes 30.

    With leaves the queue the wearer is busy until 51, and the visit due at 25 becomes a need then;
    a postponed visit leaves its wearer free at once.
    """
    changed = settings(policy={"after_maximum_wait": after_maximum_wait, "postponed_by": "60 min"})
    trace = tiny_trace(
        changed, need=[0, 5, 25], room=[60, 30, 5], wearer=[-1, 0, 0], maximum_wait=16
    )
    log = played(trace)
    assert (log.need_s[:3] / MINUTE).tolist() == [0, 5, second]
    assert log.outcome[1] == Outcome.RENEGED


def test_a_wearer_who_leaves_the_line_keeps_the_held_kit_without_its_battery(played: Player):
    """The only battery has 20 of its least 30 left at 460, and there is no bay.

    The wearer holds the kit, waits for a battery from 465 on, leaves the line at 475 and is busy
    for the 40 of that visit: the visit due at 480 becomes a request at 515, for a battery again.
    """
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "0 min"})
    trace = tiny_trace(
        changed, need=[0, 465, 480], room=[460, 40, 5], wearer=[0, 0, 0], shift_end=[900],
        maximum_wait=10,
    )  # fmt: skip
    log = played(trace, kits=2, batteries=1, bays=0)
    assert (log.need_s / MINUTE).tolist() == [0, 465, 515]
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.RENEGED, Outcome.RENEGED]
    assert log.waited_s[2, Cause.BATTERY_WAITING_FOR_BAY] == 10 * MINUTE


def test_a_postponed_visit_is_late_and_waits_anew_from_its_new_moment(played: Player):
    """Leaves the line at 15, comes again at 75 and takes the kit at once: late all the same.

    Postponed by the timeline from 5 to 65, it waits for nothing and is not late.
    """
    kept = settings(policy={"after_maximum_wait": "postponed", "postponed_by": "60 min"})
    log = played(tiny_trace(kept, need=[0, 5], room=[30, 5], maximum_wait=10))
    assert (log.wait_s / MINUTE).tolist() == [0, 10, 0]
    assert (log.need_s / MINUTE).tolist() == [0, 5, 75]
    assert late_entries(log, kept.target.wait) == {1}
    later = {"what": "routine entries postponed", "by": "60 min", "at": "2 min", "lasts": "1 h"}
    moved = settings(timeline=[later])
    log = played(tiny_trace(moved, need=[0, 5], room=[30, 5], maximum_wait=10))
    assert (log.need_s / MINUTE).tolist() == [0, 65]
    assert late_entries(log, moved.target.wait) == set()


def late_entries(log: RunLog, target_s: int) -> set[int]:
    """Entries with a request that was not served within the target's wait."""
    late = (log.wait_s > target_s) | (log.outcome != Outcome.SERVED)
    return set(log.entry[late].tolist())


@pytest.mark.parametrize(("policy", "wait"), [("per entry", 0), ("held for a shift", 100)])
def test_a_kit_per_entry_is_there_for_others(played: Player, policy: str, wait: float):
    """Per entry, the wearer's kit is clean at 30 for another's entry; held, it comes at 130."""
    changed = settings(policy={"kit": policy, "wipe_between_visits": "2 min"})
    trace = tiny_trace(
        changed, need=[0, 30], room=[20, 5], wipe=[10], wearer=[0, -1], shift_end=[120]
    )
    assert waits(played(trace)) == [0, wait]


def test_a_kit_in_use_is_no_stock_out_of_hoods_and_tubes(played: Player):
    """All kits are worn when the second entry comes: it waits for a kit, hood and all."""
    log = played(tiny_trace(settings(), need=[0, 5], room=[30, 5]), kits=1, batteries=2)
    assert log.missing_mask.tolist() == [Missing.BLOWER | Missing.HOOD | Missing.TUBE, 0]
    assert log.counts[Count.STOCK_OUTS_HOODS] == log.counts[Count.STOCK_OUTS_TUBES] == 0


def test_a_hood_is_missed_once_a_blower_stands_ready_for_it(played: Player):
    """The only hood is torn at 30: from then on the blower alone is there.

    It waits until 60, for the hood that was ordered at 0, as none is spare.
    """
    supplies = {
        "hoods": {"spare": "0", "reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    }
    trace = tiny_trace(settings(supplies=supplies), need=[0, 5], room=[30, 5], hood_torn=[0])
    log = played(trace, kits=1, batteries=2)
    assert waits(log) == [0, 55]
    assert log.missing_mask.tolist()[-2:] == [Missing.HOOD, 0]
    assert log.counts[Count.STOCK_OUTS_HOODS] == 1
