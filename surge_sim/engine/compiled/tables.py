"""The tables of a play; their room is lent to the next one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from operator import itemgetter
from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.compiled.state import (
    BATTERY,
    FIXED,
    KIT,
    NEED,
    OF_COUNTS,
    OF_RULES,
    SHELF,
    SUPPLY,
    USE,
    WARD,
    WEARER,
    Entries,
    Fixed,
    Records,
    State,
    Whole,
)
from surge_sim.engine.log import WIDTH, Count, Use
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.numbers import Counts, Numbers, Rules
from surge_sim.units import HOUR_S

#: tables without contents, by name
Room = dict[str, Records]


#: how the single numbers are picked; by place, which is quicker than by name
_OF_RULES = itemgetter(*map(Rules._fields.index, OF_RULES))
_OF_COUNTS = itemgetter(*map(Counts._fields.index, OF_COUNTS))
#: place of the first of the four numbers that do not change in a battery's record
_CELLS = (BATTERY.names or ()).index("capacity")
_NOTHING = np.zeros(4, dtype=np.int64)

#: room that plays have given back: new room would be brought to memory page by page in each play
_ROOM: list[Room] = []
#: more than this is not kept for the next play [bytes]
_MOST_ROOM = 32 * 2**20


@contextmanager
def room() -> Iterator[Room]:
    """Lend the room of an earlier play; whatever runs at the same time gets its own."""
    try:
        tables = _ROOM.pop()
    except IndexError:
        tables = {}
    yield tables
    if sum(table.nbytes for table in tables.values()) <= _MOST_ROOM:
        _ROOM.append(tables)


def _rows(tables: Room, name: str, rows: int, dtype: Any = np.int64) -> Records:
    """Return a table with any contents."""
    table = tables.get(name)
    if table is None or len(table) < rows:
        table = tables[name] = np.empty(rows, dtype=dtype)
    return table[:rows]


def _records(fields: Whole, dtype: np.dtype[Any]) -> Records:
    """Return plain numbers, row after row, as records: made in a fifth of the time so."""
    return np.ndarray(fields.nbytes // dtype.itemsize, dtype, fields)


def _zeros(rows: int, dtype: np.dtype[Any]) -> Records:
    return _records(np.zeros(rows * dtype.itemsize // 8, dtype=np.int64), dtype)


def fixed(numbers: Numbers) -> Fixed:
    """Lay out everything that stays as it is."""
    rules, counts, timeline, in_force = numbers
    single = np.array([*in_force, *_OF_RULES(rules), *_OF_COUNTS(counts)], dtype=np.int64)
    by_capacity = np.argsort(-counts.cells[:, 0], kind="stable")
    return Fixed(
        _records(single, FIXED), single, read_only(np.array(rules.usual, dtype=np.int64)),
        rules.run_time_s, rules.life_ppm, rules.least_charge, timeline.cut_from_s,
        timeline.cut_to_s, timeline.missed_from_s, timeline.missed_to_s, timeline.missed_supply,
        read_only(counts.rows), read_only(by_capacity), read_only(np.argsort(by_capacity)),
    )  # fmt: skip


def read_only(array: Whole) -> Whole:
    """Close a whole array, so that compiled code is made for one kind of array only."""
    array.setflags(write=False)
    return array


def _batteries(numbers: Numbers) -> Records:
    """Return batteries as they are at the start."""
    cells = numbers.counts.cells
    fields = np.zeros((len(cells), len(BATTERY.names or ())), dtype=np.int64)
    fields[:, _CELLS : _CELLS + 4] = cells
    return _records(fields, BATTERY)


def _supplies(numbers: Numbers) -> Records:
    """Return supplies as they are at the start."""
    rules, counts = numbers.rules, numbers.counts
    spares = counts.spares.copy()
    spares[:2] = counts.hoods, counts.tubes
    columns = rules.endless, spares, _NOTHING, counts.reorder_at, rules.lot, rules.lead_s
    fields = np.array((*columns, counts.spares), dtype=np.int64)
    return _records(np.ascontiguousarray(fields.T), SUPPLY)


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only view, so that compiled code is made for one kind of array only."""
    if array.flags.c_contiguous and not array.flags.writeable:
        return array
    view = np.ascontiguousarray(array).view()
    view.flags.writeable = False
    return view


def entry_columns(trace: Demand) -> Entries:
    """Pick the columns of the trace that are read while playing."""
    return Entries(*(frozen(getattr(trace, name)) for name in Entries._fields))


def new_state(
    entries: int,
    shift_end_s: Whole,
    numbers: Numbers,
    most_new_needs: int,
    record: bool,
    tables: Room,
    events: int = 0,
) -> State:
    """Lay out the tables of one play.

    Batteries and supplies are as the surge finds them, and `put_in_place` puts kits and batteries
    in their places; tables in the room lent still hold an earlier play until they are written to.
    """
    rows = entries + most_new_needs
    kits, batteries = numbers.counts.kits, numbers.counts.batteries
    wearers = len(shift_end_s)
    ends = np.empty((SHELF + len(numbers.rules.life_ppm) + wearers, 2), dtype=np.int64)
    ends.fill(-1)
    ward, people = _zeros(1, WARD), _zeros(wearers, WEARER)
    ward["most_rows"] = rows
    ward["record"] = record
    ward["needs"] = ward["unresolved"] = entries
    ward["wake_s"] = -1
    people["shift_end_s"] = shift_end_s
    hours = -(-numbers.counts.horizon_s // HOUR_S)
    masks = 4 * rows + 1_024 if record else 1
    return State(
        ward=ward,
        kits=_zeros(kits, KIT),
        batteries=_batteries(numbers),
        wearers=people,
        needs=_rows(tables, "needs", rows, NEED),
        supplies=_supplies(numbers),
        ends=ends,
        heap=_rows(tables, "heap", 4 * rows + 8 * (kits + batteries) + 1_024),
        away=np.zeros((2, max(kits, batteries, 1)), dtype=np.int64),
        joined=_rows(tables, "joined", rows + 1),
        impatient=_rows(tables, "impatient", rows + 1),
        causes=np.zeros(4 * CAUSES if record else 0, dtype=np.int64),
        waited_s=_rows(tables, "waited_s", rows * CAUSES if record else 1, np.int32),
        missing_at_s=_rows(tables, "missing_at_s", masks),
        missing_mask=_rows(tables, "missing_mask", masks),
        events=np.empty((events, WIDTH), dtype=np.int64),
        counts=np.zeros(len(Count), dtype=np.int64),
        use=_zeros(len(Use), USE),
        use_area=np.zeros((len(Use), hours if record else 0), dtype=np.int64),
    )
