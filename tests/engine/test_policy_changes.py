"""Changes of policy, stock and care from a moment on, worked out by hand, in both engines.

What is in progress when a rule changes is in each docstring. Times in minutes.
"""

from __future__ import annotations

from typing import Any

import pytest

from surge_sim.engine.log import Count, Outcome, RunLog
from tests.engine.tiny import MINUTE, settings, tiny_trace


def waits(log: RunLog) -> list[float]:
    return (log.wait_s / MINUTE).tolist()


def timeline(what: str, at: str, **more: str) -> dict[str, Any]:
    return {"timeline": [{"what": what, "at": at, **more}]}


@pytest.mark.parametrize(("lasts", "third"), [("20 min", 0), ("19 min", 31)])
def test_a_kit_on_loan_serves_whoever_waits_and_goes_back_when_it_is_ready(played, lasts, third):
    """One kit in use 0-60, another from 10 on: the entry at 5 waits 5 and uses it until 20.

    Until 30 it is there for the entry at 29; until 29 it is not, which is settled before, and the
    entry waits until 60.
    """
    changed = settings(**timeline("kits on loan", "10 min", kits="1", lasts=lasts))
    log = played(tiny_trace(changed, need=[0, 5, 29], room=[60, 10, 20]))
    assert waits(log) == [0, 5, third]


def test_kits_that_stay_are_there_for_good(played):
    """No `lasts`: the second kit, from 10 on, serves at 300 and at 1,400, too."""
    changed = settings(**timeline("kits on loan", "10 min", kits="1"))
    log = played(tiny_trace(changed, need=[0, 5, 300, 301, 1_400], room=[400, 5, 5, 5, 5]))
    assert waits(log) == [0, 5, 0, 4, 0]


def test_a_battery_on_loan_is_full_and_goes_back_from_the_shelf(played):
    """No bays: the one battery is half empty after 240, and the least run is 5 of 8 h.

    A full one from 300 on serves the entry of 250 then. From 310 on it lies on the shelf, as it is
    above the 60 % below which it would be charged, and goes back at 320: the entry at 330 waits to
    the close at 2,880.
    """
    changed = settings(
        batteries={"minimum_run_time": "5 h"},
        charging={"charge_below": "60 %"},
        **timeline("batteries on loan", "300 min", batteries="1", lasts="20 min"),
    )
    log = played(tiny_trace(changed, need=[0, 250, 330], room=[240, 10, 5]), batteries=1, bays=0)
    assert waits(log) == [0, 50, 2_550]
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.SERVED, Outcome.WAITING_AT_END]


def test_a_charger_on_loan_charges_and_a_battery_in_it_waits_again_when_it_goes(played):
    """No bay of one's own, a charger from 250 to 300. Half a charge takes 112.5 of 180 to fill.

    In at 250 with half of it (the 67.5th of 180 on the curve), out at 300 at the 117.5th, before
    it is full; nobody charges it after that. Full only: the entry at 260 waits for ever. With
    partial charge allowed from 310 on it is served then.
    """
    charger = {"what": "chargers on loan", "chargers": "1", "at": "250 min", "lasts": "50 min"}
    allowed = {"what": "partial charge at reissue", "allowed": "yes", "at": "310 min"}
    base = {
        "batteries": {"minimum_run_time": "5 h"},
        "charging": {"partial_charge_at_reissue": "no"},
    }
    entries = {"need": [0, 260], "room": [240, 10]}
    log = played(tiny_trace(settings(**base, timeline=[charger]), **entries), batteries=1, bays=0)
    assert waits(log) == [0, 2_620]
    assert log.counts[Count.CHARGES] == 1
    both = settings(**base, timeline=[charger, allowed])
    log = played(tiny_trace(both, **entries), batteries=1, bays=0)
    assert waits(log) == [0, 50]


def test_partial_charge_is_allowed_or_not_from_its_second_on(played):
    """One battery, half empty at 240 and full at 352.5; the entry at 250 may take it at once.

    Not allowed from 245 on: it waits until 352.5. Allowed again at 300: it is served then.
    """
    entries = {"need": [0, 250], "room": [240, 10]}
    no = {"what": "partial charge at reissue", "allowed": "no", "at": "245 min"}
    found = [
        waits(played(tiny_trace(settings(timeline=changes), **entries), batteries=1))[1]
        for changes in ([], [no], [no | {"lasts": "55 min"}])
    ]
    assert found == [0, 102.5, 50]


def test_a_reserve_holds_for_whoever_is_served_from_then_on(played):
    """Two kits. A reserve of one from 10 to 30: the entry at 5 keeps its kit, that at 12 waits."""
    changed = settings(**timeline("reserve for urgent entries", "10 min", kits="1", lasts="20 min"))
    trace = tiny_trace(changed, need=[5, 12, 15], room=[60, 5, 5], urgent=[False, False, True])
    assert waits(played(trace, kits=2)) == [0, 18, 0]


def test_a_kit_already_held_is_kept_until_its_shift_ends(played):
    """One kit, held from the visit at 0 on; from 30 on kits are handed out for each entry.

    The wearer's visit at 40 goes on with it, and it is held again after that: the entry at 45 has
    it when the shift ends at 100. Then nobody holds it: the visit 101-116 hands it in at its end,
    although that wearer's shift goes on, and the entry at 111 waits for it 5.
    """
    changed = settings(
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
        **timeline("kit policy", "30 min", kit="per entry"),
    )
    trace = tiny_trace(
        changed, need=[0, 40, 45, 101, 111], room=[10, 10, 1, 15, 5],
        wearer=[0, 0, -1, 1, -1], shift_end=[100, 900],
    )  # fmt: skip
    log = played(trace)
    assert waits(log) == [0, 0, 55, 0, 5]
    assert log.counts[Count.SHORT_WIPES] == 2


def test_kits_are_held_from_the_end_of_the_next_visit_on(played):
    """Per entry until 30: the kit of the visit 0-40 is kept, as it ends later; that of 5-15 not."""
    changed = settings(
        policy={"wipe_between_visits": "0 min"},
        **timeline("kit policy", "30 min", kit="held for a shift"),
    )
    trace = tiny_trace(
        changed, need=[0, 5, 50, 60], room=[40, 10, 5, 5], wearer=[0, 1, -1, -1],
        shift_end=[200, 200],
    )  # fmt: skip
    log = played(trace, kits=2)
    assert log.counts[Count.SHORT_WIPES] == 1
    assert log.blower[[0, 2, 3]].tolist() == [0, 1, 1]


def test_whoever_waits_already_keeps_the_maximum_wait_of_before(played):
    """One kit in use 0-100. Maximum wait 10 for those due from 20 on: 5 waits 95, 30 gives up."""
    changed = settings(**timeline("maximum wait", "20 min", wait="10 min", lasts="30 min"))
    log = played(tiny_trace(changed, need=[0, 5, 30, 55], room=[100, 1, 1, 1]))
    assert waits(log) == [0, 95, 10, 46]
    assert log.outcome.tolist() == [1, 1, 2, 1]


def test_a_postponed_entry_has_the_maximum_wait_of_its_later_moment(played):
    """Maximum wait 10 from 40 to 120. Due at 65 and 95, by 30 later: at 95 and 125.

    One kit, in use 50-145: the entry of 95 gives up at 105; that of 125, due after the change has
    ended, waits 20.
    """
    later = {"by": "30 min", "at": "60 min", "lasts": "40 min"}
    changed = settings(
        timeline=[
            {"what": "maximum wait", "wait": "10 min", "at": "40 min", "lasts": "80 min"},
            {"what": "routine entries postponed"} | later,
        ]
    )
    log = played(tiny_trace(changed, need=[50, 65, 95], room=[95, 5, 5]))
    assert (log.need_s / MINUTE).tolist() == [50, 95, 125]
    assert waits(log) == [0, 10, 20]
    assert log.outcome.tolist() == [1, 2, 1]


def test_a_maximum_wait_is_that_of_routine_or_urgent_entries_where_it_says_so(played):
    entries = {"need": [0, 30, 31], "room": [100, 1, 1], "urgent": [False, False, True]}
    for whose, expected in (("routine", [0, 10, 69]), ("urgent", [0, 70, 10])):
        changed = settings(**timeline("maximum wait", "20 min", wait="10 min", entries=whose))
        assert waits(played(tiny_trace(changed, **entries))) == expected


def test_bundled_care_drops_the_share_of_routine_entries_that_its_marks_say(played):
    """30 % from 20 to 60: marks below 300,000; not the one before, the urgent one, one after."""
    changed = settings(**timeline("care bundled", "20 min", dropped="30 %", lasts="40 min"))
    trace = tiny_trace(
        changed, need=[10, 20, 30, 40, 60], room=5, urgent=[False, False, False, True, False],
        mark=[0, 299_999, 300_000, 0, 0],
    )  # fmt: skip
    assert (played(trace).need_s / MINUTE).tolist() == [10, 30, 40, 60]


def test_postponed_entries_become_due_later_and_keep_their_place_among_equals(played):
    """Half of those due from 20 on, by 30 minutes: 20 becomes 50, before the one of 50 drawn later.

    One kit, five minutes each: at 50 the urgent one first.
    """
    changed = settings(
        **timeline("routine entries postponed", "20 min", by="30 min", share="50 %", lasts="10 min")
    )
    trace = tiny_trace(
        changed, need=[10, 20, 25, 50, 50], room=5, urgent=[False] * 3 + [False, True],
        mark=[0, 499_999, 500_000, 0, 0],
    )  # fmt: skip
    log = played(trace)
    assert (log.need_s / MINUTE).tolist() == [10, 25, 50, 50, 50]
    assert waits(log) == [0, 0, 0, 5, 10]


def test_a_change_holds_before_anything_else_in_its_second(played):
    """The kit comes back at 20 and the entry waits since 5: a reserve from 20 on keeps it back."""
    changed = settings(**timeline("reserve for urgent entries", "20 min", kits="1", lasts="5 min"))
    assert waits(played(tiny_trace(changed, need=[0, 5], room=20))) == [0, 20]


def test_of_two_changes_the_one_that_began_last_holds_and_then_the_other_again(played):
    """Reserve 2 of 3 kits from 0 to 60, reserve 0 from 10 to 20: entries at 5, 12, 30."""
    two = {"what": "reserve for urgent entries", "kits": "2", "at": "0 min", "lasts": "60 min"}
    none = {"what": "reserve for urgent entries", "kits": "0", "at": "10 min", "lasts": "10 min"}
    changed = settings(timeline=[none, two])
    trace = tiny_trace(changed, need=[5, 6, 12, 30], room=[100, 1, 100, 1])
    assert waits(played(trace, kits=3)) == [0, 4, 0, 30]
