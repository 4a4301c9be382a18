"""The tables of a play: what does not change is kept for the next play, and so is their room."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.trace import DemandTrace
from surge_sim.engine.compiled.state import (
    AWAY,
    BATTERY,
    FIXED,
    KIT,
    LEVEL,
    NEED,
    SHELF,
    STEP,
    SUPPLY,
    USE,
    WARD,
    WEARER,
    WINDOW,
    Entries,
    Fixed,
    Records,
    State,
    Whole,
)
from surge_sim.engine.log import Count, Use
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.numbers import Numbers
from surge_sim.units import HOUR_S

#: tables without contents, by name
Room = dict[str, Records]


class Prepared(NamedTuple):
    """What follows from the numbers alone; batteries and supplies as they are at the start.

    The latter as plain numbers, row after row, which are copied in a tenth of the time.
    """

    fixed: Fixed
    batteries: Whole
    supplies: Whole


#: what was prepared lately, by the numbers' identity; it takes a tenth of a small surge's play
_LATELY: dict[int, tuple[Numbers, Prepared]] = {}
_MOST_KEPT = 128

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


def prepared(numbers: Numbers) -> Prepared:
    """Bring the numbers to records; kept for later plays."""
    kept = _LATELY.get(id(numbers))
    if kept is not None and kept[0] is numbers:
        return kept[1]
    batteries = np.zeros(numbers.batteries, dtype=BATTERY)
    for name in ("capacity", "knee_charge", "knee_s", "charge_s"):
        batteries[name] = getattr(numbers, name)
    supplies = _table(
        SUPPLY, numbers.endless, numbers.spares, 0, numbers.reorder_at, numbers.lot,
        numbers.lead_s, numbers.spares,
    )  # fmt: skip
    supplies["spares"][:2] = numbers.hoods, numbers.tubes
    found = Prepared(_fixed(numbers), batteries.view(np.int64), supplies.view(np.int64))
    if len(_LATELY) >= _MOST_KEPT:
        _LATELY.clear()
    _LATELY[id(numbers)] = numbers, found
    return found


def _fixed(numbers: Numbers) -> Fixed:
    by_capacity = np.argsort(-numbers.capacity, kind="stable")
    n = np.zeros(1, dtype=FIXED)
    for name in FIXED.names or ():
        n[name] = getattr(numbers, name)
    return Fixed(
        n=n,
        levels=_table(LEVEL, numbers.run_time_s, numbers.life_ppm, numbers.least_charge),
        bays_out=_table(STEP, numbers.bays_out_s, numbers.bays_out),
        cuts=_table(WINDOW, numbers.cut_from_s, numbers.cut_to_s, 0),
        missed=_table(WINDOW, numbers.missed_from_s, numbers.missed_to_s, numbers.missed_supply),
        bad_prefilters=_table(
            WINDOW,
            numbers.bad_prefilter_from_s,
            numbers.bad_prefilter_to_s,
            numbers.bad_prefilter_ppm,
        ),
        bad_mains=_table(
            WINDOW, numbers.bad_main_from_s, numbers.bad_main_to_s, numbers.bad_main_ppm
        ),
        away=_table(AWAY, numbers.away_s, numbers.away_kits, numbers.away_not_lent),
        wipers=_table(STEP, numbers.wipers_s, numbers.wipers),
        rounds=_table(STEP, numbers.round_s, numbers.round_return_s),
        tick_s=frozen(numbers.tick_s),
        by_capacity=frozen(by_capacity),
        capacity_rank=frozen(np.argsort(by_capacity)),
    )


def _table(dtype: np.dtype[Any], *columns: Any) -> Records:
    names = dtype.names or ()
    table = np.zeros(len(columns[0]), dtype=dtype)
    for name, column in zip(names, columns, strict=True):
        table[name] = column
    return table


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only view, so that compiled code is made for one kind of array only."""
    if array.flags.c_contiguous and not array.flags.writeable:
        return array
    view = np.ascontiguousarray(array).view()
    view.flags.writeable = False
    return view


def entry_columns(trace: DemandTrace) -> Entries:
    """Pick the columns of the trace that are read while playing."""
    return Entries(*(frozen(getattr(trace, name)) for name in Entries._fields))


def new_state(
    entries: int,
    shift_end_s: Whole,
    numbers: Numbers,
    most_new_needs: int,
    record: bool,
    tables: Room,
) -> State:
    """Lay out the tables of one play.

    Batteries and supplies are as the surge finds them, and `put_in_place` puts kits and batteries
    in their places; tables in the room lent still hold an earlier play until they are written to.
    """
    rows = entries + most_new_needs
    kits, batteries, wearers = numbers.kits, numbers.batteries, len(shift_end_s)
    ends = np.empty((SHELF + len(numbers.life_ppm) + wearers, 2), dtype=np.int64)
    ends.fill(-1)
    start = prepared(numbers)
    ward, people = _zeros(1, WARD), _zeros(wearers, WEARER)
    ward["most_rows"] = rows
    ward["record"] = record
    ward["needs"] = ward["unresolved"] = entries
    ward["wake_s"] = -1
    people["shift_end_s"] = shift_end_s
    hours = -(-numbers.horizon_s // HOUR_S)
    masks = 4 * rows + 1_024 if record else 1
    return State(
        ward=ward,
        kits=_zeros(kits, KIT),
        batteries=_records(start.batteries.copy(), BATTERY),
        wearers=people,
        needs=_rows(tables, "needs", rows, NEED),
        supplies=_records(start.supplies.copy(), SUPPLY),
        ends=ends,
        heap=_rows(tables, "heap", 4 * rows + 8 * (kits + batteries) + 1_024),
        away=np.zeros((2, max(kits, batteries, 1)), dtype=np.int64),
        joined=_rows(tables, "joined", rows + 1),
        impatient=_rows(tables, "impatient", rows + 1),
        causes=np.zeros(4 * CAUSES if record else 0, dtype=np.int64),
        waited_s=_rows(tables, "waited_s", rows * CAUSES if record else 1, np.int32),
        missing_at_s=_rows(tables, "missing_at_s", masks),
        missing_mask=_rows(tables, "missing_mask", masks),
        counts=np.zeros(len(Count), dtype=np.int64),
        use=_zeros(len(Use), USE),
        use_area=np.zeros((len(Use), hours if record else 0), dtype=np.int64),
    )
