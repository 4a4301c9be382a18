"""What people waited for: each waiting second has one cause, and they add up to all waiting."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from surge_sim.engine.log import IntArray, RunLog
from surge_sim.equipment.causes import CAUSES, Cause

#: beyond the causes of those who stand in line: time that failed checks cost
FAILED_CHECK = CAUSES
#: the wearer was still busy with the visit before when the play closed
BUSY = CAUSES + 1
STATES = CAUSES + 2

#: what is missing, and where it is; together they are the name of the cause
_NAMES = {
    Cause.KIT_IN_USE: ("kit", "in use"),
    Cause.KIT_HELD: ("kit", "held between visits"),
    Cause.KIT_WAITING_FOR_WIPE: ("kit", "waiting for a wipe-down"),
    Cause.KIT_IN_WIPE_DOWN: ("kit", "in wipe-down"),
    Cause.KIT_DRYING: ("kit", "wet or drying"),
    Cause.KIT_LACKS_PREFILTER: ("kit", "waiting for a prefilter"),
    Cause.KIT_LACKS_MAIN_FILTER: ("kit", "waiting for an HE filter"),
    Cause.KIT_GETTING_FILTER: ("kit", "having a filter fitted"),
    Cause.KIT_IN_REPAIR: ("kit", "in repair"),
    Cause.KIT_AWAY: ("kit", "away"),
    Cause.KIT_RESERVED: ("kit", "reserved for urgent entries"),
    Cause.NO_KIT: ("kit", "not in stock"),
    Cause.HOOD_ON_ORDER: ("hood", "used up and on order"),
    Cause.NO_HOOD: ("hood", "used up and not on order"),
    Cause.TUBE_ON_ORDER: ("tube", "used up and on order"),
    Cause.NO_TUBE: ("tube", "used up and not on order"),
    Cause.BATTERY_IN_USE: ("battery", "in use"),
    Cause.BATTERY_WAITING_FOR_BAY: ("battery", "waiting for a bay"),
    Cause.BATTERY_CHARGING: ("battery", "charging"),
    Cause.BATTERY_WITHOUT_POWER: ("battery", "in a bay without power"),
    Cause.BATTERY_NOT_FULL: ("battery", "charged enough but kept until full"),
    Cause.BATTERY_TOO_WEAK: ("battery", "too weak even when full"),
    Cause.BATTERY_AWAY: ("battery", "away"),
    Cause.BATTERY_RESERVED: ("battery", "reserved for urgent entries"),
    Cause.NO_BATTERY: ("battery", "not in stock"),
    FAILED_CHECK: ("nothing", "failed check"),
    BUSY: ("nothing", "wearer busy"),
}


def missing_name(state: int) -> str:
    """Return what was missing: ``kit``, ``hood``, ``tube``, ``battery`` or ``nothing``."""
    return _NAMES[state][0]


def place_name(state: int) -> str:
    """Return where it was: ``waiting for a bay``; without a thing missing, what else it was."""
    return _NAMES[state][1]


def cause_name(state: int) -> str:
    """Return both as the name of a cause: ``battery waiting for a bay``, ``failed check``."""
    missing, place = _NAMES[state]
    return place if missing == "nothing" else f"{missing} {place}"


def seconds_by_cause(log: RunLog) -> IntArray:
    """Split each need's wait by cause.

    Parameters
    ----------
    log : RunLog
        One surge.

    Returns
    -------
    ndarray of int64, shape (needs that waited, STATES)
        Rows of the needs with a wait above 0, in their order; each adds up to its wait. What of a
        wait was not spent in line is put down to failed checks (or, without one, to a wearer who
        was still busy when the play closed).
    """
    waited = log.wait_s.nonzero()[0]
    seconds = np.zeros((len(waited), STATES), dtype=np.int64)
    seconds[:, :CAUSES] = log.waited_s[waited]
    rest = log.wait_s[waited] - seconds.sum(axis=1)
    failed = log.failed_checks[waited] > 0
    seconds[:, FAILED_CHECK] = np.where(failed, rest, 0)
    seconds[:, BUSY] = np.where(failed, 0, rest)
    return seconds


class Longest(NamedTuple):
    """The cause of the longest part of each wait."""

    #: rows of the needs that waited, and the cause of each
    rows: IntArray
    states: IntArray


def longest_cause(log: RunLog) -> Longest:
    """Return for each need that waited the cause for which it waited longest."""
    return Longest(log.wait_s.nonzero()[0], seconds_by_cause(log).argmax(axis=1))
