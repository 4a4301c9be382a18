"""Entries of staff: routine visits, urgent teams, terminal cleans; one table for all of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.draws import Kind, SurgeStreams
from surge_sim.demand.patients import DIVERTED, Patients
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.demand.spread import Fitted, Lot, sample_lots
from surge_sim.randomness import Purpose
from surge_sim.scenario.quantities import Share
from surge_sim.scenario.schema import Settings

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Columns = dict[str, NDArray[Any]]


class Part(NamedTuple):
    """Entries of one kind and role in the order of drawing; arrays of shape (entries,)."""

    kind: Kind
    role: int
    due_s: IntArray
    patient: IntArray
    #: share of the visits that need a kit, and factor of the room time
    kit_share: float = 1.0
    longer: float = 1.0
    #: known already, for cleans
    room_s: IntArray | None = None


class Stays(NamedTuple):
    """Visited part of each patient's stay in the order of drawing; shape (patients,)."""

    number: IntArray
    patient_class: IntArray
    from_s: IntArray
    to_s: IntArray


def visited_stays(settings: Settings, patients: Patients) -> Stays:
    """Cut the stays at the horizon; diverted patients are not visited."""
    table, drawing = patients.table, patients.drawing
    from_s = np.minimum(table.arrive_s, settings.horizon)
    to_s = np.minimum(table.leave_s, settings.horizon)
    to_s = np.where(table.room == DIVERTED, from_s, to_s)
    return Stays(drawing, table.patient_class[drawing], from_s[drawing], to_s[drawing])


def lot(fit: Fitted, streams: SurgeStreams, purpose: Purpose, part: Part) -> Lot:
    """Say which times of one part are drawn, and from which stream."""
    # a stream costs as much to set up as hundreds of numbers: none for a fixed time
    varies = fit.shape != "fixed"
    rng = streams.of_entries(purpose, part.kind, part.role) if varies else None
    return Lot(fit, rng, len(part.due_s))


def torn(streams: SurgeStreams, purpose: Purpose, share: Share, parts: Sequence[Part]) -> BoolArray:
    """Draw whether the hood (or the tube) is torn in each use, part after part."""
    if share <= 0:
        return np.zeros(sum(len(part.due_s) for part in parts), dtype=np.bool_)
    luck = [
        streams.of_entries(purpose, part.kind, part.role).random(len(part.due_s)) for part in parts
    ]
    return np.asarray(np.concatenate(luck or [np.zeros(0)]) < share)


def _visits(plan: Plan, streams: SurgeStreams, stays: Stays) -> Iterator[Part]:
    """Draw the routine visits, role by role; their moments side by side."""
    roles, patients = len(plan.visiting), len(stays.number)
    if plan.shapes is None or not patients:
        return
    ends_busy = plan.shapes.busy(np.concatenate((stays.from_s, stays.to_s)))
    from_busy = ends_busy[:, :patients]
    length_busy = ends_busy[:, patients:] - from_busy
    expected = plan.visits_per_s[:, stays.patient_class] * length_busy
    counts = np.empty((roles, patients), dtype=np.int64)
    for row, number in enumerate(plan.visiting):
        how_many = streams.of_entries(Purpose.ENTRIES, Kind.VISIT, number)
        counts[row] = how_many.poisson(expected[row])
    ends = counts.sum(axis=1).cumsum().tolist()
    busy = np.empty(ends[-1])
    for number, start, end in zip(plan.visiting, [0, *ends], ends, strict=False):
        when = streams.of_entries(Purpose.ENTRIES, Kind.VISIT, number, moments=True)
        when.random(out=busy[start:end])
    # of each visit: its role and stay in one number, then the stay
    stay = np.arange(roles * patients).repeat(counts.ravel())
    busy *= length_busy.ravel()[stay]
    busy += from_busy.ravel()[stay]
    shape = stay // patients
    stay -= shape * patients
    due_s = plan.shapes.moment(shape, busy).astype(np.int64)
    # rounding of the clock may pass the ends of the stay by a second
    np.maximum(due_s, stays.from_s[stay], out=due_s)
    np.minimum(due_s, (stays.to_s - 1)[stay], out=due_s)
    patient = stays.number[stay]
    for place, (number, start, end) in enumerate(
        zip(plan.visiting, [0, *ends], ends, strict=False)
    ):
        yield Part(
            Kind.VISIT, number, due_s[start:end], patient[start:end],
            plan.kit_share[place], plan.longer[place],
        )  # fmt: skip


def _urgent_entries(plan: Plan, streams: SurgeStreams, stays: Stays) -> Iterator[Part]:
    """Draw the urgent events of all classes; each brings its team at the same second."""
    if not plan.teams.any():
        return
    length_s = stays.to_s - stays.from_s
    expected = plan.urgent_per_s[stays.patient_class] * length_s
    counts = streams.of_entries(Purpose.URGENT, Kind.URGENT, 0).poisson(expected)
    when = streams.of_entries(Purpose.URGENT, Kind.URGENT, 0, moments=True)
    share = when.random(int(counts.sum()))
    event_s = (share * length_s.repeat(counts)).astype(np.int64)
    event_s += stays.from_s.repeat(counts)
    patient = stays.number.repeat(counts)
    event_class = stays.patient_class.repeat(counts)
    for number, team in enumerate(plan.teams):
        people = team[event_class]
        if people.any():
            due_s = event_s.repeat(people)
            yield Part(Kind.URGENT, number, due_s, patient.repeat(people))


def _cleans(settings: Settings, patients: Patients) -> Iterator[Part]:
    rooms = settings.rooms
    if rooms is None or rooms.terminal_clean is None or not len(patients.cleaned):
        return
    number = list(settings.roles).index(rooms.terminal_clean.role)
    yield Part(
        Kind.CLEAN, number, patients.clean_due_s, patients.cleaned, room_s=patients.clean_room_s
    )


def _room_times(plan: Plan, streams: SurgeStreams, parts: Sequence[Part]) -> IntArray:
    lots = []
    for part in parts:
        fit = plan.times[part.role].room
        if part.room_s is not None or fit is None:
            fit = Fitted("fixed", 0.0)
        lots.append(lot(fit, streams, Purpose.ROOM_TIMES, part))
    room_s = sample_lots(lots)
    end = 0
    for part in parts:
        piece = room_s[end : end + len(part.due_s)]
        end += len(part.due_s)
        if part.room_s is not None:
            piece[:] = part.room_s
        if part.longer != 1:
            piece[:] = np.rint(piece * part.longer)
    return room_s


def _with_kit(streams: SurgeStreams, parts: Sequence[Part]) -> BoolArray:
    """Draw which entries need a kit; visits that need none are no entries."""
    with_kit = np.ones(sum(len(part.due_s) for part in parts), dtype=np.bool_)
    end = 0
    for part in parts:
        end += len(part.due_s)
        if part.kit_share < 1:
            rng = streams.of_entries(Purpose.KIT_SHARE, part.kind, part.role)
            luck = rng.random(len(part.due_s))
            with_kit[end - len(luck) : end] = luck < part.kit_share
    return with_kit


def draw_entries(
    settings: Settings, streams: SurgeStreams, patients: Patients
) -> tuple[Columns, BoolArray]:
    """Draw all visits of one surge, with or without a kit.

    Visits are Poisson at the role's rate per patient-day, shaped over the 24 hours; those of the
    share that needs no kit are drawn too, so that the share moves no draw of the others. Urgent
    events are Poisson at an even rate; their teams always wear kits and belong to no named
    wearer. Every column of every part has a stream of its own.

    Parameters
    ----------
    settings : Settings
        One surge's settings.
    streams : SurgeStreams
        Streams of the surge.
    patients : Patients
        Its patients.

    Returns
    -------
    columns : dict of ndarray, shape (visits,)
        By the names of the trace's fields, in the order of drawing: visits role by role, urgent
        entries role by role, terminal cleans.
    with_kit : ndarray of bool, shape (visits,)
        Those that need a kit, and so are entries.
    """
    plan, stays = plan_of(settings), visited_stays(settings, patients)
    parts = [
        *_visits(plan, streams, stays),
        *_urgent_entries(plan, streams, stays),
        *_cleans(settings, patients),
    ]
    counts = [len(part.due_s) for part in parts]
    urgent = [part.kind is Kind.URGENT for part in parts]
    times = [plan.times[part.role] for part in parts]
    patience = [
        one.urgent_patience_s if rushed else one.patience_s
        for one, rushed in zip(times, urgent, strict=True)
    ]
    none = [np.zeros(0, dtype=np.int64)]
    dons = [
        lot(one.don, streams, Purpose.DONNING, part) for one, part in zip(times, parts, strict=True)
    ]
    doffs = [
        lot(one.doff, streams, Purpose.DOFFING, part)
        for one, part in zip(times, parts, strict=True)
    ]
    faults = settings.faults
    columns: Columns = {
        "due_s": np.concatenate([part.due_s for part in parts] or none),
        "room_s": _room_times(plan, streams, parts),
        "don_s": sample_lots(dons),
        "doff_s": sample_lots(doffs),
        "patience_s": np.array(patience, dtype=np.int64).repeat(counts),
        "role": np.array([part.role for part in parts], dtype=np.int64).repeat(counts),
        "patient": np.concatenate([part.patient for part in parts] or none),
        "urgent": np.array(urgent, dtype=np.bool_).repeat(counts),
        "hood_torn": torn(streams, Purpose.HOODS, faults.hood_damage, parts),
        "tube_torn": torn(streams, Purpose.TUBES, faults.tube_damage, parts),
    }
    return columns, _with_kit(streams, parts)
