"""Which things were missing while an entry waited.

An engine writes down, for every change, what the first in line lacks. Everybody who stands in
line at that time waits for the same: until the first is served, nobody is.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import IntArray, Missing, RunLog

_THINGS = (
    (Missing.BLOWER, "blower"),
    (Missing.HOOD, "hood"),
    (Missing.TUBE, "tube"),
    (Missing.BATTERY, "battery"),
)

#: number of a state beyond the masks of things: time that failed checks cost
FAILED_CHECK = 16
#: the line lacked nothing and no check failed: the wearer was busy when the play closed
BUSY = 17
STATES = 18


def state_name(state: int) -> str:
    """Return what was missing in words: ``blower``, ``blower + battery``, ``failed check``."""
    if state == FAILED_CHECK:
        return "failed check"
    if state in (0, BUSY):
        return "wearer busy" if state else ""
    return " + ".join(name for bit, name in _THINGS if state & bit)


class Waiting(NamedTuple):
    """Seconds that each need waited, split by what was missing."""

    #: numbers of the states that occur, shape (states,)
    states: IntArray
    #: shape (states, needs); each column adds up to the wait of its need
    seconds: IntArray

    def totals(self) -> IntArray:
        """Return the waiting seconds in each of all states, shape (STATES,)."""
        totals = np.zeros(STATES, dtype=np.int64)
        totals[self.states] = self.seconds.sum(axis=1)
        return totals

    def longest(self) -> IntArray:
        """Return for each need the state it waited in longest; 0 when it did not wait."""
        if not self.states.size:
            return np.zeros(self.seconds.shape[1], dtype=np.int64)
        longest = self.states[self.seconds.argmax(axis=0)]
        return np.where(self.seconds.max(axis=0) > 0, longest, 0)


def waiting_by_missing(log: RunLog) -> Waiting:
    """Split each need's wait by what was missing.

    Parameters
    ----------
    log : RunLog
        One surge.

    Returns
    -------
    Waiting
        A wait runs from the need; whatever of it no lack covers is the failed checks' (or,
        without one, a wearer who was still busy when the play closed). While a failed check
        is mended and somebody else stands in line, the time counts as theirs.
    """
    waited = log.wait_s.nonzero()[0]
    wait_s = log.wait_s[waited]
    lacks = _Lacks(log, log.need_s[waited], log.need_s[waited] + wait_s)
    states = np.unique(log.missing_mask[log.missing_mask > 0]).tolist()
    rows = [lacks.within(mask) for mask in states]
    rest = wait_s - sum(rows)
    failed = log.failed_checks[waited] > 0
    for state, which in ((FAILED_CHECK, failed), (BUSY, ~failed)):
        seconds = np.where(which, rest, 0)
        if seconds.any():
            states.append(state)
            rows.append(seconds)
    # nearly all needs of a good stock wait for nothing, so only the others are worked out
    seconds = np.zeros((len(states), len(log.wait_s)), dtype=np.int64)
    for row, those in enumerate(rows):
        seconds[row, waited] = those
    return Waiting(np.array(states, dtype=np.int64), seconds)


class _Lacks:
    """What was missing over time, and for how long of it within some spans."""

    def __init__(self, log: RunLog, from_s: IntArray, until_s: IntArray) -> None:
        self._mask = log.missing_mask
        self._begin_s = log.missing_at_s
        self._lasting_s = np.diff(self._begin_s)
        self._ends = [(at_s, self._place(at_s)) for at_s in (from_s, until_s)]

    def _place(self, at_s: IntArray) -> IntArray:
        return np.searchsorted(self._begin_s, at_s, side="right") - 1

    def within(self, mask: int) -> IntArray:
        """Return the seconds of each span in which exactly this was missing."""
        there = self._mask == mask
        before = np.concatenate(([0], np.cumsum(np.where(there[:-1], self._lasting_s, 0))))
        from_s, until_s = (self._clock(there, before, *end) for end in self._ends)
        return until_s - from_s

    def _clock(
        self, there: NDArray[np.bool_], before: IntArray, at_s: IntArray, place: IntArray
    ) -> IntArray:
        """Seconds, up to each moment, in which it was missing."""
        known = np.maximum(place, 0)
        running = np.where(there[known], at_s - self._begin_s[known], 0)
        return np.where(place >= 0, before[known] + running, 0)
