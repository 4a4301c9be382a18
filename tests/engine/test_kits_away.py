"""Kits recalled and on loan: timelines worked out on paper, in both engines, in minutes."""

from __future__ import annotations

from typing import Any

import pytest

from surge_sim.engine.log import Missing
from tests.engine.conftest import Player
from tests.engine.test_timelines import waits
from tests.engine.tiny import MINUTE, settings, tiny_trace


def event(what: str, at: int, lasts: int, kits: int) -> dict[str, Any]:
    return {"what": f"kits {what}", "at": f"{at} min", "lasts": f"{lasts} min", "kits": str(kits)}


def test_recalled_kits_come_back_and_lent_kits_go_back(played: Player):
    """Two kits, one recalled 0-60: the entry at 5 waits for the other. One more lent: none."""
    recalled = [event("recalled", 0, 60, 1)]
    trace = tiny_trace(settings(timeline=recalled), need=[0, 5, 60], room=[30, 40, 5])
    assert waits(played(trace, kits=2, batteries=2)) == [0, 25, 0]
    lent = [event("on loan", 5, 60, 1)]
    trace = tiny_trace(settings(timeline=lent), need=[0, 5, 70, 70], room=[30, 10, 5, 5])
    assert waits(played(trace, kits=1, batteries=1)) == [0, 0, 0, 5]


@pytest.mark.parametrize("kits", [2, 3, 20])
def test_a_kit_that_leaves_takes_one_of_each_with_it_and_no_more(played: Player, kits: int):
    """Two kits, three batteries, a spare hood and tube; both kits, or more, recalled 10-70.

    Kit 0 is in use 0-30. At 10 kit 1 leaves with battery 1, a hood and a tube; what the entry at 20
    lacks is the blower alone. At 30 kit 0 leaves too, with battery 2, and battery 0 charges:
    30 min of 480 are 6.25 % above 80 %, 22.5 min. At 70 kit 0 comes first, since it left last.
    """
    supplies = {"hoods": {"spare": "1"}, "tubes": {"spare": "1"}}
    changed = settings(supplies=supplies, timeline=[event("recalled", 10, 60, kits)])
    log = played(tiny_trace(changed, need=[0, 20], room=[30, 5]), kits=2, batteries=3)
    assert waits(log) == [0, 50]
    assert (log.missing_at_s / MINUTE).tolist() == [20, 70]
    assert log.missing_mask.tolist() == [Missing.BLOWER, 0]
    assert (log.blower.tolist(), log.battery.tolist()) == ([0, 0], [0, 0])


@pytest.mark.parametrize("kits", [2, 3, 20])
def test_the_battery_of_a_kit_in_use_is_not_taken_before_it(played: Player, kits: int):
    """Kit 0 is held for a shift, kit 1 leaves at 10 with battery 1: battery 2 is there at 470."""
    changed = settings(
        policy={"kit": "held for a shift", "wipe_between_visits": "0 min"},
        timeline=[event("recalled", 10, 900, kits)],
    )
    trace = tiny_trace(changed, need=[0, 470], room=[460, 5], wearer=[0, 0], shift_end=[600])
    log = played(trace, kits=2, batteries=3, bays=0)
    assert waits(log) == [0, 0]
    assert log.battery.tolist() == [0, 2]


def test_lent_kits_come_although_more_are_recalled_than_there_are(played: Player):
    """One kit; five are recalled 0-100 and one is lent 20-80.

    The entry at 10 gets a kit at 20, the one at 90 at 100. Which are lent is not told apart:
    the last to leave comes first, so it is the same number.
    """
    events = [event("recalled", 0, 100, 5), event("on loan", 20, 60, 1)]
    log = played(tiny_trace(settings(timeline=events), need=[10, 90], room=5), batteries=1)
    assert waits(log) == [10, 10]
    assert log.blower.tolist() == [1, 1]


def test_with_fewer_batteries_than_kits_away_the_last_to_leave_comes_first(played: Player):
    """Three kits, two batteries: three kits are away from the start, two come at 60, one at 100.

    The two batteries went with two of three kits; one is still with the kit that stays away.
    """
    events = [event("recalled", 0, 60, 2), event("recalled", 0, 100, 1)]
    trace = tiny_trace(settings(timeline=events), need=[5, 61], room=[50, 5])
    log = played(trace, kits=3, batteries=2)
    assert waits(log) == [55, 39]
    assert (log.blower.tolist(), log.battery.tolist()) == ([2, 1], [1, 0])
