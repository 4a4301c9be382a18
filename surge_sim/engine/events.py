"""What happens in a play, second by second, as plain numbers; `report` makes words of them."""

from __future__ import annotations

from collections.abc import Iterator
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

EventLog = NDArray[np.int64]


class Kind(IntEnum):
    """Kinds of event; behind each, what its values mean in their order (see `MEANINGS`)."""

    # of entries
    WEARER_BUSY = 0
    NEEDS_KIT = 1
    HOLDS_KIT = 2
    JOINS_LINE = 3
    FIRST_IN_LINE = 4
    TAKES_KIT = 5
    TAKES_BATTERY = 6
    CHECK_FAILS = 7
    PUTS_ON = 8
    TAKES_OFF = 9
    GIVES_UP = 10
    LEFT_WAITING = 11
    # of kits
    KIT_MOVES = 12
    PART_THROWN_AWAY = 13
    KIT_HELD = 14
    KIT_RELEASED = 15
    FILTER_CHANGE = 16
    # of batteries
    BATTERY_MOVES = 17
    BLOCKS_BAY = 18
    # of spare parts
    ORDERED = 19
    DELIVERED = 20
    STOCK_OUT = 21


#: names of the values of each kind, unused ones are 0; `was` and `state` are uses, see `Use`
MEANINGS: dict[Kind, tuple[str, ...]] = {
    Kind.WEARER_BUSY: ("wearer",),
    #: part: 0 for the first need of an entry; room_s: time in the room that is to do
    Kind.NEEDS_KIT: ("part", "room_s"),
    Kind.HOLDS_KIT: ("charge", "enough"),
    #: line: 0 urgent, 1 battery swaps, 2 routine; in each by moment of the need, then by row
    Kind.JOINS_LINE: ("line", "need_s", "row"),
    #: missing: see `Missing`; reserved: whether all is there, but kept for urgent entries
    Kind.FIRST_IN_LINE: ("missing", "reserved"),
    Kind.TAKES_KIT: ("charge",),
    Kind.TAKES_BATTERY: ("charge",),
    #: follows: see `AfterFailedCheck`
    Kind.CHECK_FAILS: ("follows",),
    Kind.PUTS_ON: ("level", "room_s", "rechecks"),
    #: rest_s: time in the room that an alarm left to do
    Kind.TAKES_OFF: ("worn_s", "alarm", "rest_s", "room_s"),
    Kind.GIVES_UP: ("wait_s",),
    Kind.LEFT_WAITING: ("need_s",),
    #: for_s: how long it will be there, if that is known; repair: see `Repair`
    Kind.KIT_MOVES: ("was", "state", "for_s", "repair"),
    Kind.PART_THROWN_AWAY: ("supply", "single_use"),
    Kind.KIT_HELD: ("wearer",),
    Kind.KIT_RELEASED: ("wearer",),
    Kind.FILTER_CHANGE: ("supply", "for_s"),
    #: for_s: until it is full, without power for unpowered_s of it
    Kind.BATTERY_MOVES: ("was", "state", "charge", "for_s", "unpowered_s"),
    Kind.BLOCKS_BAY: ("for_s",),
    Kind.ORDERED: ("supply", "amount"),
    Kind.DELIVERED: ("supply", "amount"),
    #: of a kit that needs it, or of the first in line
    Kind.STOCK_OUT: ("supply",),
}


class Event(NamedTuple):
    """One event: when, what, which things (-1: none), and the values that its kind has."""

    second: int
    kind: Kind
    entry: int
    kit: int
    battery: int
    values: tuple[int, ...]

    def value(self, name: str) -> int:
        """Return the value of that name."""
        return self.values[MEANINGS[self.kind].index(name)]


#: values that each event has in a log, and all its numbers: second, kind, three things, values
VALUES = 5
WIDTH = 5 + VALUES


#: events that are turned into objects at a time
_AT_ONCE = 10_000


def events_of(log: EventLog) -> Iterator[Event]:
    """Give the events of a log of shape (events, `WIDTH`) one by one."""
    for first in range(0, len(log), _AT_ONCE):
        for second, kind, entry, kit, battery, *values in log[first : first + _AT_ONCE].tolist():
            yield Event(second, Kind(kind), entry, kit, battery, tuple(values))
