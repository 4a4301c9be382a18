"""Play one surge from beginning to end in the reference engine."""

from __future__ import annotations

from array import array
from typing import Any

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.engine.log import (
    WIDTH,
    Count,
    Kind,
    Outcome,
    RunLog,
    Score,
    Use,
    alarms_in,
    part_counts,
    stock_outs_in,
)
from surge_sim.engine.reference import charging, line, turnaround, visits
from surge_sim.engine.reference.ward import Need, Process, Ward
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.chance import WorkArrays
from surge_sim.equipment.kits import batteries_to_be_away, kits_to_be_away, place_away
from surge_sim.equipment.numbers import Numbers
from surge_sim.equipment.order import Moment
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, TUBES
from surge_sim.equipment.timeline import AS_USUAL, RUN_IN, InForce


def set_up(
    trace: Demand,
    numbers: Numbers,
    work: WorkArrays,
    most_new_needs: int,
    events: array[int] | None = None,
) -> Ward:
    """Return a ward at second 0, ready to play; `clock.play_until` moves it on."""
    ward = Ward(trace, numbers, work, most_new_needs, settle)
    put_in_place(ward)
    ward.events = events
    turnaround.reorder_all(ward)
    columns = [
        column.tolist()
        for column in (
            trace.due_s, trace.room_s, trace.don_s, trace.doff_s, trace.maximum_wait_s,
            trace.urgent, trace.wearer, trace.hood_torn, trace.tube_torn, trace.large_hood,
        )
    ]  # fmt: skip
    for row, (due, room, don, doff, maximum_wait, urgent, wearer, hood, tube, large) in enumerate(
        zip(*columns, strict=True)
    ):
        who = ward.wearers[wearer] if wearer >= 0 else None
        ward.needs.append(
            Need(row, row, 0, due, room, don, doff, maximum_wait, urgent, who, hood, tube, large)
        )
    ward.clock.process(visits.arrivals(ward))
    ward.clock.process(_changes(ward, numbers.rules.usual))
    return ward


def put_in_place(ward: Ward) -> None:
    """Kits ready and batteries full; what may be borrowed later is still away."""
    n = ward.numbers
    own_kits, own_batteries = n.kits - n.kits_come, n.batteries - n.kits_come - n.batteries_come
    away = kits_to_be_away(n.kits_recalled, own_kits, n.kits_come, n.kits_lent)
    # a stock may have fewer batteries than kits
    batteries_away = batteries_to_be_away(away, n.batteries_come, n.batteries_lent)
    kits, batteries = n.kits - away, max(n.batteries - batteries_away, 0)
    ward.hoods_away = ward.tubes_away = away
    ward.ready_hoods, ward.ready_tubes = n.hoods - away, n.tubes - away
    ward.ready_large_hoods = n.large_hoods
    begin_shelf(ward)
    for kit in ward.kits:
        turnaround.new_kit(ward, kit)
        ward.usage.change(kit.state, 1, 0)
        if kit.number < kits:
            turnaround.to_shelf(ward, kit)
        else:
            ward.kits_away.append(kit)
            ward.enter(kit, Use.KITS_AWAY)
    ward.kits_away.sort(key=lambda one: place_away(one.number, kits, own_kits, n.kits))
    for battery in ward.batteries:
        charging.new_battery(ward, battery)
        ward.usage.change(battery.state, 1, 0)
        if battery.number >= batteries:
            ward.batteries_away.append(battery)
            ward.place(battery, Use.BATTERIES_AWAY)
    ward.batteries_away.sort(
        key=lambda one: place_away(one.number, batteries, own_batteries, n.batteries)
    )


def settle(ward: Ward) -> None:
    """Take every decision of a second, in the written order."""
    turnaround.settle_away(ward)
    line.serve(ward)
    turnaround.start_wipe_downs(ward)
    charging.fill_bays(ward)
    charging.settle_away(ward)
    turnaround.start_workshop(ward)
    if ward.clock.peek() > ward.now_s:
        line.settle_maximum_wait(ward)
    if ward.clock.peek() > ward.now_s:
        line.note_missing(ward)


def _changes(ward: Ward, usual: InForce) -> Process:
    """Let numbers be others from their second on."""
    for at_s, place, value in ward.numbers.rows:
        yield ward.clock.moment(Moment.CHANGE, place, at_s - ward.now_s)
        new = usual[place] if value == AS_USUAL else value
        setattr(ward.numbers, InForce._fields[place], new)
        if place == RUN_IN:
            begin_surge(ward)


def begin_surge(ward: Ward) -> None:
    """The run-in is over: what was counted in it is left out, and everything is where it is."""
    ward.counts = [0] * len(Count)
    begin_shelf(ward)
    turnaround.reorder_all(ward)
    ward.usage.begin_peaks(ward.now_s)


def begin_shelf(ward: Ward) -> None:
    """Note the fewest hoods and tubes that there were on the shelf: as many as there are now."""
    ward.least_left[HOODS], ward.least_left[TUBES] = ward.ready_hoods, ward.ready_tubes
    ward.least_left[LARGE_HOODS] = ward.ready_large_hoods


def finish(ward: Ward) -> None:
    """Close the play: who has no kit in hand by now is left waiting, and late."""
    closing_s = ward.numbers.closing_s
    for need in ward.needs:
        if need.waiting:
            line.end_waiting(ward, need, closing_s)
        if not need.outcome:
            need.need_s = need.due_s if need.need_s < 0 else need.need_s
            need.outcome = Outcome.WAITING_AT_END
            need.wait_s = max(closing_s - need.need_s, 0)
            ward.tell(Kind.WAITING_AT_END, need.need_s, entry=need.entry, second=closing_s)
            line.note_late(ward, need)
    ward.usage.next_hours(closing_s)
    ward.usage.write_hour()
    for use in Use:
        ward.usage.note_peak(use, closing_s)


def play_reference(
    trace: Demand,
    numbers: Numbers,
    work: WorkArrays,
    most_new_needs: int,
    late_limit: int | None = None,
    record: bool = True,
    events: bool = False,
) -> tuple[RunLog | None, Score]:
    """Play one surge.

    Parameters
    ----------
    trace : Demand
        The surge's demand.
    numbers : Numbers
        Settings and stock as whole numbers.
    work : WorkArrays
        Draws that belong to work and items.
    most_new_needs : int
        Room for needs that arise in the play.
    late_limit : int, optional
        Give the play up when more entries than this are late.
    record : bool
        Keep the log.
    events : bool
        Keep all that happens, too; see :mod:`surge_sim.engine.log`.

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
    ward = set_up(trace, numbers, work, most_new_needs, array("q") if events else None)

    def too_late() -> bool:
        return late_limit is not None and ward.late > late_limit

    ward.clock.play_until(numbers.counts.closing_s, too_late)
    if not too_late():
        finish(ward)
    given_up = too_late()
    return _log(ward, given_up) if record else None, _score(ward, given_up)


def _log(ward: Ward, given_up: bool) -> RunLog:
    columns: dict[str, Any] = {
        name: np.array([getattr(need, name) for need in ward.needs], dtype=np.int64)
        for name in RunLog.NEED_COLUMNS
    }
    columns["waited_s"] = np.array([need.waited_s for need in ward.needs], dtype=np.int32).reshape(
        len(ward.needs), CAUSES
    )
    columns["missing_at_s"] = np.array([at_s for at_s, _ in ward.missing], dtype=np.int64)
    columns["missing_mask"] = np.array([mask for _, mask in ward.missing], dtype=np.int64)
    columns["use_area"] = ward.usage.area
    columns["use_peak"] = ward.usage.peak
    columns["counts"] = np.array(ward.counts, dtype=np.int64)
    if ward.events is not None:
        columns["events"] = np.array(ward.events, dtype=np.int64).reshape(-1, WIDTH)
    for column in columns.values():
        column.setflags(write=False)
    return RunLog(**columns, given_up=given_up)


def _score(ward: Ward, given_up: bool) -> Score:
    counts = ward.counts
    return Score(
        entries=ward.trace.entries,
        urgent_entries=int(ward.trace.urgent.sum()),
        late=ward.late,
        urgent_late=ward.urgent_late,
        alarms=alarms_in(counts),
        stock_outs=stock_outs_in(counts),
        given_up=given_up,
        parts=part_counts(counts, ward.least_left),
    )
