"""What an engine leaves behind after one surge: the same columns from both engines."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.kits import Alarm as Alarm
from surge_sim.equipment.kits import Missing as Missing
from surge_sim.equipment.stock import Use as Use

IntArray = NDArray[np.int64]


class Outcome(IntEnum):
    """How a need ended."""

    SERVED = 1
    #: the maximum wait is over: the visit leaves the queue, or is postponed (a new need follows)
    GAVE_UP = 2
    #: still waiting when the play closed
    LEFT_WAITING = 3


#: why a wearer left early, in words
ALARM_WORDS = {
    Alarm.BATTERY: "battery nearly spent",
    Alarm.FLOW: "flow too low",
    Alarm.FAULT: "blower fault",
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
    MAIN_FILTERS_USED = 9
    BLOWER_REPAIRS = 10
    CHARGES = 11
    ALARMS_BATTERY = 12
    ALARMS_FLOW = 13
    ALARMS_FAULT = 14
    #: times that a spare part was wanted and there was none: a filter to be fitted, or a hood or
    #: tube for a clean blower that stood ready for the first in line
    STOCK_OUTS_HOODS = 15
    STOCK_OUTS_TUBES = 16
    STOCK_OUTS_PREFILTERS = 17
    STOCK_OUTS_MAIN_FILTERS = 18


def alarms_in(counts: IntArray | list[int]) -> int:
    """Sum the alarms of all causes; ``counts`` of shape (counts,), see `Count`."""
    return int(sum(counts[Count.ALARMS_BATTERY : Count.ALARMS_FAULT + 1]))


def stock_outs_in(counts: IntArray | list[int]) -> int:
    """Sum the stock-outs of all supplies; ``counts`` of shape (counts,), see `Count`."""
    return int(sum(counts[Count.STOCK_OUTS_HOODS : Count.STOCK_OUTS_MAIN_FILTERS + 1]))


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
    #: from the need to a checked kit in hand, less one check; to giving up; or to the closing
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
    #: all that happened, if it was asked for, shape (events, events.WIDTH)
    events: IntArray | None = None
    #: set when the play was given up because the late entries passed the limit
    given_up: bool = False


class PartCounts(NamedTuple):
    """What became of each part in one play, in the order of the supplies' numbers, shape (4,)."""

    used: tuple[int, ...] = (0, 0, 0, 0)
    stock_outs: tuple[int, ...] = (0, 0, 0, 0)
    #: fewest that were on the shelf after one was taken, less those reserved for urgent entries
    least_left: tuple[int, ...] = (0, 0, 0, 0)


def part_counts(counts: list[int], least_left: list[int]) -> PartCounts:
    """Pick the counts of parts; ``counts`` of shape (counts,), see `Count`."""
    used = counts[Count.HOODS_USED : Count.MAIN_FILTERS_USED + 1]
    short = counts[Count.STOCK_OUTS_HOODS : Count.STOCK_OUTS_MAIN_FILTERS + 1]
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
