"""What a surge leaves behind of a play that began with its run-in: everything from second 0 on."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from surge_sim.demand.run_in import run_in_s, wearers_in_play
from surge_sim.demand.table import Demand
from surge_sim.engine.log import MEANINGS, EventLog, Kind, NoEnd, RunLog, Score
from surge_sim.units import HOUR_S

#: values of events that are moments, or numbers of wearers
_MOMENTS = ((Kind.JOINS_LINE, "need_s"), (Kind.WAITING_AT_END, "need_s"))
_WEARERS = tuple((kind, "wearer") for kind in Kind if "wearer" in MEANINGS[kind])
#: places in an event, see `RunLog.events`
_SECOND, _KIND, _ENTRY, _VALUES = 0, 1, 2, 5


def log_of_surge(log: RunLog, demand: Demand) -> RunLog:
    """Return the log of a surge, of what was played with its run-in.

    Events of the run-in stay, at seconds below 0: what was done then says where things are at
    second 0. Its entries have numbers below -1 there, and its wearers numbers below 0.
    """
    before = demand.before
    if before is None:
        return log
    shift_s, earlier = before.horizon_s, before.entries
    rows = log.entry >= earlier
    columns: dict[str, Any] = {name: getattr(log, name)[rows] for name in RunLog.NEED_COLUMNS}
    columns["entry"] = columns["entry"] - earlier
    for name in ("need_s", "in_hand_s", "end_s"):
        columns[name] = np.where(columns[name] < 0, columns[name], columns[name] - shift_s)
    columns["waited_s"] = log.waited_s[rows]
    later = int(log.missing_at_s.searchsorted(shift_s, side="right"))
    at_s, mask = log.missing_at_s[later:] - shift_s, log.missing_mask[later:]
    if later and log.missing_mask[later - 1]:
        at_s = np.concatenate(([0], at_s))
        mask = np.concatenate((log.missing_mask[later - 1 : later], mask))
    columns |= {"missing_at_s": at_s, "missing_mask": mask}
    columns["use_area"] = log.use_area[:, shift_s // HOUR_S :].copy()
    if log.events is not None:
        columns["events"] = _events(log.events, demand)
    for column in columns.values():
        column.setflags(write=False)
    return replace(log, **columns)


def _events(events: EventLog, demand: Demand) -> EventLog:
    """Count moments from the beginning of the surge, and entries and wearers as it does."""
    assert demand.before is not None
    shift_s, earlier = demand.before.horizon_s, demand.before.entries
    events = events.copy()
    events[:, _SECOND] -= shift_s
    events[:, _ENTRY] = entries_of_surge(events[:, _ENTRY], earlier)
    for kind, name in _MOMENTS:
        column = _VALUES + MEANINGS[kind].index(name)
        events[events[:, _KIND] == kind, column] -= shift_s
    in_play = wearers_in_play(demand)
    number = -2 - np.arange(max(in_play.max(initial=-1), len(demand.before.shift_end_s)) + 1)
    number[in_play] = np.arange(len(in_play))
    for kind, name in _WEARERS:
        those, column = events[:, _KIND] == kind, _VALUES + MEANINGS[kind].index(name)
        events[those, column] = number[events[those, column]]
    return events


def entries_of_surge(entry: Any, earlier: int) -> Any:
    """Return numbers of entries as the surge counts them: -2 is the last one of the run-in."""
    return np.where(entry < 0, entry, entry - earlier - (entry < earlier))


def score_of_surge(score: Score, demand: Demand) -> Score:
    """Return the score of a surge: late entries of the run-in are not counted by the engines."""
    return score._replace(entries=demand.entries, urgent_entries=int(demand.urgent.sum()))


def end_of_surge(found: NoEnd, demand: Demand) -> NoEnd:
    """Return where a visit gets nowhere, as the surge counts."""
    earlier = 0 if demand.before is None else demand.before.entries
    entry = int(entries_of_surge(np.int64(found.entry), earlier))
    return NoEnd(found.at_s - run_in_s(demand), entry, found.alarm, found.kit, found.battery)
