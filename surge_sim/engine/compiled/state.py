"""The ward as arrays: one record a thing; field names are those of the reference engine.

Numbers stand for things: a kit, battery, wearer or need is its row. -1 is none.
"""

from __future__ import annotations

from typing import Any, NamedTuple, get_type_hints

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import RunLog
from surge_sim.equipment.numbers import Counts, Rules
from surge_sim.equipment.timeline import InForce

Whole = NDArray[np.int64]
Records = NDArray[Any]


def _record(*fields: str) -> np.dtype[Any]:
    return np.dtype([(field, np.int64) for field in fields])


KIT = _record(
    "state", "shelf_level", "prefilter_no", "prefilter_run_s", "prefilter_life_s", "main_no",
    "main_run_s", "main_life_s", "fault_no", "fault_run_s", "fault_life_s", "repair", "has_hood",
    "has_tube", "battery", "wiper", "need", "fresh", "held", "next", "before",
)  # fmt: skip
BATTERY = _record(
    "state", "charge", "in_bay_s", "full_s", "capacity", "knee_charge", "knee_s", "charge_s",
    "next", "before",
)  # fmt: skip
WEARER = _record("shift_end_s", "busy", "kit", "shift_end_awaited")
#: what the log keeps stands in front; clocked: whether its wait is in the record of causes, 2 while
#: it goes on
NEED = _record(
    *RunLog.NEED_COLUMNS, "due_s", "room_s", "rest_s", "kit", "waiting", "urgent", "late",
    "urgent_late", "in_vain", "clocked", "next", "before",
)  # fmt: skip
#: partly_charged, on_shelf: batteries on the shelf that are not full, and all there;
#: shelf_from: none lies there before this place in the order of what they hold;
#: front_s, swaps_s: seconds that the clocks of the two lines have gone;
#: moved: whether batteries have moved since they were counted, which was for these levels
#: of the two lines, with or without power, with so many away, and holds until enough_s;
#: no_end: row behind that of a need that gets nowhere, or 0;
#: first_row, first_mask: first in line and what it lacked, by the last event of it
WARD = _record(
    "now_s", "moments", "needs", "most_rows", "exhausted", "record", "unresolved", "late",
    "urgent_late", "mask", "wake_s", "kits_ready", "ready_hoods", "ready_tubes", "hoods_away",
    "tubes_away", "kits_away", "batteries_away", "bays_taken", "wiping", "wipes_started",
    "urgent_waiting", "joined", "impatient", "missing", "mask_before", "partly_charged",
    "hour", "hour_end_s", "on_shelf", "shelf_from", "kits_held", "in_repair",
    "clocks_at_s", "front_s", "swaps_s", "moved", "powered", "levels", "own_away",
    "enough_s", "no_end", "events", "telling", "first_row", "first_mask",
)  # fmt: skip
USE = _record("there", "since_s", "peak", "in_hour")
#: single numbers: those that change, in whose place a change says; of rules, and of counts
OF_RULES = tuple(name for name, kind in get_type_hints(Rules).items() if kind is int)
OF_COUNTS = tuple(name for name, kind in get_type_hints(Counts).items() if kind is int)
FIXED = _record(*InForce._fields, *OF_RULES, *OF_COUNTS)
SUPPLY = _record("endless", "spares", "on_order", "reorder_at", "lot", "lead_s", "least_left")

# queues, as rows of `ends`: first the lines, see `Line`; behind these, one for the shelf of each
# level, then one per wearer
WIPE_QUEUE, PREFILTER_QUEUE, MAIN_QUEUE, BAY_QUEUE = range(3, 7)
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
    # as in Timeline
    cut_from_s: Whole
    cut_to_s: Whole
    missed_from_s: Whole
    missed_to_s: Whole
    missed_supply: Whole
    #: changes to come, see `rows_of`
    rows: Whole
    #: batteries from the one that holds most when full; then by number
    by_capacity: Whole
    #: place of each battery in that order
    capacity_rank: Whole
