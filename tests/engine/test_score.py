"""What a search is told of a play, worked out by hand, from both engines. Times in minutes."""

from __future__ import annotations

from typing import Any

import pytest

from surge_sim.engine.log import Score
from surge_sim.engine.play import score
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import HOODS
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import settings, tiny_trace

pytestmark = pytest.mark.parametrize("engine", ["reference", "compiled"])


def scored(
    engine: Any, changed: Any, kits: int = 1, limit: int | None = None, **trace: Any
) -> Score:
    stock = Stock(kits, batteries=9, bays=9)
    return score(*tiny_trace(changed, **trace).situation(stock), late_limit=limit, engine=engine)


def test_a_wait_of_exactly_the_set_time_is_in_time(engine: str):
    """The kit is back at 20: the entry at 15 waits 5, one at 14 would wait 6."""
    assert scored(engine, settings(), need=[0, 15], room=20).late == 0
    assert scored(engine, settings(), need=[0, 14], room=20).late == 1


def test_an_entry_whose_rest_is_late_too_is_late_once(engine: str):
    """Entry 1 waits from 10 to 20; an alarm sends it out after 8 h, and it waits 10 for a wipe."""
    found = scored(engine, settings(), need=[0, 10], room=[20, 500], wipe=[0, 10])
    assert (found.entries, found.late, found.alarms) == (2, 1, 1)


def test_an_entry_of_which_only_the_rest_is_late_is_late(engine: str):
    """No wait at first; after the alarm it waits 10 for the wipe-down."""
    assert scored(engine, settings(), need=[0], room=500, wipe=[10]).late == 1


def test_urgent_entries_are_held_to_both_waits(engine: str):
    """The urgent entry waits 3: within 5, but not within 1."""
    changed = settings(target={"urgent": {"wait": "1 min", "service_level": "99 %"}})
    found = scored(engine, changed, need=[0, 17], room=20, urgent=[False, True])
    assert (found.late, found.urgent_late, found.urgent_entries) == (0, 1, 1)


def test_who_gives_up_within_the_set_time_is_late_all_the_same(engine: str):
    assert scored(engine, settings(), need=[0, 10], room=20, maximum_wait=2).late == 1


@pytest.mark.parametrize(("limit", "given_up"), [(0, True), (1, True), (2, False)])
def test_a_play_is_given_up_beyond_the_limit_and_not_before(
    engine: str, limit: int, given_up: bool
):
    """Two of three are late."""
    found = scored(engine, settings(), limit=limit, need=[0, 1, 2], room=20)
    assert found.given_up == given_up


def test_stock_outs_are_counted_when_they_begin(engine: str):
    """Single-use hoods, one spare, none ordered: from the third entry on there is none: once."""
    changed = settings(kit={"single_use_hoods": "yes"}, supplies={"hoods": {"spare": "1"}})
    assert scored(engine, changed, need=[0, 20, 40, 50], room=10).stock_outs == 1


def test_what_a_kit_lacks_after_the_last_visit_is_counted_too(engine: str):
    """Kept for the shift, handed in at 240: its single-use hood is used then, the last visit at 0.

    A kit whose HE filter fails the check at 100 lacks one when it is dry, at 160; that wearer's
    visit, in another kit, has ended by then.
    """
    held = {"policy": {"kit": "held for a shift", "wipe_between_visits": "0 min"}}
    single_use = {"kit": {"single_use_hoods": "yes"}, "supplies": {"hoods": {"spare": "3"}}}
    changed = settings(**held, **single_use)
    found = scored(engine, changed, need=[0], room=60, wearer=[0], shift_end=[240])
    assert found.parts.used[HOODS] == 1
    changed = settings(
        filters=FILTERS, supplies={"he_filters": {"spare": "0"}},
        cleaning={"drying_time": "60 min"}, **held,
    )  # fmt: skip
    lives = {"prefilter_life": [900], "he_life": [60]}
    found = scored(engine, changed, kits=2, need=[0, 100], room=[60, 10], wearer=[0, 0], **lives)
    assert found.stock_outs == 1
