"""Who goes first when times are equal: the one written order of a second.

Within one second all changes are made first, in the order of `Moment` and then of the number
of the blower, battery, wearer or entry. When none is left in that second, decisions are taken
('settling') in this order: kits that must be away, the line, wipe-downs, bays, the workshop.
Decisions that make new changes in the same second (a wipe-down of no length) start the second
again; only when none is left do those go whose patience is over. So what becomes free in a second
is there for whoever needs it in that second.
"""

from __future__ import annotations

from enum import IntEnum

from surge_sim.equipment.rule import rule


class Moment(IntEnum):
    """Kinds of change, in the order in which one second makes them."""

    DELIVERY = 0
    BACK_IN_SERVICE = 1
    CHARGED = 2
    BAY_ROUND = 3
    WIPED = 4
    READY = 5
    LEAVE = 6
    CHECKED = 7
    SHIFT_END = 8
    WEARER_FREE = 9
    DUE_AGAIN = 10
    PATIENCE_OVER = 11
    TICK = 12
    DUE = 13


#: a moment's key is ((second * KINDS) + kind) * NUMBERS + number: bits side by side, in 63 bits
KIND_BITS, NUMBER_BITS = 4, 27
KINDS = 2**KIND_BITS
#: numbers of things lie below this: rows of needs, kits, batteries and wearers (looked at before
#: each play) and deliveries (by the bounds of a scenario's parts and kits)
NUMBERS = 2**NUMBER_BITS
#: what would come later comes then, long after any play has closed [s]
LAST_S = 2 ** (63 - KIND_BITS - NUMBER_BITS) - 1
#: a delivery's number is its amount times this, and the number of the supply
SUPPLIES = 4


@rule
def delivery_number(supply: int, amount: int) -> int:
    """Number of a delivery of some amount."""
    return amount * SUPPLIES + supply


@rule
def moment_rank(kind: int, number: int) -> int:
    """Place of a change within its second."""
    return kind * NUMBERS + number


@rule
def battery_rank(charge: int, on_shelf: bool) -> int:
    """Rank of a battery for handing out: the fullest, then the one that blocks no bay."""
    return charge * 2 + (1 if on_shelf else 0)


@rule
def leaves_bay_rank(in_bay_s: int, number: int) -> int:
    """Rank of a battery that must leave when bays fail: the one that came into its bay last."""
    return in_bay_s * NUMBERS + number


@rule
def may_swap(usable_batteries: int, urgent_waiting: int) -> bool:
    """Whether the first of the battery swaps may take one: the urgent entries' stay back."""
    return usable_batteries > urgent_waiting


@rule
def may_take(there: int, reserved: int) -> bool:
    """Whether an entry may take one of `there` things of which `reserved` are not for it."""
    return there > reserved
