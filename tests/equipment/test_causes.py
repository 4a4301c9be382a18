"""What holds a battery up, and how seconds of waiting are put down to causes: rules by hand."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.equipment.causes import (
    CAUSES,
    FIRST_CAUSE,
    KINDS,
    Cause,
    battery_cause,
    part_cause,
    share_out,
)
from surge_sim.equipment.kits import Missing
from surge_sim.equipment.stock import Use

#: the things of each kind, by the words of their names
KIND_OF = {"KIT": 0, "HOOD": 1, "LARGE": 1, "TUBE": 2, "BATTERY": 3}


def kind_of(cause: Cause) -> int:
    """Kit, hood, tube or battery."""
    return next(KIND_OF[word] for word in cause.name.split("_") if word in KIND_OF)


def test_causes_of_one_kind_stand_together_kits_first_then_hoods_tubes_and_batteries() -> None:
    assert list(range(CAUSES)) == list(Cause)
    kinds = [kind_of(cause) for cause in Cause]
    assert kinds == sorted(kinds)
    assert [kinds.index(kind) for kind in range(KINDS)] + [CAUSES] == list(FIRST_CAUSE)


@pytest.mark.parametrize(
    ("place", "charge", "may_be_taken", "powered", "cause"),
    [
        (Use.BATTERIES_IN_USE, 99, 1, 1, Cause.BATTERY_IN_USE),
        (Use.BATTERIES_OUT, 99, 1, 1, Cause.BATTERY_OUT),
        # it may be taken and holds enough: it is kept for others
        (Use.BATTERIES_ON_SHELF, 60, 1, 1, Cause.BATTERY_RESERVED),
        (Use.BATTERIES_IN_BAY, 60, 1, 0, Cause.BATTERY_RESERVED),
        (Use.BATTERIES_COOLING, 59, 1, 1, Cause.BATTERY_COOLING),
        (Use.BATTERIES_COOLING, 60, 0, 1, Cause.BATTERY_COOLING),
        (Use.BATTERIES_WAITING_FOR_BAY, 59, 1, 0, Cause.BATTERY_WAITING_FOR_BAY),
        (Use.BATTERIES_IN_BAY, 59, 1, 0, Cause.BATTERY_WITHOUT_POWER),
        (Use.BATTERIES_IN_BAY, 60, 0, 0, Cause.BATTERY_WITHOUT_POWER),
        (Use.BATTERIES_IN_BAY, 60, 0, 1, Cause.BATTERY_NOT_FULL),
        (Use.BATTERIES_IN_BAY, 59, 1, 1, Cause.BATTERY_CHARGING),
    ],
)
def test_what_holds_a_battery_up(
    place: Use, charge: int, may_be_taken: int, powered: int, cause: Cause
) -> None:
    """It can hold 100, and is handed out with 60."""
    assert battery_cause(place, charge, 100, 60, bool(may_be_taken), bool(powered)) == cause


@pytest.mark.parametrize(("capacity", "weak"), [(59, True), (60, False)])
def test_a_battery_is_too_weak_that_does_not_hold_enough_when_it_is_full(
    capacity: int, weak: bool
) -> None:
    found = battery_cause(Use.BATTERIES_IN_BAY, 50, capacity, 60, True, True)
    assert found == (Cause.BATTERY_TOO_WEAK if weak else Cause.BATTERY_CHARGING)
    # one in use may come back to others
    assert battery_cause(Use.BATTERIES_IN_USE, 50, capacity, 60, True, True) == Cause.BATTERY_IN_USE


def test_a_large_hood_is_never_on_order_by_itself() -> None:
    for on_order in (0, 3):
        assert part_cause(Missing.LARGE_HOOD, on_order) == Cause.NO_LARGE_HOOD


def second_by_second(things: dict[Cause, int], before_s: int, seconds: int) -> dict[Cause, int]:
    """Put seconds down one after the other: kinds take turns, and in each kind its things."""
    kinds = sorted({kind_of(cause) for cause, count in things.items() if count})
    found = dict.fromkeys(Cause, 0)
    for second in range(before_s, before_s + seconds):
        kind = kinds[second % len(kinds)]
        members = [
            cause for cause in Cause if kind_of(cause) == kind for _ in range(things.get(cause, 0))
        ]
        found[members[second // len(kinds) % len(members)]] += 1
    return found


SHARED = [
    {Cause.KIT_IN_USE: 2, Cause.KIT_DRYING: 1},
    {Cause.KIT_IN_USE: 2, Cause.BATTERY_CHARGING: 3, Cause.BATTERY_IN_USE: 1},
    {Cause.HOOD_ON_ORDER: 1, Cause.NO_TUBE: 1, Cause.BATTERY_AWAY: 2},
    {Cause.KIT_AWAY: 1, Cause.NO_LARGE_HOOD: 2, Cause.TUBE_ON_ORDER: 3, Cause.NO_BATTERY: 1},
]


@pytest.mark.parametrize("things", SHARED)
@pytest.mark.parametrize("before_s", [0, 1, 7, 100])
@pytest.mark.parametrize("seconds", [0, 1, 2, 5, 23])
def test_kinds_take_turns_and_in_each_kind_its_things(
    things: dict[Cause, int], before_s: int, seconds: int
) -> None:
    """What has been put down before stays, and turns go on where they ended."""
    row = np.full(3 + 2 * CAUSES, 1_000, dtype=np.int64)
    missing, waited_s = 2, 3 + CAUSES
    row[missing : missing + CAUSES] = [things.get(cause, 0) for cause in Cause]
    start = row.copy()
    assert share_out(row, missing, waited_s, before_s, seconds) == seconds
    expected = second_by_second(things, before_s, seconds)
    assert (row[waited_s:] - 1_000).tolist() == [expected[cause] for cause in Cause]
    assert row[:waited_s].tolist() == start[:waited_s].tolist()


def test_nothing_is_put_down_while_nothing_is_missing() -> None:
    row = np.zeros(2 * CAUSES, dtype=np.int64)
    assert share_out(row, 0, CAUSES, 5, 9) == 0 and not row.any()
