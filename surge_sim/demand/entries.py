"""Entries of staff: routine visits, urgent teams, terminal cleans; one table for all of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate, groupby
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.draws import Kind, SurgeStreams
from surge_sim.demand.patients import Patients, Stays, draw_patients
from surge_sim.demand.plan import Plan, RoleTimes, SurgeStart
from surge_sim.demand.size import refuse_entries
from surge_sim.demand.spread import NO_TIME, Fitted, Lot, sample_lots
from surge_sim.randomness import Purpose
from surge_sim.scenario.quantities import Share
from surge_sim.scenario.schema import Settings

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
Columns = dict[str, NDArray[Any]]


class Part(NamedTuple):
    """Entries of one kind and role in one surge, in the order of drawing.

    Arrays have the shape (entries,).
    """

    streams: SurgeStreams
    kind: Kind
    role: int
    times: RoleTimes
    due_s: IntArray
    patient: IntArray
    #: share of the visits that need a kit, and factor of the room time
    kit_share: float = 1.0
    longer: float = 1.0
    #: known already, for cleans
    room_s: IntArray | None = None

    def stream(self, purpose: Purpose) -> np.random.Generator:
        """Return the stream of one column of these entries."""
        return self.streams.of_entries(purpose, self.kind, self.role)

    def lot(self, fit: Fitted, purpose: Purpose) -> Lot:
        """Say which times are drawn, and from which stream."""
        # a stream costs as much to set up as hundreds of numbers: none for a fixed time
        rng = self.stream(purpose) if fit.shape != "fixed" else None
        return Lot(fit, rng, len(self.due_s))


class SurgeDraw(NamedTuple):
    """One surge whose entries are to be drawn."""

    settings: Settings
    plan: Plan
    streams: SurgeStreams
    patients: Patients

    @property
    def stays(self) -> Stays:
        """Stays of the patients as far as they are visited."""
        return self.patients.stays


def surge_draws(surges: Iterable[SurgeStart]) -> Iterator[SurgeDraw]:
    """Draw the patients of some surges; those side by side that can be."""
    for _, group in groupby(surges, key=lambda one: one.plan.patients_alike):
        alike = list(group)
        for surge, patients in zip(alike, draw_patients(alike), strict=True):
            yield SurgeDraw(*surge, patients)


def torn(purpose: Purpose, shares: Sequence[Share], parts: Sequence[Part]) -> BoolArray:
    """Draw whether the hood (or the tube) is torn in each use, part after part."""
    is_torn = np.zeros(sum(len(part.due_s) for part in parts), dtype=np.bool_)
    end = 0
    for share, part in zip(shares, parts, strict=True):
        end += len(part.due_s)
        if share > 0:
            luck = part.stream(purpose).random(len(part.due_s))
            is_torn[end - len(luck) : end] = luck < share
    return is_torn


def _visits(surges: Sequence[SurgeDraw]) -> list[list[Part]]:
    """Draw the routine visits of each surge, role by role; the moments of all side by side."""
    plan, stays = surges[0].plan, [surge.stays for surge in surges]
    parts: list[list[Part]] = [[] for _ in surges]
    # places of the surges' patients side by side, and how many there are in all
    bounds = [0, *accumulate(len(one.number) for one in stays)]
    patients = bounds[-1]
    if plan.shapes is None or not patients:
        return parts
    from_s, to_s, number = (np.concatenate(column) for column in _columns_of(stays))
    ends_busy = plan.shapes.busy(np.concatenate((from_s, to_s)))
    from_busy = ends_busy[:, :patients]
    length_busy = ends_busy[:, patients:] - from_busy
    rates = [surge.plan.visits_per_s[:, surge.stays.patient_class] for surge in surges]
    expected = np.concatenate(rates, axis=1) * length_busy
    for surge, start, end in zip(surges, bounds[:-1], bounds[1:], strict=True):
        refuse_entries(surge.streams, float(expected[:, start:end].sum()))
    counts = np.empty(expected.shape, dtype=np.int64)
    for row, role in enumerate(plan.visiting):
        for surge, start, end in zip(surges, bounds[:-1], bounds[1:], strict=True):
            how_many = surge.streams.of_entries(Purpose.ENTRIES, Kind.VISIT, role)
            counts[row, start:end] = how_many.poisson(expected[row, start:end])
    before = np.concatenate(([0], counts.ravel().cumsum()))
    busy = np.empty(before[-1])
    found = []
    for row, role in enumerate(plan.visiting):
        ends = before[np.array(bounds) + row * patients].tolist()
        for place, (surge, start, end) in enumerate(zip(surges, ends[:-1], ends[1:], strict=True)):
            when = surge.streams.of_entries(Purpose.ENTRIES, Kind.VISIT, role, moments=True)
            when.random(out=busy[start:end])
            found.append((row, role, place, start, end))

    def of_visits(of_stays: NDArray[Any]) -> NDArray[Any]:
        """Repeat what holds for a stay, or for a role and a stay, for each of its visits."""
        return np.broadcast_to(of_stays, counts.shape).ravel().repeat(counts.ravel())

    busy *= of_visits(length_busy)
    busy += of_visits(from_busy)
    shape = np.arange(len(counts)).repeat(counts.sum(axis=1))
    due_s = plan.shapes.moment(shape, busy).astype(np.int64)
    # rounding of the clock may pass the ends of the stay by a second
    np.maximum(due_s, of_visits(from_s), out=due_s)
    np.minimum(due_s, of_visits(to_s - 1), out=due_s)
    patient = of_visits(number)
    for row, role, place, start, end in found:
        one = surges[place]
        parts[place].append(
            Part(
                one.streams, Kind.VISIT, role, one.plan.times[role], due_s[start:end],
                patient[start:end], one.plan.kit_share[row], one.plan.longer[row],
            )
        )  # fmt: skip
    return parts


def _columns_of(stays: Sequence[Stays]) -> Iterator[list[IntArray]]:
    yield [one.from_s for one in stays]
    yield [one.to_s for one in stays]
    yield [one.number for one in stays]


def _urgent_entries(surge: SurgeDraw) -> Iterator[Part]:
    """Draw the urgent events of all classes; each brings its team at the same second."""
    plan, streams, stays = surge.plan, surge.streams, surge.stays
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
    refuse_entries(streams, float(plan.teams[:, event_class].sum()))
    for role, team in enumerate(plan.teams):
        people = team[event_class]
        if people.any():
            due_s = event_s.repeat(people)
            yield Part(streams, Kind.URGENT, role, plan.times[role], due_s, patient.repeat(people))


def _cleans(surge: SurgeDraw) -> Iterator[Part]:
    rooms, patients = surge.settings.rooms, surge.patients
    if rooms is None or rooms.terminal_clean is None or not len(patients.cleaned):
        return
    role = list(surge.settings.roles).index(rooms.terminal_clean.role)
    yield Part(
        surge.streams, Kind.CLEAN, role, surge.plan.times[role], patients.clean_due_s,
        patients.cleaned, room_s=patients.clean_room_s,
    )  # fmt: skip


def _room_times(parts: Sequence[Part]) -> IntArray:
    fits = [NO_TIME if part.room_s is not None else part.times.room or NO_TIME for part in parts]
    lots = [part.lot(fit, Purpose.ROOM_TIMES) for fit, part in zip(fits, parts, strict=True)]
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


def _with_kit(parts: Sequence[Part]) -> BoolArray:
    """Draw which entries need a kit; visits that need none are no entries."""
    with_kit = np.ones(sum(len(part.due_s) for part in parts), dtype=np.bool_)
    end = 0
    for part in parts:
        end += len(part.due_s)
        if part.kit_share < 1:
            luck = part.stream(Purpose.KIT_SHARE).random(len(part.due_s))
            with_kit[end - len(luck) : end] = luck < part.kit_share
    return with_kit


def draw_entries(surges: Sequence[SurgeDraw]) -> tuple[Columns, BoolArray]:
    """Draw all visits of some surges side by side, with or without a kit.

    Visits are Poisson at the role's rate per patient-day, shaped over the 24 hours; those of the
    share that needs no kit are drawn too, so that the share moves no draw of the others. Urgent
    events are Poisson at an even rate; their teams always wear kits and belong to no named
    wearer. Every column of every part has a stream of its own.

    Parameters
    ----------
    surges : sequence of SurgeDraw
        Surges of one scenario with the same ``plan.entries_alike``, and their patients.

    Returns
    -------
    columns : dict of ndarray, shape (visits,)
        By the names of the trace's fields, and ``surge``, the surge's place. In the order of
        drawing: the visits role by role, urgent entries role by role, terminal cleans; each of
        these surge by surge.
    with_kit : ndarray of bool, shape (visits,)
        Those that need a kit, and so are entries.
    """
    of_surges = [
        [*visits, *_urgent_entries(surge), *_cleans(surge)]
        for surge, visits in zip(surges, _visits(surges), strict=True)
    ]
    placed = [(number, part) for number, own in enumerate(of_surges) for part in own]
    # the same role of all surges in a row: most have the same distributions
    placed.sort(key=lambda one: (one[1].kind, one[1].role, one[0]))
    place, parts = [number for number, _ in placed], [part for _, part in placed]
    counts = [len(part.due_s) for part in parts]
    urgent = [part.kind is Kind.URGENT for part in parts]
    patience = [
        part.times.urgent_patience_s if rushed else part.times.patience_s
        for part, rushed in zip(parts, urgent, strict=True)
    ]
    faults = [surges[number].settings.faults for number in place]
    none = [np.zeros(0, dtype=np.int64)]

    def of_parts(values: Sequence[int]) -> IntArray:
        return np.array(values, dtype=np.int64).repeat(counts)

    columns: Columns = {
        "surge": of_parts(place),
        "due_s": np.concatenate([part.due_s for part in parts] or none),
        "room_s": _room_times(parts),
        "don_s": sample_lots([part.lot(part.times.don, Purpose.DONNING) for part in parts]),
        "doff_s": sample_lots([part.lot(part.times.doff, Purpose.DOFFING) for part in parts]),
        "patience_s": of_parts(patience),
        "role": of_parts([part.role for part in parts]),
        "patient": np.concatenate([part.patient for part in parts] or none),
        "urgent": of_parts(urgent).astype(np.bool_),
        "hood_torn": torn(Purpose.HOODS, [one.hood_damage for one in faults], parts),
        "tube_torn": torn(Purpose.TUBES, [one.tube_damage for one in faults], parts),
    }
    return columns, _with_kit(parts)
