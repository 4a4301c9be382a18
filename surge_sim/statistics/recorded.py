"""Waits that a log recorded, beside those of its plays.

Compared are the first requests of the entries of which the log has a wait: the log knows of no
others. An entry of a play is late when that request waited longer than the target, or in vain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import IntArray, Outcome, RunLog
from surge_sim.scenario.schema import Target
from surge_sim.scenario.timeline import CareBundled, EntriesPostponed
from surge_sim.statistics.tally import quantile
from surge_sim.units import DAY_S

if TYPE_CHECKING:
    from surge_sim.scenario.schema import Settings

WHOLE = "whole period"
QUANTILES = {"median": 0.5, "90th percentile": 0.9, "95th percentile": 0.95}
#: share late, mean, then the quantiles: names and units
MEASURES = {"share late": "0..1", "mean": "min", **dict.fromkeys(QUANTILES, "min")}


@dataclass(frozen=True, eq=False)
class Recorded:
    """Entries of which a log has a wait; arrays of shape (entries,)."""

    #: number of the entry, when it was due [s], its recorded wait [s]
    entry: IntArray
    due_s: IntArray
    wait_s: IntArray

    @cached_property
    def groups(self) -> dict[str, NDArray[np.bool_]]:
        """Return which entries belong to the whole period, and to each day that has some."""
        day = self.due_s // DAY_S
        days = {f"day {one + 1}": day == one for one in np.unique(day)}
        return {WHOLE: np.ones(len(day), dtype=bool), **days} if days else {}

    def measured(self, wait_s: IntArray, late: NDArray[np.bool_]) -> IntArray:
        """Measure waits of these entries: late ones, seconds, quantiles; (groups, measures)."""
        found = np.zeros((len(self.groups), len(MEASURES)), dtype=np.int64)
        for row, mine in zip(found, self.groups.values(), strict=True):
            waits, ones = wait_s[mine], np.ones(mine.sum(), dtype=np.int64)
            row[:2] = late[mine].sum(), waits.sum()
            row[2:] = [quantile(waits, ones, share) or 0 for share in QUANTILES.values()]
        return found


def recorded_in(settings: Settings) -> Recorded:
    """Return what a scenario's log recorded of waits: nothing where there is none."""
    rows = None if settings.entries is None else settings.entries.rows
    # entries that are dropped or postponed are no longer those of the log
    others = any(isinstance(one, CareBundled | EntriesPostponed) for one in settings.timeline)
    if rows is None or rows.wait_s is None or others:
        nothing = np.zeros(0, dtype=np.int64)
        return Recorded(nothing, nothing, nothing)
    # entries stand by moment, urgent ones first, then in the order of the log
    order = np.lexsort((~rows.urgent, rows.due_s))
    due_s, wait_s = rows.due_s[order], rows.wait_s[order]
    entry = np.flatnonzero(wait_s >= 0)
    return Recorded(entry, due_s[entry], wait_s[entry])


def recorded_play(recorded: Recorded, log: RunLog, target: Target) -> tuple[IntArray, IntArray]:
    """Return one play of the entries with a recorded wait.

    Returns
    -------
    tuple of ndarray of int64
        What `Recorded.measured` gives; and by entry, shape (4, entries): its wait [s], whether it
        was late, its wait twice, of which plays keep the least and the longest.
    """
    # row i of the log of a play is the first request of entry i
    wait_s = log.wait_s[recorded.entry]
    late = (wait_s > target.wait) | (log.outcome[recorded.entry] != Outcome.SERVED)
    return recorded.measured(wait_s, late), np.stack([wait_s, late, wait_s, wait_s])


def by_entry_joined(parts: Sequence[IntArray]) -> IntArray:
    """Return over plays: the sum of the waits [s], how often late, least and longest wait [s]."""
    each = np.stack(parts)
    return np.vstack([each[:, :2].sum(axis=0), each[:, 2].min(axis=0), each[:, 3].max(axis=0)])
