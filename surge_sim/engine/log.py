"""What an engine leaves behind after one surge, the same from both engines: log, events, score.

Events are what happens, second by second, as plain numbers; `report` makes words of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.kits import Alarm as Alarm
from surge_sim.equipment.kits import Missing as Missing
from surge_sim.equipment.kits import Way as Way
from surge_sim.equipment.stock import Use as Use

IntArray = NDArray[np.int64]
EventLog = NDArray[np.int64]


class Outcome(IntEnum):
    """How a need ended."""

    SERVED = 1
    #: the maximum wait is over: the visit leaves the queue, or is postponed (a new need follows)
    RENEGED = 2
    #: still waiting when the play closed
    WAITING_AT_END = 3


#: why a wearer left early, in words
ALARM_WORDS = {
    Alarm.BATTERY: "low battery",
    Alarm.FLOW: "low flow",
    Alarm.FAILURE: "blower failure",
    Alarm.BATTERY_FAILURE: "battery failure",
}


class Count(IntEnum):
    """Things counted over a surge."""

    WIPE_DOWNS = 0
    SHORT_WIPES = 1
    CHECKS = 2
    FAILED_CHECKS = 3
    RECHECKS = 4
    BATTERY_SWAPS = 5
    # used and out of stock: in the order of the supplies' numbers
    HOODS_USED = 6
    TUBES_USED = 7
    PREFILTERS_USED = 8
    HE_FILTERS_USED = 9
    LARGE_HOODS_USED = 10
    BLOWER_REPAIRS = 11
    CHARGES = 12
    ALARMS_BATTERY = 13
    ALARMS_FLOW = 14
    ALARMS_FAILURE = 15
    ALARMS_BATTERY_FAILURE = 16
    #: times that a spare part was wanted and there was none: a filter to be fitted, or a hood or
    #: tube for a clean blower that stood ready for the first in line
    STOCK_OUTS_HOODS = 17
    STOCK_OUTS_TUBES = 18
    STOCK_OUTS_PREFILTERS = 19
    STOCK_OUTS_HE_FILTERS = 20
    STOCK_OUTS_LARGE_HOODS = 21
    BATTERY_REPLACEMENTS = 22


def alarms_in(counts: IntArray | list[int]) -> int:
    """Sum the alarms of all causes; ``counts`` of shape (counts,), see `Count`."""
    return int(sum(counts[Count.ALARMS_BATTERY : Count.ALARMS_BATTERY_FAILURE + 1]))


def stock_outs_in(counts: IntArray | list[int]) -> int:
    """Sum the stock-outs of all supplies; ``counts`` of shape (counts,), see `Count`."""
    return int(sum(counts[Count.STOCK_OUTS_HOODS : Count.STOCK_OUTS_LARGE_HOODS + 1]))


@dataclass(frozen=True)
class RunLog:
    """One surge as it was played.

    Row i < entries is entry i of the trace (its first need); rows after those are new needs (rest
    of a visit after an alarm, postponed visits) in the order in which they arose. Read-only arrays
    of shape (needs,) unless said.
    """

    NEED_COLUMNS = (
        "entry", "part", "need_s", "wait_s", "in_hand_s", "end_s", "outcome", "alarm", "blower",
        "battery", "level", "failed_checks", "worn_s",
    )  # fmt: skip
    COLUMNS = (
        *NEED_COLUMNS, "waited_s", "missing_at_s", "missing_mask", "use_area", "use_peak",
        "counts",
    )  # fmt: skip

    #: number of the entry that this need belongs to, and which of its needs it is (0, 1, ...)
    entry: IntArray
    part: IntArray
    #: moment when the wearer was ready and wanted a kit
    need_s: IntArray
    #: from the need to a checked kit in hand, less one check and one way from the shelf; to giving
    #: up; or to the closing
    wait_s: IntArray
    #: checked kit in hand, or -1
    in_hand_s: IntArray
    #: end of doffing, or -1
    end_s: IntArray
    outcome: IntArray
    alarm: IntArray
    #: numbers from 0, or -1
    blower: IntArray
    battery: IntArray
    level: IntArray
    failed_checks: IntArray
    #: seconds that the blower ran for this need
    worn_s: IntArray
    #: seconds in line by cause, int32 of shape (needs, causes), see `equipment.causes.Cause`; what
    #: of a wait was not spent in line was spent on failed checks, or until the wearer was free
    waited_s: NDArray[np.int32]
    #: from missing_at_s[j] on, the first in line lacked missing_mask[j] (0: nobody waits)
    missing_at_s: IntArray
    missing_mask: IntArray
    #: item-seconds in each state and hour of the horizon, shape (states, hours)
    use_area: IntArray
    #: most items at once in each state, within the horizon, shape (states,)
    use_peak: IntArray
    #: see Count, shape (counts,)
    counts: IntArray
    #: what lateness is judged by in place of the wait, where a target says so: see
    #: `statistics.ample`
    delay_s: IntArray | None = None
    #: all that happened, if it was asked for, shape (events, `WIDTH`)
    events: IntArray | None = None
    #: set when the play was given up because the late entries passed the limit
    given_up: bool = False


class PartCounts(NamedTuple):
    """What became of each part in one play, in the order of the supplies' numbers, shape (5,)."""

    used: tuple[int, ...] = (0, 0, 0, 0, 0)
    stock_outs: tuple[int, ...] = (0, 0, 0, 0, 0)
    #: fewest that were on the shelf after one was taken, less those reserved for urgent entries
    least_left: tuple[int, ...] = (0, 0, 0, 0, 0)


def part_counts(counts: list[int], least_left: list[int]) -> PartCounts:
    """Pick the counts of parts; ``counts`` of shape (counts,), see `Count`."""
    used = counts[Count.HOODS_USED : Count.LARGE_HOODS_USED + 1]
    short = counts[Count.STOCK_OUTS_HOODS : Count.STOCK_OUTS_LARGE_HOODS + 1]
    return PartCounts(tuple(used), tuple(short), tuple(least_left))


class Score(NamedTuple):
    """What a search needs to know of one play; late entries are counted once each.

    A play that was given up has counted only what it saw until then.
    """

    #: entries of the trace, and the urgent ones among them
    entries: int
    urgent_entries: int
    #: entries with a need that was not served within the target's wait
    late: int
    #: urgent entries with a need that was not served within the urgent target's wait
    urgent_late: int
    alarms: int
    stock_outs: int
    given_up: bool
    parts: PartCounts = PartCounts()


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
    RENEGES = 10
    WAITING_AT_END = 11
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
    # of kits
    KIT_CARRIED = 22
    #: of an entry: with the kit
    TAKES_LARGE_HOOD = 23


#: of the battery that is issued: its charge, how many could be, how long it lay where it was; and
#: charge and time of the one that would be next, -1 where there was none
_TAKEN = ("charge", "usable", "lies_s", "next_charge", "next_lies_s")
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
    Kind.TAKES_KIT: _TAKEN,
    Kind.TAKES_BATTERY: _TAKEN,
    #: follows: see `AfterFailedCheck`
    Kind.CHECK_FAILS: ("follows",),
    Kind.PUTS_ON: ("level", "room_s", "rechecks"),
    #: rest_s: time in the room that an alarm left to do
    Kind.TAKES_OFF: ("worn_s", "alarm", "rest_s", "room_s"),
    Kind.RENEGES: ("wait_s",),
    Kind.WAITING_AT_END: ("need_s",),
    #: for_s: how long it will be there, if that is known; repair: see `Repair`
    Kind.KIT_MOVES: ("was", "state", "for_s", "repair"),
    Kind.PART_THROWN_AWAY: ("supply", "single_use"),
    #: keeps: for a shift or a round, see `Keep`
    Kind.KIT_HELD: ("wearer", "keeps"),
    Kind.KIT_RELEASED: ("wearer", "keeps"),
    Kind.FILTER_CHANGE: ("supply", "for_s"),
    #: for_s: until it is full, without power for unpowered_s of it
    Kind.BATTERY_MOVES: ("was", "state", "charge", "for_s", "unpowered_s"),
    Kind.BLOCKS_BAY: ("for_s",),
    Kind.ORDERED: ("supply", "amount"),
    Kind.DELIVERED: ("supply", "amount"),
    #: of a kit that needs it, or of the first in line
    Kind.STOCK_OUT: ("supply",),
    #: way: see `Way`
    Kind.KIT_CARRIED: ("for_s", "way"),
    Kind.TAKES_LARGE_HOOD: (),
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


class Exhausted(Exception):
    """A play needs more draws, or more room for new needs, than it was given."""


class NoEnd(Exception):
    """A visit is interrupted again and again and gets nowhere."""

    def __init__(self, at_s: int, entry: int, alarm: int, kit: int, battery: int) -> None:
        super().__init__(at_s, entry, alarm, kit, battery)
        self.at_s, self.entry, self.alarm, self.kit, self.battery = at_s, entry, alarm, kit, battery
