"""Hoods of two sizes, which do not stand in for each other, worked out on paper in both engines.

Times in minutes. One large hood unless a test says otherwise; each kit comes with a usual one.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from surge_sim.engine.log import Count, Kind, Missing, Outcome, RunLog, Use, events_of
from surge_sim.engine.play import play
from surge_sim.engine.run_in import with_run_in
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import Stock
from tests.engine.conftest import Player
from tests.engine.tiny import MINUTE, HandMade, settings, tiny_trace


def one_large_hood(large: dict[str, str] | None = None, **changes: Any) -> Any:
    """Return settings with one large hood on the shelf."""
    return settings(supplies={"large_hoods": {"spare": "1"} | (large or {})}, **changes)


def waits(log: RunLog) -> list[float]:
    """Waits of all requests."""
    return (log.wait_s / MINUTE).tolist()


def test_a_large_hood_is_waited_for_while_kits_are_ready_and_others_pass(played: Player):
    """Entries 0, 1 and 3 need a large hood: it is on 0 until 10, on 1 until 20, then on 3.

    Entry 2 stands behind 1 and goes in at once. Waits of 9 and 17; all for the large hood, which
    begins to be short once.
    """
    trace = tiny_trace(one_large_hood(), need=[0, 1, 2, 3], room=10, large_hood=[0, 1, 3])
    log = played(trace, kits=4)
    assert waits(log) == [0, 9, 0, 17]
    assert log.waited_s.sum(axis=0)[Cause.NO_LARGE_HOOD] == 26 * MINUTE
    assert log.waited_s.sum() == 26 * MINUTE
    assert log.missing_mask.tolist() == [Missing.LARGE_HOOD, 0]
    assert log.counts[Count.STOCK_OUTS_LARGE_HOODS] == 1
    assert log.counts[Count.STOCK_OUTS_HOODS] == log.counts[Count.LARGE_HOODS_USED] == 0


def test_a_large_hood_does_not_serve_others(played: Player):
    """The kit's own hood tears at 10 and there is no other: the large one stays on the shelf.

    Entry 2 needs the large one: it passes entry 1, which waits to the end.
    """
    changed = settings(supplies={"hoods": {"spare": "0"}, "large_hoods": {"spare": "1"}})
    trace = tiny_trace(changed, need=[0, 20, 21], room=10, hood_torn=[0], large_hood=[2])
    log = played(trace)
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.WAITING_AT_END, Outcome.SERVED]
    assert waits(log)[2] == 0
    # while entry 2 is in the room there is no kit either
    whole = Missing.BLOWER | Missing.HOOD | Missing.TUBE
    assert log.missing_mask.tolist() == [Missing.HOOD, whole, Missing.HOOD]
    assert log.counts[Count.STOCK_OUTS_LARGE_HOODS] == 0


def test_who_was_passed_waits_for_a_kit_like_all_others(played: Player):
    """The large hood tears at 10; a new one comes at 70. From 65 to 85 entries 3 and 4 have the
    two kits, and from 2 to 10 entries 0 and 2: entry 1, in line since 1, waits 28 for a kit in use
    and the other 56 for a large hood.
    """
    large = {"reorder_point": "0", "order_quantity": "1", "lead_time": "1 h"}
    trace = tiny_trace(
        one_large_hood(large), need=[0, 1, 2, 65, 65], room=[10, 10, 10, 20, 20], hood_torn=[0],
        large_hood=[0, 1],
    )  # fmt: skip
    log = played(trace, kits=2)
    assert waits(log) == [0, 84, 0, 0, 0]
    cost = log.waited_s[1] / MINUTE
    assert (cost[Cause.NO_LARGE_HOOD], cost[Cause.KIT_IN_USE]) == (56, 28)
    assert log.counts[Count.LARGE_HOODS_USED] == 1
    assert log.counts[Count.HOODS_USED] == 0


def test_single_use_hoods_of_each_size_are_counted_apart(played: Player):
    """Three visits, one of them with a large hood; what is not in `supplies` never runs out."""
    trace = tiny_trace(
        settings(kit={"single_use_hoods": "yes"}), need=[0, 20, 40], room=10, large_hood=[1]
    )
    log = played(trace)
    assert waits(log) == [0, 0, 0]
    assert (log.counts[Count.HOODS_USED], log.counts[Count.LARGE_HOODS_USED]) == (2, 1)


def test_without_a_shelf_of_them_there_is_a_large_hood_for_each_kit(played: Player):
    """Three kits, four wearers of large hoods: only the fourth waits, and for a kit."""
    trace = tiny_trace(settings(), need=[0, 1, 2, 3], room=10, large_hood=[0, 1, 2, 3])
    log = played(trace, kits=3)
    assert waits(log) == [0, 0, 0, 7]
    assert log.waited_s[3, Cause.KIT_IN_USE] == 7 * MINUTE


def test_a_kit_on_loan_that_is_still_to_come_changes_nothing_that_is_lacked_before(played: Player):
    """The only kit is in use 0-10 with a large hood, of which there is one for each kit.

    Entry 1 lacks a blower and its tube from 5 on, not a large hood; with a kit on loan from 7, too.
    """
    for loan in ([], [{"what": "kits on loan", "kits": "1", "at": "7 min"}]):
        trace = tiny_trace(settings(timeline=loan), need=[0, 5], room=10, large_hood=[0, 1])
        log = played(trace)
        assert waits(log) == [0, 2 if loan else 5]
        assert log.missing_mask.tolist() == [Missing.BLOWER | Missing.TUBE, 0]


def test_a_kept_kit_keeps_the_large_hood(played: Player):
    """Wearer 0 keeps kit and large hood until the shift ends at 120; wearer 1 waits from 30."""
    changed = one_large_hood(policy={"kit": "held for a shift", "wipe_between_visits": "0 min"})
    trace = tiny_trace(
        changed, need=[0, 30], room=[10, 5], wearer=[0, 1], shift_end=[120, 400],
        large_hood=[0, 1],
    )  # fmt: skip
    assert waits(played(trace, kits=2)) == [0, 90]


def test_the_rest_of_a_visit_needs_the_same_size(played: Player):
    """The battery is spent at 480 and the kit dries until 500: another kit stands ready, but no
    other large hood.
    """
    changed = one_large_hood(cleaning={"drying_time": "20 min"})
    log = played(tiny_trace(changed, need=[0], room=[500], large_hood=[0]), kits=2)
    assert waits(log) == [0, 20]


def test_urgent_entries_are_left_the_large_hood_that_is_reserved(played: Player):
    """With one of each thing kept for urgent entries, a routine one never gets the only large
    hood, and an urgent one has it at once.
    """
    changed = one_large_hood(policy={"reserved_for_urgent": "1"})
    trace = tiny_trace(
        changed, need=[0, 5, 6], room=10, large_hood=[0, 1], urgent=[False, True, False]
    )
    log = played(trace, kits=3)
    assert log.outcome.tolist() == [Outcome.WAITING_AT_END, Outcome.SERVED, Outcome.SERVED]
    assert waits(log)[1:] == [0, 0]


def test_who_may_pass_is_given_a_battery_as_soon_as_one_holds_enough(played: Player):
    """At 460 a battery comes back with 20 of 480, and 30 are the least. It gains 384 in 108, so
    10 in 2.8125: 168.75 s. Entry 2 waits for the large hood until 470; entry 3 behind it, due at
    462, goes in 169 s after 460.
    """
    trace = tiny_trace(
        one_large_hood(), need=[0, 0, 461, 462], room=[470, 460, 5, 5], large_hood=[0, 2]
    )
    log = played(trace, kits=3, batteries=2, bays=1)
    assert log.in_hand_s[3] == 460 * MINUTE + 169
    assert log.in_hand_s[2] >= 470 * MINUTE


def test_kits_that_are_recalled_leave_the_large_hoods(played: Player):
    """One of two kits is away: its usual hood with it. The large one serves with the other kit."""
    changed = one_large_hood(
        timeline=[{"what": "kits recalled", "kits": "1", "at": "0 min", "lasts": "20 h"}]
    )
    log = played(tiny_trace(changed, need=[10, 11], room=10, large_hood=[0]), kits=2)
    assert waits(log) == [0, 9]


def test_the_first_in_line_is_told_what_it_lacks_itself():
    """The hoods of both kits tear at 10. Entry 2 has the large one; entry 3 lacks it, and entry 4
    behind it a usual one: both are missing, and each is told of its own.
    """
    changed = settings(supplies={"hoods": {"spare": "0"}, "large_hoods": {"spare": "1"}})
    trace = tiny_trace(
        changed, need=[0, 0, 20, 21, 22], room=[10, 10, 100, 10, 10], hood_torn=[0, 1],
        large_hood=[2, 3],
    )  # fmt: skip
    log = play(*trace.situation(Stock(2, 9, 9)), engine="reference", events=True)
    assert log.missing_mask.tolist()[:2] == [Missing.LARGE_HOOD, Missing.LARGE_HOOD | Missing.HOOD]
    assert log.events is not None
    told = [*events_of(log.events)]
    assert [one.entry for one in told if one.kind == Kind.TAKES_LARGE_HOOD] == [2, 3]
    lacks = [one for one in told if one.kind == Kind.FIRST_IN_LINE]
    assert [(one.entry, one.value("missing")) for one in lacks] == [
        (3, Missing.LARGE_HOOD), (4, Missing.HOOD),
    ]  # fmt: skip


def surge(before: HandMade, large: list[int]) -> HandMade:
    """Return a surge behind a run-in: the same wearer 0, a wearer 1 whose shift begins later."""
    return tiny_trace(
        settings(run_in="1 d"), need=[5, 6, 7], room=5, wearer=[0, 1, -1], shift_end=[60, 600],
        large_hood=large, before=before, same_wearers=True,
    )  # fmt: skip


def test_who_works_in_the_run_in_and_in_the_surge_keeps_one_size():
    """Wearer 0 has a large hood in the run-in, so in the surge; all others as they are drawn."""
    day = tiny_trace(
        settings(horizon="24 h"), need=[1_400], room=5, wearer=[0], shift_end=[1_500],
        large_hood=[0], same_wearers=True,
    )  # fmt: skip
    for large, whole in (([], [1, 1, 0, 0]), ([2], [1, 1, 0, 1]), ([1], [1, 1, 1, 0])):
        np.testing.assert_array_equal(with_run_in(surge(day, large)).large_hood, whole)


def test_who_is_served_when_one_before_gives_up_frees_a_bay_in_that_second(played: Player):
    """The last fifth of a charge takes two fifths of 180, so the eighth that was used takes 45.

    Carrying takes 1. At 61 battery 0 goes into the only bay and battery 1 waits. Urgent entry 2
    waits for a large hood from 62 and gives up at 72; entry 3 behind it takes the fuller battery 0
    out of its bay. Battery 1 goes into the bay at 72, not when something else happens: it is full
    at 117, so battery 0, back at 83, waits until then. 11 + 34 of waiting for a bay in all.
    """
    changed = settings(
        charging={"partial_charge_at_reissue": "yes"}, carrying={"fetch": "1 min"},
        supplies={"large_hoods": {"spare": "0"}},
    )  # fmt: skip
    trace = tiny_trace(
        changed, need=[0, 0, 62, 66], room=[60, 60, 10, 10], urgent=[False, False, True, False],
        large_hood=[2], maximum_wait=10,
    )  # fmt: skip
    log = played(trace, kits=2, batteries=2, bays=1)
    assert waits(log) == [0, 0, 10, 6]
    assert log.battery.tolist()[3] == 0
    assert log.use_area[Use.BATTERIES_WAITING_FOR_BAY].sum() == 45 * MINUTE
