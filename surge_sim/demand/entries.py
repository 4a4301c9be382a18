"""Entries of staff: routine visits, urgent teams, terminal cleans; one table of columns each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import daily_shape
from surge_sim.demand.draws import Kind, SurgeStreams
from surge_sim.demand.patients import DIVERTED, Patients
from surge_sim.demand.spread import is_fixed, sample
from surge_sim.demand.trace import NEVER_S
from surge_sim.randomness import Purpose
from surge_sim.scenario.care import Role
from surge_sim.scenario.quantities import Share
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.units import DAY_S

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]


class Entries(NamedTuple):
    """Entries of one kind and role in the order of drawing; arrays of shape (entries,)."""

    due_s: IntArray
    room_s: IntArray
    don_s: IntArray
    doff_s: IntArray
    patient: IntArray
    hood_torn: BoolArray
    tube_torn: BoolArray
    #: visits drawn that need no kit are no entries
    with_kit: BoolArray
    role: int
    urgent: bool
    patience_s: int


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


def care_factors(settings: Settings, role: str) -> tuple[float, float]:
    """Return the factors of the number and of the room time of visits by bundled care."""
    care = settings.policy.bundled_care
    if care is None or (care.roles is not None and role not in care.roles):
        return 1.0, 1.0
    return care.entries, care.room_time


def visit_rates(settings: Settings, role: str) -> FloatArray:
    """Return the visits of a role per patient-day by class, bundled care included."""
    factor, _ = care_factors(settings, role)
    rates = [one.entries.get(role, 0.0) * factor for one in settings.classes.values()]
    return np.array(rates, dtype=np.float64)


def torn(
    streams: SurgeStreams, purpose: Purpose, kind: Kind, role: int, share: Share, count: int
) -> BoolArray:
    """Draw whether the hood (or the tube) is torn in each use."""
    if share <= 0:
        return np.zeros(count, dtype=np.bool_)
    return np.asarray(streams.of_entries(purpose, kind, role).random(count) < share)


def drawn_times(
    spread: TimeSpread, streams: SurgeStreams, purpose: Purpose, kind: Kind, role: int, count: int
) -> IntArray:
    """Draw times [s] of one kind of entries of one role, shape (count,)."""
    # a stream costs as much to set up as thousands of numbers: none for a fixed time
    rng = None if is_fixed(spread) else streams.of_entries(purpose, kind, role)
    return sample(spread, rng, count)


def donning_and_doffing(
    settings: Settings,
    streams: SurgeStreams,
    kind: Kind,
    number: int,
    role: Role | None,
    count: int,
) -> tuple[IntArray, IntArray]:
    """Draw the times to don and doff [s]: the role's own, or the kit's."""
    don: TimeSpread = settings.kit.don
    doff: TimeSpread = settings.kit.doff
    if role is not None:
        don, doff = role.don or don, role.doff or doff
    return (
        drawn_times(don, streams, Purpose.DONNING, kind, number, count),
        drawn_times(doff, streams, Purpose.DOFFING, kind, number, count),
    )


def patience_s(settings: Settings, role: Role | None, urgent: bool) -> int:
    """Return the longest wait before an entry is done otherwise [s], or `NEVER_S`."""
    policy = settings.policy
    if urgent:
        longest = policy.urgent_patience
    else:
        longest = policy.patience
        if role is not None and role.patience is not None:
            longest = role.patience
    return NEVER_S if longest is None else longest


class _Drawer:
    """Draws all entries of one surge; holds what they share."""

    def __init__(self, settings: Settings, streams: SurgeStreams, patients: Patients) -> None:
        self._settings = settings
        self._streams = streams
        self._patients = patients
        self._stays = visited_stays(settings, patients)
        self._role_number = {name: number for number, name in enumerate(settings.roles)}

    def all(self) -> Iterator[Entries]:
        """Visits role by role, urgent entries role by role, terminal cleans."""
        for number, (name, role) in enumerate(self._settings.roles.items()):
            yield from self._visits(number, name, role)
        yield from self._urgent_entries()
        yield from self._cleans()

    def _visits(self, number: int, name: str, role: Role) -> Iterator[Entries]:
        rates = visit_rates(self._settings, name)
        if not rates.any() or role.kit_share <= 0:
            return
        stays, streams = self._stays, self._streams
        shape = daily_shape(role.hours_of_day, self._settings.start)
        from_busy = shape.busy(stays.from_s)
        length_busy = shape.busy(stays.to_s) - from_busy
        rate = rates[stays.patient_class] / DAY_S
        how_many = streams.of_entries(Purpose.ENTRIES, Kind.VISIT, number)
        counts = how_many.poisson(rate * length_busy)
        when = streams.of_entries(Purpose.ENTRIES, Kind.VISIT, number, moments=True)
        busy = when.random(int(counts.sum()))
        busy *= np.repeat(length_busy, counts)
        busy += np.repeat(from_busy, counts)
        due_s = shape.moment(busy).astype(np.int64)
        # rounding of the clock may pass the ends of the stay by a second
        np.maximum(due_s, np.repeat(stays.from_s, counts), out=due_s)
        np.minimum(due_s, np.repeat(stays.to_s - 1, counts), out=due_s)
        patient = np.repeat(stays.number, counts)
        _, longer = care_factors(self._settings, name)
        entries = self._entries(Kind.VISIT, number, role, due_s, patient, longer=longer)
        if role.kit_share < 1:
            luck = streams.of_entries(Purpose.KIT_SHARE, Kind.VISIT, number).random(len(due_s))
            entries = entries._replace(with_kit=luck < role.kit_share)
        yield entries

    def _urgent_entries(self) -> Iterator[Entries]:
        """Draw the urgent events of all classes; each brings its team at the same second."""
        events = [one.urgent for one in self._settings.classes.values()]
        if not any(events):
            return
        stays, streams = self._stays, self._streams
        per_day = np.array([0.0 if event is None else event.per_patient for event in events])
        rate = per_day[stays.patient_class] / DAY_S
        length_s = stays.to_s - stays.from_s
        counts = streams.of_entries(Purpose.URGENT, Kind.URGENT, 0).poisson(rate * length_s)
        when = streams.of_entries(Purpose.URGENT, Kind.URGENT, 0, moments=True)
        share = when.random(int(counts.sum()))
        event_s = (share * np.repeat(length_s, counts)).astype(np.int64)
        event_s += np.repeat(stays.from_s, counts)
        patient = np.repeat(stays.number, counts)
        event_class = np.repeat(stays.patient_class, counts)
        for number, (name, role) in enumerate(self._settings.roles.items()):
            team = np.array([e.team if e is not None and e.role == name else 0 for e in events])
            people = team[event_class]
            if not people.any():
                continue
            due_s = np.repeat(event_s, people)
            yield self._entries(Kind.URGENT, number, role, due_s, np.repeat(patient, people))

    def _cleans(self) -> Iterator[Entries]:
        rooms = self._settings.rooms
        if rooms is None or rooms.terminal_clean is None or not len(self._patients.cleaned):
            return
        name = rooms.terminal_clean.role
        number, role = self._role_number[name], self._settings.roles[name]
        patients = self._patients
        yield self._entries(
            Kind.CLEAN, number, role, patients.clean_due_s, patients.cleaned,
            room_s=patients.clean_room_s,
        )  # fmt: skip

    def _entries(
        self, kind: Kind, number: int, role: Role, due_s: IntArray, patient: IntArray,
        room_s: IntArray | None = None, longer: float = 1.0,
    ) -> Entries:  # fmt: skip
        """Draw the details of entries; each column from its own stream."""
        settings, streams, count = self._settings, self._streams, len(due_s)
        if room_s is None:
            room_s = drawn_times(role.room_time, streams, Purpose.ROOM_TIMES, kind, number, count)
        if longer != 1:
            room_s = np.rint(room_s * longer).astype(np.int64)
        don_s, doff_s = donning_and_doffing(settings, streams, kind, number, role, count)
        faults, urgent = settings.faults, kind is Kind.URGENT
        return Entries(
            due_s=due_s,
            room_s=room_s,
            don_s=don_s,
            doff_s=doff_s,
            patient=patient,
            hood_torn=torn(streams, Purpose.HOODS, kind, number, faults.hood_damage, count),
            tube_torn=torn(streams, Purpose.TUBES, kind, number, faults.tube_damage, count),
            with_kit=np.ones(count, dtype=np.bool_),
            role=number,
            urgent=urgent,
            patience_s=patience_s(settings, role, urgent),
        )


def draw_entries(settings: Settings, streams: SurgeStreams, patients: Patients) -> list[Entries]:
    """Draw all visits of one surge, with or without a kit.

    Visits are Poisson at the role's rate per patient-day, shaped over the 24 hours; those of the
    share that needs no kit are drawn too, so that the share moves no draw of the others. Urgent
    events are Poisson at an even rate; their teams always wear kits and belong to no named
    wearer.

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
    list of Entries
        One for each kind and role that has any.
    """
    return list(_Drawer(settings, streams, patients).all())
