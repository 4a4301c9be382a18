"""Who goes first when times are equal: the one written order of a second.

Within one second all changes are made first, in the order of `Moment` and then of the number
of the blower, battery, wearer or entry. When none is left in that second, decisions are taken
('settling') in this order: kits that must be away, the line, wipe-downs, bays, the workshop.
Decisions that make new changes in the same second (a wipe-down of no length) start the second
again; only when none is left do those go whose maximum wait is over, and then those behind them are
served. So what becomes free in a second is there for whoever needs it in that second.
"""

from __future__ import annotations

from enum import IntEnum

from surge_sim.equipment.rule import rule
from surge_sim.equipment.supplies import SUPPLY_NAMES


class Moment(IntEnum):
    """Kinds of change, in the order in which one second makes them."""

    #: of the timeline: it holds before anything else happens
    CHANGE = 0
    DELIVERY = 1
    BACK_IN_SERVICE = 2
    #: it has cooled, or one that failed is replaced
    BATTERY_READY = 3
    CHARGED = 4
    BAY_ROUND = 5
    WIPED = 6
    READY = 7
    LEAVE = 8
    #: to where kits are handed in, or on to the place of the wipe-down
    CARRIED = 9
    CHECKED = 10
    SHIFT_END = 11
    WEARER_FREE = 12
    DUE_AGAIN = 13
    MAXIMUM_WAIT_OVER = 14
    TICK = 15
    DUE = 16


class Line(IntEnum):
    """The lines at the shelf: urgent entries, holders of a kit who need a battery, the others."""

    URGENT = 0
    SWAPS = 1
    ROUTINE = 2
    NOBODY = 3


@rule
def line_to_join(urgent: bool, holds_kit: bool) -> int:
    """Line for whoever needs a kit, or a battery for the kit that is held; urgent ones take one."""
    if urgent:
        return Line.URGENT
    return Line.SWAPS if holds_kit else Line.ROUTINE


@rule
def served_next(urgent: bool, swaps: bool, routine: bool, stuck: int) -> int:
    """Line whose first is served next, of those in which somebody waits; see `Line`.

    ``stuck`` is the line whose first found something missing in this second, or -1. Swaps may still
    be served then, which need a battery only; the others wait for both lines before theirs.
    """
    if urgent and stuck < Line.URGENT:
        return Line.URGENT
    if swaps and stuck < Line.SWAPS:
        return Line.SWAPS
    if routine and stuck < Line.ROUTINE and not urgent and not swaps:
        return Line.ROUTINE
    return Line.NOBODY


@rule
def kept_back(line: int, urgent_waiting: int, reserved: int) -> int:
    """How many of each thing stay behind when the first of a line is served, see `Line`.

    From routine entries those that are reserved for urgent ones; from the swap of a battery one for
    each urgent entry that waits.
    """
    if line == Line.SWAPS:
        return urgent_waiting
    return reserved if line == Line.ROUTINE else 0


#: a moment's key is ((second * KINDS) + kind) * NUMBERS + number: bits side by side, in 63 bits
KIND_BITS, NUMBER_BITS = 5, 26
KINDS = 2**KIND_BITS
#: numbers of things lie below this: rows of needs, kits, batteries and wearers (looked at before
#: each play) and deliveries (by the bounds of a scenario's parts and kits)
NUMBERS = 2**NUMBER_BITS
#: what would come later comes then, long after any play has closed [s]
LAST_S = 2 ** (63 - KIND_BITS - NUMBER_BITS) - 1
#: a delivery's number is its amount times this, and the number of the supply
SUPPLIES = len(SUPPLY_NAMES)


@rule
def delivery_number(supply: int, amount: int) -> int:
    """Number of a delivery of some amount."""
    return amount * SUPPLIES + supply


@rule
def moment_rank(kind: int, number: int) -> int:
    """Place of a change within its second."""
    return kind * NUMBERS + number


@rule
def leaves_bay_rank(in_bay_s: int, number: int) -> int:
    """Rank of a battery that must leave when bays fail: the one that came into its bay last."""
    return in_bay_s * NUMBERS + number
