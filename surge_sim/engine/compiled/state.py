"""The ward as arrays: one record a thing; field names are those of the reference engine.

Numbers stand for things: a kit, battery, wearer or need is its row. -1 is none.
"""

from __future__ import annotations

from typing import Any, NamedTuple, get_type_hints

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.trace import DemandTrace
from surge_sim.engine.log import Count, Use
from surge_sim.equipment.numbers import Numbers
from surge_sim.units import HOUR_S

Whole = NDArray[np.int64]
Records = NDArray[Any]


def _record(*fields: str) -> np.dtype[Any]:
    return np.dtype([(field, np.int64) for field in fields])


KIT = _record(
    "state", "shelf_level", "prefilter_no", "prefilter_run_s", "prefilter_life_s", "main_no",
    "main_run_s", "main_life_s", "fault_no", "fault_run_s", "fault_life_s", "repair", "has_hood",
    "has_tube", "battery", "wiper", "need", "fresh", "next", "before",
)  # fmt: skip
BATTERY = _record(
    "state", "charge", "in_bay_s", "full_s", "capacity", "knee_charge", "knee_s", "charge_s",
    "next", "before",
)  # fmt: skip
WEARER = _record("shift_end_s", "busy", "kit", "shift_end_awaited")
NEED = _record(
    "entry", "part", "due_s", "room_s", "need_s", "wait_s", "in_hand_s", "end_s", "outcome",
    "alarm", "blower", "battery", "level", "failed_checks", "worn_s", "rest_s", "kit", "waiting",
    "urgent", "late", "urgent_late", "next", "before",
)  # fmt: skip
WARD = _record(
    "now_s", "moments", "needs", "most_rows", "exhausted", "record", "unresolved", "late",
    "urgent_late", "mask", "wake_s", "kits_ready", "ready_hoods", "ready_tubes", "hoods_away",
    "tubes_away", "kits_away", "batteries_away", "bays_taken", "wiping", "wipes_started",
    "urgent_waiting", "joined", "impatient", "missing", "mask_before", "partly_charged",
    "crew_step",
)  # fmt: skip
#: scalars of Numbers that the engine reads
FIXED = _record(*(name for name, kind in get_type_hints(Numbers).items() if kind is int))
LEVEL = _record("run_time_s", "life_ppm", "least_charge")
SUPPLY = _record("endless", "spares", "on_order", "reorder_at", "lot", "lead_s")
WINDOW = _record("from_s", "to_s", "value")
STEP = _record("at_s", "value")

# queues, as rows of `ends`; behind them one for the shelf of each level, then one per wearer
URGENT_LINE, SWAP_LINE, ROUTINE_LINE, WIPE_QUEUE, PREFILTER_QUEUE, MAIN_QUEUE, BAY_QUEUE = range(7)
SHELF = 7


class Entries(NamedTuple):
    """The columns of the trace, shape (entries,), that are read while playing."""

    due_s: Whole
    room_s: Whole
    don_s: Whole
    doff_s: Whole
    patience_s: Whole
    urgent: NDArray[np.bool_]
    wearer: Whole
    hood_torn: NDArray[np.bool_]
    tube_torn: NDArray[np.bool_]


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
    missing_at_s: Whole
    missing_mask: Whole
    counts: Whole
    #: now there, since when, peak; shape (3, states)
    use: Whole
    use_area: Whole


class Fixed(NamedTuple):
    """Everything that stays as it is while a surge is played."""

    n: Records
    levels: Records
    cuts: Records
    missed: Records
    bad_prefilters: Records
    bad_mains: Records
    away: Records
    wipers: Records
    rounds: Records
    tick_s: Whole
    #: batteries from the one that holds most when full; then by number
    by_capacity: Whole


def _table(dtype: np.dtype[Any], *columns: Any) -> Records:
    names = dtype.names or ()
    table = np.zeros(len(columns[0]), dtype=dtype)
    for name, column in zip(names, columns, strict=True):
        table[name] = column
    return table


def fixed_tables(numbers: Numbers) -> Fixed:
    """Bring the numbers to records."""
    n = np.zeros(1, dtype=FIXED)
    for name in FIXED.names or ():
        n[name] = getattr(numbers, name)
    return Fixed(
        n=n,
        levels=_table(LEVEL, numbers.run_time_s, numbers.life_ppm, numbers.least_charge),
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
        away=_table(STEP, numbers.away_s, numbers.away_kits),
        wipers=_table(STEP, numbers.wipers_s, numbers.wipers),
        rounds=_table(STEP, numbers.round_s, numbers.round_return_s),
        tick_s=frozen(numbers.tick_s),
        by_capacity=frozen(np.argsort(-numbers.capacity, kind="stable")),
    )


def frozen(array: NDArray[Any]) -> NDArray[Any]:
    """Return a read-only view, so that compiled code is made for one kind of array only."""
    view = np.ascontiguousarray(array).view()
    view.flags.writeable = False
    return view


def entry_columns(trace: DemandTrace) -> Entries:
    """Pick the columns of the trace that are read while playing."""
    return Entries(*(frozen(getattr(trace, name)) for name in Entries._fields))


def new_state(
    entries: int, shift_end_s: Whole, numbers: Numbers, most_new_needs: int, record: bool
) -> State:
    """Lay out empty tables; `put_in_place` fills them."""
    rows = entries + most_new_needs
    kits, batteries, wearers = numbers.kits, numbers.batteries, len(shift_end_s)
    ward = np.zeros(1, dtype=WARD)
    ward["most_rows"] = rows
    ward["record"] = record
    ward["needs"] = ward["unresolved"] = entries
    ward["wake_s"] = -1
    fleet = np.zeros(batteries, dtype=BATTERY)
    for name in ("capacity", "knee_charge", "knee_s", "charge_s"):
        fleet[name] = getattr(numbers, name)
    people = np.zeros(wearers, dtype=WEARER)
    people["shift_end_s"] = shift_end_s
    supplies = _table(
        SUPPLY, numbers.endless, numbers.spares, 0, numbers.reorder_at, numbers.lot, numbers.lead_s
    )
    supplies["spares"][:2] = numbers.hoods, numbers.tubes
    hours = -(-numbers.horizon_s // HOUR_S)
    masks = 4 * rows + 1_024 if record else 1
    return State(
        ward=ward,
        kits=np.zeros(kits, dtype=KIT),
        batteries=fleet,
        wearers=people,
        needs=np.empty(rows, dtype=NEED),
        supplies=supplies,
        ends=np.full((SHELF + len(numbers.life_ppm) + wearers, 2), -1, dtype=np.int64),
        heap=np.empty(4 * rows + 8 * (kits + batteries) + 1_024, dtype=np.int64),
        away=np.zeros((2, max(kits, batteries, 1)), dtype=np.int64),
        joined=np.empty(rows + 1, dtype=np.int64),
        impatient=np.empty(rows + 1, dtype=np.int64),
        missing_at_s=np.empty(masks, dtype=np.int64),
        missing_mask=np.empty(masks, dtype=np.int64),
        counts=np.zeros(len(Count), dtype=np.int64),
        use=np.zeros((3, len(Use)), dtype=np.int64),
        use_area=np.zeros((len(Use), hours if record else 0), dtype=np.int64),
    )
