"""Changes of who comes and when: functions of the drawn demand, made before it is played.

Entries that are due before a change stay as they are, so all that happens before it does, too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from surge_sim.demand.trace import MARKS, BoolArray, Demand, IntArray
from surge_sim.scenario.timeline import CareBundled, Change, EntriesPostponed, MaximumWait


def with_changes(demand: Demand, changes: Sequence[Change]) -> Demand:
    """Return the demand with the changes that concern entries.

    Parameters
    ----------
    demand : Demand
        As drawn, or as logged.
    changes : sequence of Change
        In the order in which they are made where they begin together. Only `MaximumWait`,
        `CareBundled` and `EntriesPostponed` change anything here.

    Returns
    -------
    Demand
        The same where nothing changes. An entry that is postponed is one that became due while
        its change holds, also if another change has postponed it before.
    """
    for change in sorted(changes, key=lambda one: one.at):
        due = (demand.due_s >= change.at) & (demand.due_s < change.until)
        if isinstance(change, MaximumWait):
            demand = _waiting(demand, change, due)
        elif isinstance(change, CareBundled):
            demand = _rows(demand, ~(due & _some(demand, change.dropped)))
        elif isinstance(change, EntriesPostponed):
            demand = _postponed(demand, change, due & _some(demand, change.share))
    return demand


def _some(demand: Demand, share: float) -> BoolArray:
    """Return a share of the routine entries; of a larger share they are some of the same."""
    return ~demand.urgent & (demand.mark < round(share * MARKS))


def _waiting(demand: Demand, change: MaximumWait, due: BoolArray) -> Demand:
    if change.entries != "all":
        due = due & (demand.urgent == (change.entries == "urgent"))
    patience_s = np.where(due, change.wait, demand.patience_s)
    patience_s.setflags(write=False)
    return replace(demand, patience_s=patience_s)


def _postponed(demand: Demand, change: EntriesPostponed, those: BoolArray) -> Demand:
    due_s = demand.due_s + those * change.by
    order = np.lexsort((np.arange(len(due_s)), ~demand.urgent, due_s))
    return _rows(replace(demand, due_s=due_s), order)


def _rows(demand: Demand, rows: BoolArray | IntArray) -> Demand:
    """Return the demand with some of the entries, or with all of them in another order."""
    columns: dict[str, Any] = {}
    for one in fields(Demand):
        column = getattr(demand, one.name)
        if isinstance(column, np.ndarray) and one.name != "shift_end_s":
            columns[one.name] = column[rows]
            columns[one.name].setflags(write=False)
    return replace(demand, **columns)
