"""One surge's demand: the table of its requests, and changes of it.

The table is complete before the equipment runs, with every draw that belongs to an entry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.scenario.timeline import (
    CareBundled,
    Change,
    ChangeOfEntries,
    EntriesPostponed,
    MaximumWait,
)

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: marks of visits lie below this
MARKS = 1_000_000


@dataclass(frozen=True)
class PatientTable:
    """Patients of one surge, in order of arrival; arrays of shape (patients,)."""

    arrive_s: IntArray
    #: end of isolation [s]; may lie past the horizon
    leave_s: IntArray
    patient_class: IntArray
    #: isolation room, or -1: boarded elsewhere for the whole stay, -2: diverted (no entries)
    room: IntArray


@dataclass(frozen=True)
class Demand:
    """Needs of one surge, sorted by (due_s, routine after urgent, order of drawing).

    All arrays are read-only and have shape (entries,) unless said. A row's number is the
    number of its entry. Times are int64 whole seconds from the start of the horizon.
    """

    seed: int
    sample: int
    surge: int
    #: date and time of second 0
    start: datetime
    horizon_s: int
    closing_s: int
    #: moment when the entry is due; a wearer still busy then is ready later
    due_s: IntArray
    room_s: IntArray
    don_s: IntArray
    doff_s: IntArray
    #: longest wait before the entry is done otherwise, or NEVER_S
    maximum_wait_s: IntArray
    role: IntArray
    #: -1: no class (a log without patients)
    patient_class: IntArray
    patient: IntArray
    urgent: BoolArray
    #: named wearer who makes one visit at a time, or -1
    wearer: IntArray
    #: is the hood (tube) torn in this use
    hood_torn: BoolArray
    tube_torn: BoolArray
    #: does the wearer need a large hood
    large_hood: BoolArray
    #: random whole number below MARKS that picks the routine entries which a change of a share of
    #: them concerns; a terminal clean, which no such change concerns, has MARKS more
    mark: IntArray
    #: end of the shift of each named wearer, shape (wearers,)
    shift_end_s: IntArray
    role_names: tuple[str, ...]
    class_names: tuple[str, ...]
    patients: PatientTable
    #: role and group of patients of each named wearer, shape (wearers, 2), if they are known
    wearers: IntArray | None = field(default=None, kw_only=True)
    #: the ordinary days just before the surge, with which a play begins: see `engine.run_in`
    before: Demand | None = field(default=None, kw_only=True)

    @property
    def run_in_s(self) -> int:
        """Second of a play at which the surge begins: a play begins with the run-in."""
        return 0 if self.before is None else self.before.horizon_s

    @property
    def entries(self) -> int:
        """Number of entries in the surge."""
        return len(self.due_s)


def with_changes(demand: Demand, changes: Sequence[Change]) -> Demand:
    """Return the demand with the changes that concern entries.

    Parameters
    ----------
    demand : Demand
        As drawn, or as logged.
    changes : sequence of Change
        In the order in which they are made where they begin together. Only a
        `ChangeOfEntries` changes anything here.

    Returns
    -------
    Demand
        The same where nothing changes. An entry that is postponed is one that became due while
        its change holds, also if another change has postponed it before. Its maximum wait is that
        of the moment at which it becomes due at last.
    """
    those = (one for one in changes if isinstance(one, ChangeOfEntries))
    for change in sorted(those, key=lambda one: (isinstance(one, MaximumWait), one.at)):
        due = (demand.due_s >= change.at) & (demand.due_s < change.until)
        if isinstance(change, MaximumWait):
            demand = _waiting(demand, change, due)
        elif isinstance(change, CareBundled):
            demand = _rows(demand, ~(due & _some(demand, change.dropped)))
        elif isinstance(change, EntriesPostponed):
            demand = _postponed(demand, change, due & _some(demand, change.share))
        else:
            raise NotImplementedError(f"what {type(change).__name__} does to entries")
    return demand


def _some(demand: Demand, share: float) -> BoolArray:
    """Return a share of the routine entries; of a larger share they are some of the same."""
    return ~demand.urgent & (demand.mark < round(share * MARKS))


def _waiting(demand: Demand, change: MaximumWait, due: BoolArray) -> Demand:
    if change.entries != "all":
        due = due & (demand.urgent == (change.entries == "urgent"))
    maximum_wait_s = np.where(due, change.wait, demand.maximum_wait_s)
    maximum_wait_s.setflags(write=False)
    return replace(demand, maximum_wait_s=maximum_wait_s)


def _postponed(demand: Demand, change: EntriesPostponed, those: BoolArray) -> Demand:
    due_s = demand.due_s + those * change.by
    order = np.lexsort((np.arange(len(due_s)), ~demand.urgent, due_s))
    return _rows(replace(demand, due_s=due_s), order)


def _rows(demand: Demand, rows: BoolArray | IntArray) -> Demand:
    """Return the demand with some of the entries, or with all of them in another order."""
    columns: dict[str, Any] = {}
    for one in fields(Demand):
        column = getattr(demand, one.name)
        if isinstance(column, np.ndarray) and one.name not in ("shift_end_s", "wearers"):
            columns[one.name] = column[rows]
            columns[one.name].setflags(write=False)
    return replace(demand, **columns)
