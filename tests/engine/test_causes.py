"""What each wait is put down to: timelines worked out on paper, in both engines, in minutes.

The rule of the turns: each second of waiting belongs to one of the things that are missing, one
after the other, so that things in different places share a wait evenly.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from surge_sim.engine.log import Outcome, RunLog
from surge_sim.equipment.causes import CAUSES, Cause, battery_cause, share_out, turns
from surge_sim.equipment.stock import Use
from surge_sim.units import NEVER_S
from tests.engine.conftest import Player
from tests.engine.test_timelines import FILTERS, waits
from tests.engine.tiny import MINUTE, settings, tiny_trace

C = Cause


def minutes_of(log: RunLog, row: int) -> dict[Cause, float]:
    """Minutes that one need waited, by cause."""
    return {Cause(c): s / 60 for c, s in enumerate(log.waited_s[row].tolist()) if s}


def event(what: str, at: int, lasts: int, **more: str) -> dict[str, Any]:
    return {"what": what, "at": f"{at} min", "lasts": f"{lasts} min", **more}


# --- kits ----------------------------------------------------------------------------------


def test_the_only_kit_is_in_use_waits_for_a_cleaner_is_wiped_and_dries(played: Player):
    """Worn 0-20, a cleaner comes at 60 and wipes until 75, wet and dry until 90.

    Who comes at 10 waits 10 for the kit in use, 40 for the cleaner, 15 and 15.
    """
    cleaning = {
        "by": "crew", "contact_time": "5 min", "drying_time": "10 min",
        "crew": [{"start": "01:00", "end": "02:00", "cleaners": "1"}],
    }  # fmt: skip
    log = played(tiny_trace(settings(cleaning=cleaning), need=[0, 10], room=[20, 5], wipe=[15]))
    assert waits(log) == [0, 80]
    assert minutes_of(log, 1) == {
        C.KIT_IN_USE: 10, C.KIT_WAITING_FOR_WIPE: 40, C.KIT_IN_WIPE_DOWN: 15, C.KIT_DRYING: 15,
    }  # fmt: skip


def test_a_kit_that_waits_for_its_round_waits_for_a_wipe_down(played: Player):
    """Collected at 60, back with the round at 120."""
    cleaning = {"by": "central", "rounds": ["01:00", "02:00"], "turnaround": "30 min"}
    log = played(tiny_trace(settings(cleaning=cleaning), need=[0, 20], room=[20, 5]))
    assert minutes_of(log, 1) == {C.KIT_WAITING_FOR_WIPE: 40, C.KIT_IN_WIPE_DOWN: 60}


def test_kits_in_different_places_share_the_wait_evenly(played: Player):
    """Kit 0 is worn 0-20 and wiped until 35, kit 1 is worn 0-60.

    Of the wait 10-35 of the third the first ten minutes are for kits in use; the other 15, 900 s,
    are for one in use and one in wipe-down: 450 s each. The fourth, 11-60, shares the seconds of
    the third while both wait: 9 and 15; from 35 on kit 0 is in use by the third, who wears it until
    60: 25 minutes for two kits in use.
    """
    trace = tiny_trace(settings(), need=[0, 0, 10, 11], room=[20, 60, 25, 5], wipe=[15, 0])
    log = played(trace, kits=2)
    assert waits(log) == [0, 0, 25, 49]
    assert minutes_of(log, 2) == {C.KIT_IN_USE: 17.5, C.KIT_IN_WIPE_DOWN: 7.5}
    assert minutes_of(log, 3) == {C.KIT_IN_USE: 9 + 7.5 + 25, C.KIT_IN_WIPE_DOWN: 7.5}


def test_a_kit_that_its_wearer_keeps_for_the_shift_is_held_between_visits(played: Player):
    """Visits 0-10 and 40-50, shift until 60: who comes at 5 waits 5 + 10 in use, 30 + 10 held."""
    changed = settings(policy={"kit": "held for a shift", "wipe_between_visits": "2 min"})
    trace = tiny_trace(
        changed, need=[0, 5, 40], room=[10, 5, 10], wearer=[0, -1, 0], shift_end=[60]
    )
    log = played(trace)
    assert waits(log) == [0, 55, 0]
    assert minutes_of(log, 1) == {C.KIT_IN_USE: 15, C.KIT_HELD: 40}


def test_a_kit_whose_wearer_gave_up_waiting_for_a_battery_is_held_still(played: Player):
    """The visit at 240 would need the battery, full at 285, but gives up at 250 and keeps the kit.

    The other wearer waits from 300 until the end of that shift, at 600.
    """
    changed = settings(
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
        charging={"partial_charge_at_reissue": "no"},
        batteries={"minimum_run_time": "5 h", "charge_time": "80 min"},
    )
    trace = tiny_trace(
        changed, need=[0, 240, 300], room=[200, 5, 5], wearer=[0, 0, 1], shift_end=[600, 900]
    )
    trace = replace(trace, maximum_wait_s=np.array([NEVER_S, 10 * MINUTE, NEVER_S]))
    log = played(trace, batteries=1, bays=1)
    assert waits(log) == [0, 10, 300]
    assert minutes_of(log, 2) == {C.KIT_HELD: 300}


def test_a_kit_out_waits_for_a_prefilter_until_there_is_one(played: Player):
    """The only spare is fitted at 100 and one ordered, there at 220; spent again at 160.

    The check at 170 fails: the kit is out without a prefilter until 220 and gets it until 225.
    """
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
    assert minutes_of(log, 2) == {C.KIT_LACKS_PREFILTER: 50, C.KIT_GETTING_FILTER: 5}


def test_a_kit_out_waits_for_an_he_filter_or_gets_one(played: Player):
    """HE filter spent at 50. At 100 a prefilter does not help: out at 105, with 2 h of work.

    With one in stock it is back at 225. With none, and none ever ordered, it stays out: 48 h are
    2880 minutes. The five minutes in which the prefilter was tried are the failed check's.
    """
    lives = {"prefilter_life": [500], "he_life": [50, 500]}
    changed = settings(start="2031-01-06 08:00", filters=FILTERS)
    log = played(tiny_trace(changed, need=[0, 100], room=[50, 10], **lives))
    assert waits(log) == [0, 125]
    assert minutes_of(log, 1) == {C.KIT_GETTING_FILTER: 120}
    none = settings(filters=FILTERS, supplies={"he_filters": {"spare": "0"}})
    log = played(tiny_trace(none, need=[0, 100], room=[50, 10], **lives))
    assert minutes_of(log, 1) == {C.KIT_LACKS_HE_FILTER: 2880 - 105}


def test_a_broken_blower_is_in_repair_after_its_wipe_down(played: Player):
    changed = settings(failures={"blower_run_between_failures": "30 min", "repair_time": "3 h"})
    trace = tiny_trace(changed, need=[0], room=50, wipe=[10], failure_run=[30, 900], repair=[180])
    assert minutes_of(played(trace), 1) == {C.KIT_IN_WIPE_DOWN: 10, C.KIT_IN_REPAIR: 180}


def test_withdrawn_kits_are_away_with_their_batteries(played: Player):
    """One of two kits, and a battery with it, are withdrawn 0-60; the others are worn 0-30.

    From 10 to 30 kits and batteries are missing: 20 minutes in four even parts.
    """
    changed = settings(timeline=[event("kits recalled", 0, 60, kits="1")])
    log = played(tiny_trace(changed, need=[0, 10], room=[30, 5]), kits=2, batteries=2)
    assert minutes_of(log, 1) == {
        C.KIT_IN_USE: 5, C.KIT_AWAY: 5, C.BATTERY_IN_USE: 5, C.BATTERY_AWAY: 5
    }  # fmt: skip


def test_nobody_misses_kits_that_are_not_yet_on_loan_or_gone_back(played: Player):
    """The only kit is worn 0-50; one is lent 30-40, and the first one ready, at 50, goes back.

    Who comes at 10 waits for the kit in use alone, and takes the one on loan at 30, until 55. Who
    comes at 35 waits for two kits in use, from 50 on for one, and takes that at 55.
    """
    changed = settings(timeline=[event("kits on loan", 30, 10, kits="1")])
    log = played(tiny_trace(changed, need=[0, 10, 35], room=[50, 25, 5]), batteries=9)
    assert waits(log) == [0, 20, 20]
    assert [minutes_of(log, row) for row in (1, 2)] == [{C.KIT_IN_USE: 20}, {C.KIT_IN_USE: 20}]


def test_a_ready_kit_that_is_kept_for_urgent_entries_is_reserved(played: Player):
    """Of two kits one is worn 0-30, the other reserved: the routine entry waits for both evenly."""
    changed = settings(policy={"reserved_for_urgent": "1"})
    log = played(tiny_trace(changed, need=[0, 10], room=[30, 5]), kits=2)
    assert minutes_of(log, 1) == {C.KIT_IN_USE: 10, C.KIT_RESERVED: 10}


def test_a_hood_counts_as_missing_only_while_a_blower_stands_ready(played: Player):
    """The hood is torn at 20; the kit is clean at 30 and waits for the hood that comes at 60.

    None is spare, so that one is ordered at 0. Who comes at 25 waits 5 for the kit in wipe-down,
    then 30 for the hood that is on order.
    """
    supplies = {
        "hoods": {"spare": "0", "reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    }
    changed = settings(supplies=supplies)
    trace = tiny_trace(changed, need=[0, 25], room=[20, 5], wipe=[10], hood_torn=[0])
    log = played(trace)
    assert minutes_of(log, 1) == {C.KIT_IN_WIPE_DOWN: 5, C.HOOD_ON_ORDER: 30}


@pytest.mark.parametrize(("part", "cause"), [("hoods", C.NO_HOOD), ("tubes", C.NO_TUBE)])
def test_a_part_that_nobody_ordered_is_used_up(played: Player, part: str, cause: Cause):
    """Torn at 20, none spare, none ordered: left waiting from 30 to the close at 2880."""
    trace = tiny_trace(
        settings(supplies={part: {"spare": "0"}}), need=[0, 30], room=[20, 5], hood_torn=[0]
    )
    if part == "tubes":
        trace.tube_torn.setflags(write=True)
        trace.tube_torn[0], trace.hood_torn[0] = True, False
    assert minutes_of(played(trace), 1) == {cause: 2850}


def test_a_tube_on_order_is_waited_for(played: Player):
    """Torn at 20; none is spare, so one was ordered at 0 and is there at 60."""
    supplies = {
        "tubes": {"spare": "0", "reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    }
    trace = tiny_trace(settings(supplies=supplies), need=[0, 30], room=[20, 5])
    trace.tube_torn[0] = True
    assert minutes_of(played(trace), 1) == {C.TUBE_ON_ORDER: 30}


# --- batteries -----------------------------------------------------------------------------

#: a full battery runs 100 min, so 90 min leave it a tenth: 13.5 min on the curve; three tenths,
#: the least for issue, are 40.5 min on it, so it takes 27 min in a bay to get there
LOW = {
    "kit": {"levels": [{"run_time": "100 min"}]},
    "batteries": {"charge_time": "3 h", "minimum_run_time": "30 min"},
}


def test_a_battery_is_in_use_then_charging_until_it_holds_the_minimum_run_time(played: Player):
    """Worn 0-90, charged enough at 117."""
    log = played(tiny_trace(settings(**LOW), need=[0, 80], room=[90, 5]), kits=2, batteries=1)
    assert minutes_of(log, 1) == {C.BATTERY_IN_USE: 10, C.BATTERY_CHARGING: 27}


def test_a_battery_that_holds_enough_is_kept_until_it_is_full_where_that_is_the_rule(
    played: Player,
):
    """Nothing happens at 117, when it holds the least run; from then on it is kept until full.

    From 13.5 min on the curve to its end at 180 it takes 166.5: 27 and 139.5.
    """
    changed = settings(**LOW, charging={"partial_charge_at_reissue": "no"})
    log = played(tiny_trace(changed, need=[0, 90], room=[90, 5]), kits=2, batteries=1)
    assert waits(log) == [0, 166.5]
    assert minutes_of(log, 1) == {C.BATTERY_CHARGING: 27, C.BATTERY_NOT_FULL: 139.5}


def test_a_battery_in_a_bay_without_power_does_not_charge(played: Player):
    """Power outage 100-130: 10 min of charging, 30 without power, 17 of charging."""
    changed = settings(**LOW, timeline=[event("power outage", 100, 30)])
    log = played(tiny_trace(changed, need=[0, 90], room=[90, 5]), kits=2, batteries=1)
    assert waits(log) == [0, 57]
    assert minutes_of(log, 1) == {C.BATTERY_CHARGING: 27, C.BATTERY_WITHOUT_POWER: 30}


def test_batteries_that_queue_for_the_only_bay_wait_for_it(played: Player):
    """Three batteries come back at 90, one bay: while one charges two wait, 27 min in thirds."""
    trace = tiny_trace(settings(**LOW), need=[0, 0, 0, 90], room=[90, 90, 90, 5])
    log = played(trace, kits=4, batteries=3, bays=1)
    assert minutes_of(log, 3) == {C.BATTERY_CHARGING: 9, C.BATTERY_WAITING_FOR_BAY: 18}


def test_a_battery_that_holds_too_little_even_when_full_is_too_weak(played: Player):
    """3 % of 8 h are 14.4 min, the least run is 30: nobody is ever served."""
    log = played(
        tiny_trace(settings(batteries={"state_of_health": "3 %"}), need=[0], room=5), batteries=1
    )
    assert minutes_of(log, 0) == {C.BATTERY_TOO_WEAK: 2880}


def test_ready_batteries_that_are_kept_for_urgent_entries_are_reserved(played: Player):
    """Three kits; of two batteries one is in use 0-30 and one is reserved."""
    changed = settings(policy={"reserved_for_urgent": "1"}, charging={"charge_below": "1 %"})
    log = played(tiny_trace(changed, need=[0, 10], room=[30, 5]), kits=3, batteries=2)
    assert minutes_of(log, 1) == {C.BATTERY_IN_USE: 10, C.BATTERY_RESERVED: 10}


def test_without_any_kit_or_battery_half_the_wait_is_for_each(played: Player):
    log = played(tiny_trace(settings(), need=[0], room=5), kits=0, batteries=0)
    assert minutes_of(log, 0) == {C.NO_KIT: 1440, C.NO_BATTERY: 1440}


# --- who waits for what --------------------------------------------------------------------


def swap_behind_urgent() -> Any:
    """Kit 0 is held by wearer 0, who wants another battery at 90; kit 1 is wiped 85-585.

    Battery 1 is in a bay from 85 on, with 15 % (20.25 min on the curve): it holds the least run at
    105.25. Battery 0 is in a bay from 90 on and holds it at 117. An urgent entry comes at 95.
    """
    changed = settings(**LOW, policy={"kit": "held for a shift", "wipe_between_visits": "0 min"})
    return tiny_trace(
        changed, need=[0, 0, 90, 95], room=[90, 85, 5, 5], wipe=[500], wearer=[0, -1, 0, -1],
        shift_end=[900], urgent=[False, False, False, True],
    )  # fmt: skip


def test_a_swap_is_made_when_a_battery_holds_enough_although_an_urgent_entry_lacks_a_kit(
    played: Player,
):
    """One of two stays back for the urgent entry, so the swap waits for the second, at 117.

    The urgent entry lacks a kit only by then; nothing else happens before 585.
    """
    log = played(swap_behind_urgent(), kits=2, batteries=2)
    assert waits(log)[2] == 27


def test_who_holds_a_kit_waits_for_a_battery_whatever_the_first_in_line_lacks(played: Player):
    """The swap: both batteries charge until 105.25, then one is reserved while the other charges.

    These are 915 s and 705 s; after 915 turns of two things it is the turn of the second, the one
    that is reserved, which so gets 353 of the 705. The urgent entry lacks kits (one in use, one in
    wipe-down) and batteries from 95 to 105.25, then kits only until 585.
    """
    log = played(swap_behind_urgent(), kits=2, batteries=2)
    assert minutes_of(log, 2) == {
        C.BATTERY_CHARGING: (915 + 352) / 60, C.BATTERY_RESERVED: 353 / 60
    }  # fmt: skip
    urgent = minutes_of(log, 3)
    assert sum(urgent.values()) == waits(log)[3]
    assert urgent[C.BATTERY_CHARGING] == pytest.approx(10.25 / 2, abs=1 / 60)
    assert set(urgent) == {
        C.BATTERY_CHARGING, C.KIT_IN_USE, C.KIT_IN_WIPE_DOWN, C.KIT_HELD
    }  # fmt: skip


def test_who_comes_back_from_a_failed_check_of_a_held_kit_stands_in_front(played: Player):
    """A held kit's prefilter is spent at 60, and none is in stock; kit 1 is worn 51-101.

    The wearer is due at 100 and in no line until the check has failed at 101; then first, before
    who came at 100.5. Both kits are in wipe-down then, and kit 1 is ready at 111: 10 minutes. The
    wearer holds it until 900, and the other one has it at 910, when it is wiped.
    """
    changed = settings(
        filters=FILTERS, supplies={"prefilters": {"spare": "0"}}, kit={"pre_use_check": "1 min"},
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
    )  # fmt: skip
    trace = tiny_trace(
        changed, need=[0, 50, 100, 100.5], room=[60, 50, 5, 5], wipe=[10], wearer=[0, -1, 0, -1],
        shift_end=[900], prefilter_life=[60], he_life=[900],
    )  # fmt: skip
    log = played(trace, kits=2)
    assert log.failed_checks.tolist() == [0, 0, 1, 0]
    assert waits(log) == [0, 0, 11, 809.5]
    assert minutes_of(log, 2) == {C.KIT_IN_WIPE_DOWN: 10}
    assert sum(minutes_of(log, 3).values()) == 809.5


def test_a_battery_lent_with_its_kit_is_away_only_if_it_is_the_units_own(played: Player):
    """One kit, two batteries in use 0-60 and away with a kit withdrawn 0-100; one lent 30-200.

    Who comes at 10 waits 10-30: the kit that is withdrawn and the battery with it are away, the
    others in use. From 30 on the lent kit is there.
    """
    events = [
        event("kits recalled", 0, 100, kits="1"), event("kits on loan", 30, 170, kits="1")
    ]  # fmt: skip
    log = played(
        tiny_trace(settings(timeline=events), need=[0, 10], room=[60, 5]), kits=2, batteries=2
    )
    assert waits(log) == [0, 20]
    assert minutes_of(log, 1) == {
        C.KIT_IN_USE: 5, C.KIT_AWAY: 5, C.BATTERY_IN_USE: 5, C.BATTERY_AWAY: 5
    }  # fmt: skip


def test_who_gives_up_has_waited_until_then(played: Player):
    log = played(tiny_trace(settings(), need=[0, 10], room=[60, 5], maximum_wait=15))
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.RENEGED]
    assert minutes_of(log, 1) == {C.KIT_IN_USE: 15}


# --- the rules -----------------------------------------------------------------------------


def test_things_take_turns_second_by_second():
    """Of three things the middle one has seconds 1, 4 and 7: of the first 5 seconds two."""
    assert [turns(seconds, 1, 1, 3) for seconds in range(9)] == [0, 0, 1, 1, 1, 2, 2, 2, 3]
    assert [turns(seconds, 1, 2, 3) for seconds in range(7)] == [0, 0, 1, 2, 2, 3, 4]


def shared(missing: dict[Cause, int], before_s: int, seconds: int) -> dict[Cause, int]:
    """Seconds put down to each cause."""
    causes = [missing.get(cause, 0) for cause in Cause] + [0] * CAUSES
    put_down = share_out(causes, 0, CAUSES, before_s, seconds)  # type: ignore[arg-type]
    found = {Cause(c): s for c, s in enumerate(causes[CAUSES:]) if s}
    assert put_down == sum(found.values())
    return found


def test_short_waits_go_round_all_things_too():
    """Waits of a second each, with one kit in use and two drying: each third one is in use."""
    three = {C.KIT_IN_USE: 1, C.KIT_DRYING: 2}
    found = [*map(list, (shared(three, before_s, 1) for before_s in range(5)))]
    assert found == [[C.KIT_IN_USE], [C.KIT_DRYING], [C.KIT_DRYING], [C.KIT_IN_USE], [C.KIT_DRYING]]


def test_kinds_have_even_parts_however_many_things_each_has():
    """A hood on order against 9 batteries charging and one in use: 100 s are 50, 45 and 5."""
    missing = {C.HOOD_ON_ORDER: 1, C.BATTERY_IN_USE: 1, C.BATTERY_CHARGING: 9}
    assert shared(missing, 0, 100) == {
        C.HOOD_ON_ORDER: 50, C.BATTERY_IN_USE: 5, C.BATTERY_CHARGING: 45
    }  # fmt: skip


def test_time_in_which_nobody_waits_is_put_down_to_nothing():
    assert shared({}, 7, 100) == {}


def test_a_battery_is_held_up_by_its_weakness_first_then_by_its_queue_then_by_the_power():
    """Charge, capacity, least; may be taken, waits for a bay, power."""
    bay, queue = Use.BATTERIES_IN_BAY, Use.BATTERIES_WAITING_FOR_BAY
    assert battery_cause(bay, 5, 5, 6, True, True) == C.BATTERY_TOO_WEAK
    assert battery_cause(queue, 6, 9, 6, True, True) == C.BATTERY_RESERVED
    assert battery_cause(queue, 6, 9, 6, False, False) == C.BATTERY_WAITING_FOR_BAY
    assert battery_cause(bay, 6, 9, 6, False, False) == C.BATTERY_WITHOUT_POWER
    assert battery_cause(bay, 6, 9, 6, False, True) == C.BATTERY_NOT_FULL
    assert battery_cause(bay, 5, 9, 6, True, True) == C.BATTERY_CHARGING
