"""The ward as tables: one record a thing; field names are those of the reference engine.

Numbers stand for things: a kit, battery, wearer or need is its row. -1 is none. The room of the
tables is lent to the next play.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from operator import itemgetter
from typing import Any, NamedTuple, get_type_hints

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.log import WIDTH, Count, RunLog, Use
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.numbers import Counts, Numbers, Rules
from surge_sim.equipment.order import SUPPLIES
from surge_sim.equipment.timeline import InForce
from surge_sim.units import HOUR_S

Whole = NDArray[np.int64]
Records = NDArray[Any]


def _record(*fields: str) -> np.dtype[Any]:
    return np.dtype([(field, np.int64) for field in fields])


KIT = _record(
    "state", "shelf_level", "prefilter_no", "prefilter_run_s", "prefilter_life_s", "main_no",
    "he_run_s", "he_life_s", "failure_no", "failure_run_s", "failure_life_s", "repair", "has_hood",
    "large_hood", "has_tube", "battery", "wiper", "carrier", "brought", "fetched_s", "need",
    "fresh", "held", "next", "before",
)  # fmt: skip
BATTERY = _record(
    "state", "charge", "in_bay_s", "full_s", "capacity", "cc_charge", "cc_s", "charge_s",
    "since_s", "ready_s", "failure_no", "failure_run_s", "failure_life_s", "next", "before",
)  # fmt: skip
WEARER = _record("busy", "kit", "keeps", "round_s", "shift_end_awaited")
#: what the log keeps stands in front; clocked: whether its wait is in the record of causes, 2 while
#: it goes on
NEED = _record(
    *RunLog.NEED_COLUMNS, "due_s", "room_s", "rest_s", "kit", "waiting", "urgent", "late",
    "urgent_late", "in_vain", "clocked", "mark", "large_hood",
    "next", "before",
)  # fmt: skip
#: front_s, swaps_s: seconds that the clocks of the two lines have gone;
#: moved: whether batteries have moved since they were counted, which was for these levels
#: of the two lines, with or without power, with so many away, and holds until enough_s;
#: no_end: row behind that of a need that gets nowhere, or 0;
#: mask, first_lacks: what those lack who could be next, and what the first in line lacks;
#: first_row, first_mask: first in line and what it lacked, by the last event of it
WARD = _record(
    "now_s", "moments", "needs", "exhausted", "record", "late",
    "urgent_late", "mask", "wake_s", "kits_ready", "ready_hoods", "ready_tubes",
    "ready_large_hoods", "first_lacks", "hoods_away",
    "tubes_away", "kits_away", "batteries_away", "bays_taken", "wiping", "wipes_started",
    "urgent_waiting", "joined", "impatient", "missing", "mask_before",
    "hour", "hour_end_s", "kits_held", "in_repair",
    "clocks_at_s", "front_s", "swaps_s", "moved", "powered", "levels", "own_away",
    "enough_s", "no_end", "events", "telling", "first_row", "first_mask",
)  # fmt: skip
USE = _record("there", "since_s", "peak", "in_hour")
#: single numbers: those that change, in whose place a change says; of rules, and of counts
OF_RULES = tuple(name for name, kind in get_type_hints(Rules).items() if kind is int)
OF_COUNTS = tuple(name for name, kind in get_type_hints(Counts).items() if kind is int)
FIXED = _record(*InForce._fields, *OF_RULES, *OF_COUNTS)
SUPPLY = _record("spares", "on_order", "least_left")

# queues, as rows of `ends`: first the lines, see `Line`; behind these, one for the shelf of each
# level, then one per wearer
WIPE_QUEUE, PREFILTER_QUEUE, HE_QUEUE, BAY_QUEUE, BATTERY_SHELF = range(3, 8)
SHELF = 8


class Entries(NamedTuple):
    """The columns of the trace that are read while playing, shape (entries,)."""

    due_s: Whole
    room_s: Whole
    don_s: Whole
    doff_s: Whole
    maximum_wait_s: Whole
    urgent: NDArray[np.bool_]
    wearer: Whole
    hood_torn: NDArray[np.bool_]
    tube_torn: NDArray[np.bool_]
    large_hood: NDArray[np.bool_]
    mark: Whole
    #: shape (wearers,)
    shift_end_s: Whole


class State(NamedTuple):
    """Everything that changes while a surge is played."""

    ward: Records
    kits: Records
    batteries: Records
    wearers: Records
    needs: Records
    supplies: Records
    #: first and last of every queue, shape (queues, 2)
    ends: Whole
    #: keys of the moments to come, a binary heap
    heap: Whole
    #: kits and batteries that are away, two stacks, shape (2, most)
    away: Whole
    joined: Whole
    impatient: Whole
    #: by line (waiting.FRONT and SWAPS) and cause: things missing, then, from waiting.CLOCKS on,
    #: seconds that it cost; shape (4 x causes,)
    causes: Whole
    #: seconds that each need waited in line by cause, shape (rows x causes,), if it is `clocked`
    waited_s: NDArray[np.int32]
    missing_at_s: Whole
    missing_mask: Whole
    #: all that happens, see `log.Kind`, shape (events, WIDTH); no rows: nobody asked for it
    events: Whole
    counts: Whole
    use: Records
    #: item-seconds by state and hour
    use_area: Whole


class Fixed(NamedTuple):
    """Numbers of the unit and what changes them; all but `n` stays as it is."""

    n: Records
    #: the same numbers one after the other, and how those that change are usually
    numbers: Whole
    usual: Whole
    # as in Rules
    run_time_s: Whole
    life_ppm: Whole
    least_charge: Whole
    end_of_charge: Whole
    endless: Whole
    lot: Whole
    lead_s: Whole
    # as in Counts
    cells: Whole
    spares: Whole
    reorder_point: Whole
    #: changes to come, see `rows_of`
    rows: Whole
    # as in Timeline
    cut_from_s: Whole
    cut_to_s: Whole
    missed_from_s: Whole
    missed_to_s: Whole
    missed_supply: Whole


#: tables without contents, by name
Buffers = dict[str, Records]


#: how the single numbers are picked; by place, which is quicker than by name
_OF_RULES = itemgetter(*map(Rules._fields.index, OF_RULES))
_OF_COUNTS = itemgetter(*map(Counts._fields.index, OF_COUNTS))

_COUNTS, USES = len(Count), len(Use)

#: room that plays have given back: new room would be brought to memory page by page in each play
_POOL: list[Buffers] = []
#: more than this is not kept for the next play [bytes]
_MOST_POOLED = 32 * 2**20


@contextmanager
def buffers() -> Iterator[Buffers]:
    """Lend the buffers of an earlier play; whatever runs at the same time gets its own."""
    try:
        tables = _POOL.pop()
    except IndexError:
        tables = {}
    yield tables
    if sum(table.nbytes for table in tables.values()) <= _MOST_POOLED:
        _POOL.append(tables)


def _rows(tables: Buffers, name: str, rows: int, dtype: Any = np.int64) -> Records:
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
    columns = (
        np.array(rules.usual, dtype=np.int64), rules.run_time_s, rules.life_ppm,
        rules.least_charge, rules.end_of_charge, rules.endless, rules.lot, rules.lead_s,
        counts.cells, counts.spares, counts.reorder_point, counts.rows, timeline.cut_from_s,
        timeline.cut_to_s, timeline.missed_from_s, timeline.missed_to_s, timeline.missed_supply,
    )  # fmt: skip
    # what came from another process may have become writable on the way
    return Fixed(_records(single, FIXED), single, *map(frozen, columns))


def read_only(array: Whole) -> Whole:
    """Close a whole array, so that compiled code is made for one kind of array only."""
    array.setflags(write=False)
    return array


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
    wearers: int,
    numbers: Numbers,
    most_new_needs: int,
    record: bool,
    tables: Buffers,
    events: int = 0,
) -> State:
    """Lay out the tables of one play, which `put_in_place` fills as the surge finds them.

    Tables in the room lent still hold an earlier play until they are written to.
    """
    rows, counts = entries + most_new_needs, numbers.counts
    kits, batteries = counts.kits, counts.batteries
    hours = -(-counts.horizon_s // HOUR_S)
    masks = 4 * rows + 1_024 if record else 1
    return State(
        ward=_zeros(1, WARD),
        kits=_zeros(kits, KIT),
        batteries=_zeros(batteries, BATTERY),
        wearers=_zeros(wearers, WEARER),
        needs=_rows(tables, "needs", rows, NEED),
        supplies=_zeros(SUPPLIES, SUPPLY),
        ends=np.full((SHELF + len(numbers.rules.life_ppm) + wearers, 2), -1),
        heap=_rows(tables, "heap", 4 * rows + 8 * (kits + batteries) + 1_024),
        away=np.zeros((2, max(kits, batteries, 1)), dtype=np.int64),
        joined=_rows(tables, "joined", rows + 1),
        impatient=_rows(tables, "impatient", rows + 1),
        causes=np.zeros(4 * CAUSES if record else 0, dtype=np.int64),
        waited_s=_rows(tables, "waited_s", rows * CAUSES if record else 1, np.int32),
        missing_at_s=_rows(tables, "missing_at_s", masks),
        missing_mask=_rows(tables, "missing_mask", masks),
        events=np.empty((events, WIDTH), dtype=np.int64),
        counts=np.zeros(_COUNTS, dtype=np.int64),
        use=_zeros(USES, USE),
        use_area=np.zeros((USES, hours if record else 0), dtype=np.int64),
    )
