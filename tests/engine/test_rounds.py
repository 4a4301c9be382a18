"""One kit for the rooms of a round, worked out on paper, in both engines. Times in minutes.

Entries of one wearer that are due at one moment make a round. Another person's entry shows when the
only kit is on the shelf again.
"""

from __future__ import annotations

import pytest

from surge_sim.engine.log import Count, Outcome
from tests.engine.conftest import Player
from tests.engine.test_timelines import FILTERS
from tests.engine.tiny import MINUTE, settings, tiny_trace

PER_ROUND = {"policy": {"kit": "per round", "wipe_between_visits": "2 min"}}


def at_min(seconds) -> list[float]:
    return (seconds / MINUTE).tolist()


def test_a_kit_goes_from_room_to_room_and_is_wiped_down_after_the_last(played: Player):
    """Rooms 0-10, 12-22, 24-34, a short wipe between each; wiped down 34-39.

    The entry at 1 has the kit at 39.
    """
    trace = tiny_trace(
        settings(**PER_ROUND), need=[0, 0, 0, 1], room=[10, 10, 10, 5], wipe=[5],
        wearer=[0, 0, 0, -1],
    )  # fmt: skip
    log = played(trace)
    assert at_min(log.need_s) == [0, 12, 24, 1]
    assert at_min(log.wait_s) == [0, 0, 0, 38]
    assert log.counts[Count.SHORT_WIPES] == 2
    assert log.counts[Count.WIPE_DOWNS] == 2
    assert log.counts[Count.CHECKS] == 4


def test_with_a_kit_per_entry_each_room_of_the_round_takes_a_clean_one(played: Player):
    """Each room ends with a wipe-down of 5; the entry at 1 comes before the second room at 15."""
    trace = tiny_trace(
        settings(), need=[0, 0, 1], room=[10, 10, 5], wipe=[5], wearer=[0, 0, -1]
    )  # fmt: skip
    log = played(trace)
    assert at_min(log.need_s) == [0, 15, 1]
    assert at_min(log.in_hand_s) == [0, 25, 15]


def test_the_next_round_takes_another_kit(played: Player):
    """Due at 0 and at 5: kit 0 is wiped down until 15, and the visit of the second round waits."""
    trace = tiny_trace(
        settings(**PER_ROUND), need=[0, 5], room=[10, 10], wipe=[5], wearer=[0, 0]
    )  # fmt: skip
    log = played(trace)
    assert at_min(log.need_s) == [0, 15]
    assert log.counts[Count.SHORT_WIPES] == 0
    assert log.counts[Count.WIPE_DOWNS] == 2


def test_every_room_has_its_check_and_a_spent_filter_ends_the_keeping(played: Player):
    """Prefilter spent after 60: the check before the second room fails, and a new one is fitted.

    Checks of 1: 0-1, room until 61, wipe until 63, failed check until 64, prefilter 5 and check
    until 70.
    """
    changed = settings(filters=FILTERS, kit={"pre_use_check": "1 min"}, **PER_ROUND)
    trace = tiny_trace(
        changed, need=[0, 0], room=[60, 10], wearer=[0, 0], prefilter_life=[60], he_life=[900]
    )
    log = played(trace)
    assert at_min(log.in_hand_s) == [1, 70]
    assert log.failed_checks.tolist() == [0, 1]


def test_a_battery_is_swapped_within_a_round(played: Player):
    """460 of 480 are used: less than the 30 that are the least, so the second room gets another."""
    trace = tiny_trace(settings(**PER_ROUND), need=[0, 0], room=[460, 5], wearer=[0, 0])
    log = played(trace, batteries=2)
    assert at_min(log.need_s) == [0, 462]
    assert log.battery.tolist() == [0, 1]
    assert log.counts[Count.BATTERY_SWAPS] == 1


def test_the_rest_of_a_visit_after_an_alarm_belongs_to_the_round(played: Player):
    """The alarm at 480 leaves 20 to do: with the same kit and another battery, then room two."""
    trace = tiny_trace(settings(**PER_ROUND), need=[0, 0], room=[500, 5], wearer=[0, 0])
    log = played(trace, batteries=2)
    assert log.entry.tolist() == [0, 1, 0]
    assert at_min(log.in_hand_s) == [0, 504, 482]
    assert log.blower.tolist() == [0, 0, 0]
    assert log.counts[Count.WIPE_DOWNS] == 1


def test_a_round_goes_on_past_the_end_of_the_shift(played: Player):
    """The shift ends at 5; the kit is kept until the second room is done at 22."""
    trace = tiny_trace(
        settings(**PER_ROUND), need=[0, 0, 1], room=[10, 10, 5], wearer=[0, 0, -1], shift_end=[5]
    )
    assert at_min(played(trace).in_hand_s) == [0, 12, 22]


def test_a_kit_is_handed_in_if_the_last_room_gives_up_waiting_for_a_battery(played: Player):
    """One battery, 460 of 480 used: the second room waits from 462 to 472 and leaves the queue.

    Its wearer is busy for the 5 of that visit; the kit is handed in at 477. The entry at 463 waits
    for kit and battery, and has gone by then.
    """
    changed = settings(**PER_ROUND, charging={"partial_charge_at_reissue": "no"})
    trace = tiny_trace(
        changed, need=[0, 0, 463, 650], room=[460, 5, 5, 5], wearer=[0, 0, -1, -1],
        maximum_wait=10,
    )  # fmt: skip
    log = played(trace, batteries=1)
    assert log.outcome.tolist() == [
        Outcome.SERVED, Outcome.RENEGED, Outcome.RENEGED, Outcome.SERVED,
    ]  # fmt: skip
    assert log.counts[Count.WIPE_DOWNS] == 2


@pytest.mark.parametrize(
    ("first", "then", "second"),
    [("per round", "per entry", 12), ("per entry", "per round", 12), ("per entry", None, 17)],
)
def test_a_change_of_policy_leaves_a_kit_in_its_round(
    played: Player, first: str, then: str | None, second: float
):
    """Changed at 5 or not at all: kept from the first room at 10 on; else wiped down until 17.

    A kit that was kept after the first room is kept after the second, whatever the policy is; one
    in use when kits begin to be kept is kept after its visit.
    """
    at = "5 min" if first == "per entry" else "11 min"
    line = {"timeline": [{"what": "kit policy", "kit": then, "at": at}]} if then else {}
    changed = settings(policy={"kit": first, "wipe_between_visits": "2 min"}, **line)
    trace = tiny_trace(changed, need=[0, 0, 0], room=[10, 10, 10], wearer=[0, 0, 0], wipe=[7])
    log = played(trace)
    assert at_min(log.need_s) == [0, second, 2 * second]


def test_a_kit_is_fetched_and_brought_back_once_a_round(played: Player):
    """Fetched by 3, rooms 3-13 and 15-25, back at 27 and wiped: there for the entry at 1 at 30."""
    changed = settings(**PER_ROUND, carrying={"fetch": "3 min", "bring_back": "2 min"})
    trace = tiny_trace(changed, need=[0, 0, 1], room=[10, 10, 5], wearer=[0, 0, -1])
    assert at_min(played(trace).in_hand_s) == [3, 15, 30]
