"""What people waited for: each waiting second has one cause, and they add up to all waiting."""

from __future__ import annotations

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
    Cause.KIT_DRYING: ("kit", "in contact or drying time"),
    Cause.KIT_LACKS_PREFILTER: ("kit", "waiting for a prefilter"),
    Cause.KIT_LACKS_HE_FILTER: ("kit", "waiting for an HE filter"),
    Cause.KIT_GETTING_FILTER: ("kit", "having a filter fitted"),
    Cause.KIT_IN_REPAIR: ("kit", "in repair"),
    Cause.KIT_AWAY: ("kit", "away"),
    Cause.KIT_RESERVED: ("kit", "reserved for urgent entries"),
    Cause.NO_KIT: ("kit", "not in stock"),
    Cause.HOOD_ON_ORDER: ("hood", "used up and on order"),
    Cause.NO_HOOD: ("hood", "used up and not on order"),
    Cause.NO_LARGE_HOOD: ("hood", "of the large size, in use or used up"),
    Cause.TUBE_ON_ORDER: ("tube", "used up and on order"),
    Cause.NO_TUBE: ("tube", "used up and not on order"),
    Cause.BATTERY_IN_USE: ("battery", "in use"),
    Cause.BATTERY_COOLING: ("battery", "cooling down"),
    Cause.BATTERY_WAITING_FOR_BAY: ("battery", "waiting for a bay"),
    Cause.BATTERY_CHARGING: ("battery", "charging"),
    Cause.BATTERY_WITHOUT_POWER: ("battery", "in a bay without power"),
    Cause.BATTERY_NOT_FULL: ("battery", "charging to full"),
    Cause.BATTERY_TOO_WEAK: ("battery", "too weak even when full"),
    Cause.BATTERY_OUT: ("battery", "failed and not replaced"),
    Cause.BATTERY_AWAY: ("battery", "away"),
    Cause.BATTERY_RESERVED: ("battery", "reserved for urgent entries"),
    Cause.NO_BATTERY: ("battery", "not in stock"),
    FAILED_CHECK: ("nothing", "failed check"),
    BUSY: ("nothing", "wearer busy"),
}


def missing_name(state: int) -> str:
    """Return what was missing: ``kit``, ``hood``, ``tube``, ``battery`` or ``nothing``."""
    return _NAMES[state][0]


def cause_name(state: int) -> str:
    """Return both as the name of a cause: ``battery waiting for a bay``, ``failed check``."""
    missing, place = _NAMES[state]
    return place if missing == "nothing" else f"{missing} {place}"


def waiting_by_cause(log: RunLog) -> IntArray:
    """Add up the waits of a surge by cause.

    Parameters
    ----------
    log : RunLog
        One surge.

    Returns
    -------
    ndarray of int64, shape (STATES,)
        Seconds; their sum is that of all waits.
    """
    found = np.zeros(STATES, dtype=np.int64)
    found[:CAUSES] = log.waited_s.sum(axis=0)
    rest_s, state = _out_of_line(log)
    found[FAILED_CHECK:] = [rest_s[state == other].sum() for other in (FAILED_CHECK, BUSY)]
    return found


def longest_cause(log: RunLog) -> IntArray:
    """Return for each request the cause for which it waited longest; -1 where it did not wait."""
    in_line, (rest_s, state) = log.waited_s.argmax(axis=1), _out_of_line(log)
    longest = np.where(rest_s > log.waited_s.max(axis=1), state, in_line)
    return np.where(log.wait_s > 0, longest, -1)


def _out_of_line(log: RunLog) -> tuple[IntArray, IntArray]:
    """Seconds of each wait that were not spent in line, and their cause.

    Failed checks; without one, the wearer was still busy when the play closed.
    """
    rest_s = log.wait_s - log.waited_s.sum(axis=1)
    return rest_s, np.where(log.failed_checks > 0, FAILED_CHECK, BUSY)
