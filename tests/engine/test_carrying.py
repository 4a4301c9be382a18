"""Carrying a kit in each cycle, worked out on paper, in both engines. Times in minutes."""

from __future__ import annotations

import pytest

from surge_sim.equipment.causes import Cause
from tests.engine.conftest import Player
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import MINUTE, settings, tiny_trace

CREW = [{"start": "00:00", "end": "00:00", "cleaners": "1"}]


def test_a_kit_is_checked_once_it_is_fetched_which_is_no_wait(played: Player):
    """Taken at 0, fetched by 3, checked by 4, worn until 14, wiped until 15.

    The entry at 6 takes it at 15 and has it in hand at 19: it waited 13 less 3 + 1.
    """
    changed = settings(carrying={"fetch": "3 min"}, kit={"pre_use_check": "1 min"})
    log = played(tiny_trace(changed, need=[0, 6], room=10, wipe=[1]))
    assert (log.in_hand_s / MINUTE).tolist() == [4, 19]
    assert (log.wait_s / MINUTE).tolist() == [0, 9]


def test_a_kit_is_carried_back_and_to_the_wipe_down_while_it_counts_as_in_use(played: Player):
    """Off at 10, back at 12, at the place of the wipe-down at 16, wiped by 17, dry at 19."""
    changed = settings(
        carrying={"bring_back": "2 min", "to_cleaning": "4 min"},
        cleaning={"by": "crew", "crew": CREW, "drying_time": "2 min"},
    )  # fmt: skip
    log = played(tiny_trace(changed, need=[0, 5], room=10, wipe=[1]))
    assert (log.wait_s / MINUTE).tolist() == [0, 14]
    by_cause = {
        int(cause): log.waited_s[1, cause] / MINUTE for cause in log.waited_s[1].nonzero()[0]
    }
    assert by_cause == {Cause.KIT_IN_USE: 11, Cause.KIT_IN_WIPE_DOWN: 1, Cause.KIT_DRYING: 2}


def test_the_battery_is_charged_from_when_it_is_back(played: Player):
    """Half empty at 240, in its bay at 250 and full 112.5 later, whenever the kit is clean."""
    changed = settings(
        carrying={"bring_back": "10 min", "to_cleaning": "30 min"},
        charging={"partial_charge_at_reissue": "no"},
    )
    log = played(tiny_trace(changed, need=[0, 241], room=[240, 5]), kits=2, batteries=1, bays=1)
    assert log.in_hand_s[1] == 362.5 * MINUTE


@pytest.mark.parametrize(("by", "second"), [("crew", 13), ("wearer", 22)])
def test_a_wearer_is_free_once_the_kit_is_back_or_wiped_down(
    played: Player, by: str, second: float
):
    """Off at 10, back at 13, at the place of the wipe-down at 17, wiped by 22."""
    cleaning = {"by": by} | ({"crew": CREW} if by == "crew" else {})
    changed = settings(
        carrying={"bring_back": "3 min", "to_cleaning": "4 min"}, cleaning=cleaning
    )  # fmt: skip
    trace = tiny_trace(changed, need=[0, 11], room=[10, 5], wearer=[0, 0], wipe=[5])
    assert (played(trace, kits=2).need_s / MINUTE).tolist() == [0, second]


def test_a_held_kit_is_fetched_once_and_brought_back_at_the_end_of_the_shift(played: Player):
    """Fetched by 3, worn until 13; the visit at 20 needs no way. Handed in at 60, clean at 67."""
    changed = settings(
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
        carrying={"fetch": "3 min", "bring_back": "2 min", "to_cleaning": "4 min"},
        cleaning={"by": "crew", "crew": CREW},
    )  # fmt: skip
    trace = tiny_trace(
        changed, need=[0, 20, 50], room=[10, 10, 5], wearer=[0, 0, -1], shift_end=[60], wipe=[1]
    )
    log = played(trace)
    assert (log.in_hand_s / MINUTE).tolist() == [3, 20, 70]
    assert (log.wait_s / MINUTE).tolist() == [0, 0, 17]


@pytest.mark.parametrize(("by", "second", "third"), [("crew", 68, 63), ("wearer", 77, 72)])
def test_a_wearer_hands_a_held_kit_in_before_the_next_visit(
    played: Player, by: str, second: float, third: float
):
    """The visit ends at 55, the wipe between visits at 65, after the end of the shift at 60.

    The kit is back at 68, at the place of the wipe-down at 72 and wiped at 77. The visit due at 30
    begins at 68 where a crew wipes, and at 77 where the wearer does.

    Without that visit the kit is handed in at 60, and whoever has it is back at 63, or done with
    the wipe-down at 72: the visit at 61 begins then.
    """
    cleaning = {"by": by} | ({"crew": CREW} if by == "crew" else {})
    changed = settings(
        policy={"kit": "held for a shift", "wipe_between_visits": "10 min"},
        carrying={"bring_back": "3 min", "to_cleaning": "4 min"},
        cleaning=cleaning,
    )
    for need, room, begins in ((30, 55, second), (61, 45, third)):
        trace = tiny_trace(
            changed, need=[0, need], room=[room, 5], wearer=[0, 0], shift_end=[60], wipe=[5]
        )
        log = played(trace, kits=2)
        assert (log.need_s / MINUTE).tolist() == [0, begins]
        assert log.blower.tolist() == [0, 1]


def test_a_battery_for_a_held_kit_is_fetched(played: Player):
    """470 of 480 are used by 473: the visit at 480 gets another battery, which takes 3 to fetch."""
    changed = settings(
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
        carrying={"fetch": "3 min"},
    )
    trace = tiny_trace(changed, need=[0, 480], room=[470, 5], wearer=[0, 0], shift_end=[900])
    log = played(trace, batteries=2)
    assert (log.in_hand_s / MINUTE).tolist() == [3, 483]
    assert (log.wait_s / MINUTE).tolist() == [0, 0]


def test_the_way_for_a_kit_that_fails_its_check_is_wait(played: Player):
    """Kit 0 is spent by 63, kit 1 back at 108. At 120 kit 0 has stood there longest: fetched by
    123 it fails, there is no prefilter, and kit 1 is there by 126: 6 less one way of 3.
    """
    changed = settings(
        filters=FILTERS, supplies={"prefilters": {"spare": "0"}}, carrying={"fetch": "3 min"}
    )  # fmt: skip
    trace = tiny_trace(
        changed, need=[0, 100, 120], room=[60, 5, 5], prefilter_life=[60], he_life=[900]
    )
    log = played(trace, kits=2)
    assert log.failed_checks.tolist() == [0, 0, 1]
    assert log.blower.tolist() == [0, 1, 1]
    assert (log.wait_s / MINUTE).tolist() == [0, 0, 3]
