"""A surge with its run-in: ordinary days before it, in one table that an engine plays through.

A play has no seconds below 0, so the surge begins at the second at which its run-in ends.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np

from surge_sim.demand.table import BoolArray, Demand, IntArray
from surge_sim.units import NEVER_S

#: moments of the surge, which come so much later in a play
_MOMENTS = ("due_s", "shift_end_s")


def run_in_s(demand: Demand) -> int:
    """Second of the play at which the surge begins."""
    return 0 if demand.before is None else demand.before.horizon_s


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
