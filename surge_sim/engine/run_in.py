"""A surge that begins with its run-in: ordinary days before it, which an engine plays through.

A play has no seconds below 0, so the surge begins at the second at which its run-in ends. What it
leaves behind of the play is everything from there on.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from surge_sim.demand.table import BoolArray, Demand, IntArray
from surge_sim.engine.log import MEANINGS, EventLog, Kind, NoEnd, RunLog, Score
from surge_sim.units import HOUR_S, NEVER_S

#: moments of the surge, which come so much later in a play
_MOMENTS = ("due_s", "shift_end_s")
#: values of events that are moments, or numbers of wearers
_MOMENT_VALUES = ((Kind.JOINS_LINE, "need_s"), (Kind.WAITING_AT_END, "need_s"))
_WEARER_VALUES = tuple((kind, "wearer") for kind in Kind if "wearer" in MEANINGS[kind])
#: places in an event, see `RunLog.events`
_SECOND, _KIND, _ENTRY, _VALUES = 0, 1, 2, 5


def with_run_in(demand: Demand) -> Demand:
    """Return what a play meets: the entries of the run-in, and behind them those of the surge.

    Whoever looks after the same patients in the shift in which the surge begins is one wearer.

    Parameters
    ----------
    demand : Demand
        Of a surge.

    Returns
    -------
    Demand
        The same without a run-in; else with moments that count from the beginning of the run-in.
    """
    before = demand.before
    if before is None:
        return demand
    shift_s = before.horizon_s
    later: dict[str, Any] = {name: _later(getattr(demand, name), shift_s) for name in _MOMENTS}
    number = wearers_in_play(demand)
    later["wearer"] = np.append(number, -1)[demand.wearer]
    later["large_hood"] = _same_sizes(demand, before, later["wearer"])
    more = number >= len(before.shift_end_s)
    columns: dict[str, Any] = {}
    for one in fields(Demand):
        first, then = getattr(before, one.name), later.get(one.name, getattr(demand, one.name))
        if isinstance(then, np.ndarray) and one.name != "wearers":
            then = then[more] if one.name == "shift_end_s" else then
            columns[one.name] = np.concatenate((first, then))
            columns[one.name].setflags(write=False)
    return replace(
        demand,
        horizon_s=demand.horizon_s + shift_s,
        closing_s=demand.closing_s + shift_s,
        wearers=None,
        **columns,
    )


def _same_sizes(demand: Demand, before: Demand, wearer: IntArray) -> BoolArray:
    """Return the sizes of hoods of a surge; who works in the run-in, too, keeps the size of then.

    ``wearer``: number in the play of the wearer of each entry of the surge, or -1.
    """
    of_before = np.zeros(len(before.shift_end_s), dtype=np.bool_)
    named = before.wearer >= 0
    of_before[before.wearer[named]] = before.large_hood[named]
    large = demand.large_hood.copy()
    both = (wearer >= 0) & (wearer < len(of_before))
    large[both] = of_before[wearer[both]]
    return large


def _later(moments: IntArray, by_s: int) -> IntArray:
    return np.where(moments < NEVER_S, moments + by_s, NEVER_S)


def wearers_in_play(demand: Demand) -> IntArray:
    """Return the number of each wearer of a surge in its play, shape (wearers,).

    Those of the run-in come first.
    """
    before = demand.before
    wearers = len(demand.shift_end_s)
    if before is None:
        return np.arange(wearers)
    numbers = len(before.shift_end_s) + np.arange(wearers)
    if before.wearers is None or demand.wearers is None:
        return numbers
    working = np.flatnonzero(before.shift_end_s > before.horizon_s)
    ends_s = before.shift_end_s - before.horizon_s
    known = {(*before.wearers[one].tolist(), int(ends_s[one])): one for one in working.tolist()}
    whose = [*zip(*demand.wearers.T.tolist(), demand.shift_end_s.tolist(), strict=True)]
    same = np.array([known.get(who, -1) for who in whose], dtype=np.int64)
    new = same < 0
    return np.where(new, len(before.shift_end_s) + np.cumsum(new) - 1, same)


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
    for kind, name in _MOMENT_VALUES:
        column = _VALUES + MEANINGS[kind].index(name)
        events[events[:, _KIND] == kind, column] -= shift_s
    in_play = wearers_in_play(demand)
    number = -2 - np.arange(max(in_play.max(initial=-1), len(demand.before.shift_end_s)) + 1)
    number[in_play] = np.arange(len(in_play))
    for kind, name in _WEARER_VALUES:
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
    return NoEnd(found.at_s - demand.run_in_s, entry, found.alarm, found.kit, found.battery)
