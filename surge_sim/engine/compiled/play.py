"""Play one surge from beginning to end in the compiled engine."""

from __future__ import annotations

from typing import Any, get_type_hints

import numpy as np
from numba import njit
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.compiled import begin, charging, line, turnaround, visits, waiting
from surge_sim.engine.compiled.basics import (
    INLINE,
    NONE,
    ONCE,
    ONE,
    OPTIONS,
    ZERO,
    const,
    kind_of,
    next_hours,
    next_moment,
    note_peak,
    number_of,
    second_of,
    tell,
    write_hour,
)
from surge_sim.engine.compiled.compiler import keep, pointer_to
from surge_sim.engine.compiled.state import (
    BAY_QUEUE,
    HE_QUEUE,
    PREFILTER_QUEUE,
    WIPE_QUEUE,
    Entries,
    State,
    buffers,
    entry_columns,
    fixed,
    frozen,
    new_state,
    read_only,
)
from surge_sim.engine.log import (
    Exhausted,
    Kind,
    NoEnd,
    Outcome,
    RunLog,
    Score,
    Use,
    alarms_in,
    part_counts,
    stock_outs_in,
)
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.chance import WorkArrays
from surge_sim.equipment.numbers import Counts, Numbers, Rules
from surge_sim.equipment.order import Moment
from surge_sim.equipment.timeline import AS_USUAL as USUAL
from surge_sim.equipment.timeline import NOTHING_CHANGES, InForce
from surge_sim.equipment.timeline import RUN_IN as RUN_IN_PLACE

USES = const(len(Use))
NO_LIMIT, AS_USUAL, RUN_IN = const(2**40), const(USUAL), const(RUN_IN_PLACE)
#: room for events in the first try
_EVENTS_AN_ENTRY = 32


@njit(**ONCE)
def make_change(s, f, e, work, kind, number):
    """Make one change of a second."""
    if kind == Moment.CHECKED:
        visits.checked(s, f, e, work, number)
    elif kind == Moment.LEAVE:
        visits.leave(s, f, e, work, number)
    elif kind == Moment.WIPED:
        wiper = turnaround.wiped(s, f, number)
        if wiper >= 0:
            visits.wearer_free(s, f, e, wiper)
    elif kind == Moment.READY:
        turnaround.dry(s, f, work, number)
    elif kind == Moment.CARRIED:
        visits.carried(s, f, e, number)
    elif kind == Moment.CHARGED:
        charging.charged(s, f, number)
    elif kind == Moment.BATTERY_READY:
        charging.battery_ready(s, f, work, number)
    elif kind == Moment.BAY_ROUND:
        charging.bay_round(s, f, number)
    elif kind == Moment.WEARER_FREE:
        visits.wearer_free(s, f, e, number)
    elif kind == Moment.MAXIMUM_WAIT_OVER:
        line.maximum_wait_over(s, number)
    elif kind == Moment.DUE_AGAIN:
        visits.becomes_due(s, f, e, number)
    elif kind == Moment.SHIFT_END:
        visits.shift_end(s, f, e, number)
    elif kind == Moment.DELIVERY:
        turnaround.delivery(s, number)
    elif kind == Moment.BACK_IN_SERVICE:
        turnaround.back_in_service(s, f, work, number)


@njit(**ONCE)
def settle(s, f, e, work):
    """Take every decision of a second, in the written order; skip what has nothing to decide."""
    ward, ends = s.ward[0], s.ends
    if f.n[0].moves:
        turnaround.settle_away(s, f)
    ward.mask = ZERO
    if line.is_waiting(s):
        line.serve(s, f)
    if ward.joined:
        line.await_maximum_wait(s, e)
    if ends[WIPE_QUEUE, 0] >= 0:
        turnaround.start_wipe_downs(s, f, work)
    if ends[BAY_QUEUE, 0] >= 0 or ward.bays_taken > charging.working_bays(f):
        charging.fill_bays(s, f)
        if f.n[0].moves:
            charging.settle_batteries_away(s, f)
    if ends[PREFILTER_QUEUE, 0] >= 0 or ends[HE_QUEUE, 0] >= 0:
        turnaround.start_workshop(s, f)
    if ward.impatient and not more_this_second(s):
        visits.settle_maximum_wait(s, f, e)
        # who was behind them may have taken a battery out of a bay
        if ends[BAY_QUEUE, 0] >= 0 and not more_this_second(s):
            charging.fill_bays(s, f)
    if (ward.mask_before or line.is_waiting(s)) and not more_this_second(s):
        line.note_missing(s, f)


@njit(**INLINE)
def change_number(s, f, place, value):
    """Let a number be another from this second on."""
    f.numbers[place] = f.usual[place] if value == AS_USUAL else value
    s.ward[0].moved = 1
    if place == RUN_IN:
        begin.begin_surge(s, f)


@njit(**INLINE)
def more_this_second(s):
    """Whether a change of this very second is still to be made."""
    ward = s.ward[0]
    return ward.moments and second_of(s.heap[0]) <= ward.now_s


@keep
@njit(error_model="numpy", nogil=True)
def play_through(state, numbers, entries, draws, late_limit):
    """Play every second until the closing, or until too many are late."""
    s, f, e, work = pointer_to(state), pointer_to(numbers), pointer_to(entries), pointer_to(draws)
    play_all(s, f, e, work, late_limit)


@njit(**ONCE)
def play_all(s, f, e, work, late_limit):
    """Play every second."""
    ward, n = s.ward[0], f.n[0]
    begin.put_in_place(s, f, e, work)
    ward.first_row, ward.telling = NONE, ONE * (len(s.events) > 0)
    turnaround.reorder_all(s, f)
    due, row, entries, rows = ZERO, ZERO, len(e.due_s), len(f.rows)
    while True:
        moment_s = second_of(s.heap[0]) if ward.moments else NO_LIMIT
        due_s = e.due_s[due] if due < entries else NO_LIMIT
        row_s = f.rows[row, 0] if row < rows else NO_LIMIT
        now_s = min(moment_s, due_s, row_s)
        if now_s > n.closing_s:
            break
        ward.now_s = now_s
        if row_s == now_s:
            change_number(s, f, f.rows[row, 1], f.rows[row, 2])
            row += ONE
        elif moment_s == now_s:
            key = next_moment(s)
            make_change(s, f, e, work, kind_of(key), number_of(key))
        else:
            visits.first_need(s, e, due)
            visits.becomes_due(s, f, e, due)
            due += ONE
        if (
            (ward.moments and second_of(s.heap[0]) == now_s)
            or (due < entries and e.due_s[due] == now_s)
            or (row < rows and f.rows[row, 0] == now_s)
        ):
            continue
        settle(s, f, e, work)
        if ward.exhausted or ward.no_end:
            return
        if more_this_second(s):
            continue
        if ward.late > late_limit:
            break
    if ward.late <= late_limit:
        finish(s, f, e, due)


@njit(**OPTIONS)
def finish(s, f, e, due):
    """Close the play: who has no kit in hand by now is left waiting, and late."""
    ward, n = s.ward[0], f.n[0]
    ward.now_s = n.closing_s
    for row in range(due, len(e.due_s)):
        visits.first_need(s, e, row)
    for row in range(ward.needs):
        nd = s.needs[row]
        if not nd.outcome:
            if nd.need_s < 0:
                nd.need_s = nd.due_s
            nd.outcome = Outcome.WAITING_AT_END
            nd.wait_s = max(n.closing_s - nd.need_s, 0)
            tell(s, Kind.WAITING_AT_END, nd.entry, one=nd.need_s)
            line.note_late(s, f, row)
        if nd.clocked == waiting.CLOCK_RUNS:
            waiting.end(s, row)
    if ward.record:
        next_hours(s, f)
        write_hour(s)
        for use in range(USES):
            note_peak(s, f, use)


def play_compiled(
    demand: Demand,
    numbers: Numbers,
    work: WorkArrays,
    most_new_needs: int,
    late_limit: int | None = None,
    record: bool = True,
    events: bool = False,
) -> tuple[RunLog | None, Score]:
    """Play one surge; the log only when `record` is set.

    Parameters
    ----------
    demand, numbers, work, most_new_needs, late_limit, record, events
        As in :func:`surge_sim.engine.reference.play.play_reference`.

    Returns
    -------
    RunLog or None, Score

    Raises
    ------
    Exhausted
        The draws or the room for new needs did not suffice.
    NoEnd
        A visit is interrupted again and again and gets nowhere.
    """
    limit = int(NO_LIMIT) if late_limit is None else late_limit
    draws = WorkArrays(*map(frozen, work))
    most_events = _EVENTS_AN_ENTRY * (demand.entries + 1) if events else 0
    with buffers() as lent:
        while True:
            state = new_state(
                demand.entries, len(demand.shift_end_s), numbers, most_new_needs, record, lent,
                most_events,
            )  # fmt: skip
            play_through(state, fixed(numbers), entry_columns(demand), draws, limit)
            ward = state.ward[0]
            if ward["events"] <= most_events:
                break
            most_events = int(ward["events"])  # counted to the end
        given_up = bool(ward["late"] > limit)
        if ward["no_end"]:
            raise _no_end(state)
        log = _log(state, given_up) if record and not ward["exhausted"] else None
    if ward["exhausted"]:
        raise Exhausted("draws or room for new needs")
    counts = state.counts.tolist()
    return log, Score(
        entries=demand.entries,
        urgent_entries=int(demand.urgent.sum()),
        late=int(ward["late"]),
        urgent_late=int(ward["urgent_late"]),
        alarms=alarms_in(counts),
        stock_outs=stock_outs_in(counts),
        given_up=given_up,
        parts=part_counts(counts, state.supplies["least_left"].tolist()),
    )


def _no_end(state: State) -> NoEnd:
    """Say of which need the play got nowhere."""
    need = state.needs[int(state.ward[0]["no_end"]) - 1]
    names = ("end_s", "entry", "alarm", "blower", "battery")
    return NoEnd(*(int(need[name]) for name in names))


def _log(state: State, given_up: bool) -> RunLog:
    """Copy what was found out of the tables, whose room the next play takes."""
    ward = state.ward[0]
    needs, masks, names = int(ward["needs"]), int(ward["missing"]), RunLog.NEED_COLUMNS
    fields = state.needs.view(np.int64).reshape(len(state.needs), -1)
    of_needs = fields[:needs, : len(names)].T.copy()
    of_needs.setflags(write=False)
    others: dict[str, Any] = {
        "waited_s": _waited(state, needs),
        "missing_at_s": state.missing_at_s[:masks].copy(),
        "missing_mask": state.missing_mask[:masks].copy(),
        "use_area": state.use_area,
        "use_peak": state.use["peak"].copy(),
        "counts": state.counts,
    }
    if len(state.events):
        others["events"] = state.events[: int(ward["events"])]
    for column in others.values():
        column.setflags(write=False)
    return RunLog(**dict(zip(names, of_needs, strict=True)), **others, given_up=given_up)


def _waited(state: State, needs: int) -> NDArray[np.int32]:
    """Seconds that each need waited by cause; the rows of most needs were never written to."""
    waited_s = np.zeros((needs, CAUSES), dtype=np.int32)
    rows = state.needs["clocked"][:needs].nonzero()[0]
    waited_s[rows] = state.waited_s[: needs * CAUSES].reshape(needs, CAUSES)[rows]
    return waited_s


def compile_now() -> None:
    """Compile, or read what was compiled before; what is played has one kind of arrays only."""
    if play_through.signatures:
        return
    none = np.zeros(0, dtype=np.int64)
    nobody = np.zeros(0, dtype=np.bool_)
    numbers = Numbers(_blank(Rules), _blank(Counts), NOTHING_CHANGES, InForce())
    yes_no = ("urgent", "hood_torn", "tube_torn", "large_hood")
    entries: list[Any] = [nobody if name in yes_no else none for name in Entries._fields]
    table = np.zeros((0, 0), dtype=np.int64)
    work = WorkArrays(none, table, table, none, none, table, table, table, table)
    state = new_state(0, 0, numbers, 0, False, {})
    draws = WorkArrays(*map(frozen, work))
    columns = Entries(*map(frozen, entries))
    play_through(state, fixed(numbers), columns, draws, int(NO_LIMIT))


def _blank(kind: Any) -> Any:
    """Return numbers of nothing."""
    four = np.zeros((4, 4), dtype=np.int64)
    rows = NOTHING_CHANGES.rows
    values = {"cells": four, "fleet": four, "rows": rows, "usual": InForce()}
    return kind(
        **{
            name: 0 if of is int else values.get(name, read_only(four[0].copy()))
            for name, of in get_type_hints(kind).items()
        }
    )
