"""Entries of staff: routine visits, urgent teams, terminal cleans, and who wears the kit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.distributions import NO_TIME, Distribution
from surge_sim.demand.patients import Patients, too_large
from surge_sim.demand.plan import Plan
from surge_sim.demand.rooms import DIVERTED
from surge_sim.randomness import Kind, Purpose, Streams, block_of
from surge_sim.scenario.clearance import clean_in_a_kit
from surge_sim.scenario.limits import MOST_REQUESTS

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
#: by the names of the demand's fields, each of shape (entries,)
Columns = dict[str, NDArray[Any]]
WHOLE = ("due_s", "room_s", "don_s", "doff_s", "maximum_wait_s", "role", "patient")
YES_OR_NO = ("urgent", "hood_torn", "tube_torn")


class Visits(NamedTuple):
    """Visits of one kind and role, in the order of drawing; arrays of shape (visits,)."""

    kind: Kind
    role: int
    due_s: IntArray
    patient: IntArray
    #: time in the room [s] where it is drawn already
    room_s: IntArray | None = None
    #: which of them come at all; None: all
    done: BoolArray | None = None


class Stays(NamedTuple):
    """The part of each patient's stay in which visits come; arrays of shape (patients,).

    In the order of drawing, so that a source of patients added at the end moves no visit to the
    patients before it.
    """

    number: IntArray
    patient_class: IntArray
    from_s: IntArray
    to_s: IntArray


def draw_entries(plan: Plan, streams: Streams, patients: Patients, room: IntArray) -> Columns:
    """Draw all entries in a kit, in the order of the demand.

    Visits are Poisson at the role's rate per patient-day, shaped over the 24 hours; those of the
    share that needs no kit are drawn too, so that the share moves no draw of the others. Urgent
    events are Poisson at an even rate; their teams always wear kits and belong to no named
    wearer. Every column of every kind and role has a stream of its own.

    Parameters
    ----------
    plan : Plan
    streams : Streams
        Of the surge.
    patients : Patients
    room : ndarray of int64, shape (patients,)
        Room of each patient.

    Returns
    -------
    dict of ndarray
        Sorted by moment, urgent before routine, then in the order of drawing: visits role by role,
        urgent entries role by role, terminal cleans.
    """
    stays = _visited_stays(plan, patients, room)
    visits = (
        *_routine_visits(plan, streams, stays),
        *_urgent_visits(plan, streams, stays),
        *_terminal_cleans(plan, patients, room),
    )
    return in_order(joined([with_details(plan, streams, one) for one in visits]))


def joined(tables: Sequence[Columns]) -> Columns:
    """Put tables of entries one behind the other."""
    whole, yes = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.bool_)
    none = dict.fromkeys(WHOLE, whole) | dict.fromkeys(YES_OR_NO, yes)
    return {name: np.concatenate([one[name] for one in (none, *tables)]) for name in none}


def in_order(columns: Columns) -> Columns:
    """Sort entries by moment, urgent before routine; the others keep their order."""
    entries = len(columns["due_s"])
    # all of it in one number: numbers sort twenty times as fast as their places do
    bits = entries.bit_length()
    packed = (2 * columns["due_s"] + ~columns["urgent"]) << bits | np.arange(entries)
    packed.sort()
    order = packed & ((1 << bits) - 1)
    return {name: column[order] for name, column in columns.items()}


def _refuse_more(streams: Streams, expected: float) -> None:
    """Refuse a surge with more entries than the limit."""
    if expected > MOST_REQUESTS:
        found = f"`classes` would make {expected:,.0f} entries."
        right = f"A simulated surge has {MOST_REQUESTS:,} at most: check rates, teams and stays."
        raise too_large(streams, found, right)


def _visited_stays(plan: Plan, patients: Patients, room: IntArray) -> Stays:
    """Cut the stays at the horizon; diverted patients are not visited."""
    horizon_s, drawn = plan.settings.horizon, patients.drawn
    from_s = np.minimum(patients.arrive_s, horizon_s)
    to_s = np.where(room == DIVERTED, from_s, np.minimum(patients.leave_s, horizon_s))
    return Stays(drawn, patients.patient_class[drawn], from_s[drawn], to_s[drawn])


def _routine_visits(plan: Plan, streams: Streams, stays: Stays) -> Iterator[Visits]:
    """Draw how many visits of each role a patient gets, and when."""
    busy = [(role.hours.busy(stays.from_s), role.hours.busy(stays.to_s)) for role in plan.roles]
    expected = [
        role.visits_per_s[stays.patient_class] * (to - begin)
        for role, (begin, to) in zip(plan.roles, busy, strict=True)
    ]
    _refuse_more(streams, float(sum(one.sum() for one in expected)))
    for number, role in enumerate(plan.roles):
        if not expected[number].any():
            continue
        how_many = streams.stream(Purpose.ENTRIES, block_of(Kind.VISIT, number))
        of = np.arange(len(stays.number)).repeat(how_many.poisson(expected[number]))
        when = streams.stream(Purpose.ENTRIES, block_of(Kind.VISIT, number, moments=True))
        begin, to = busy[number]
        moment = role.hours.moment(begin[of] + when.random(len(of)) * (to - begin)[of])
        # rounding of the clock may pass the ends of the stay by a second
        due_s = np.clip(moment.astype(np.int64), stays.from_s[of], stays.to_s[of] - 1)
        done = None
        if role.done is not None:
            mark = streams.stream(Purpose.LEFT_OUT, block_of(Kind.VISIT, number))
            done = mark.random(len(of)) < role.done[stays.patient_class[of]]
        yield Visits(Kind.VISIT, number, due_s, stays.number[of], done=done)


def _urgent_visits(plan: Plan, streams: Streams, stays: Stays) -> Iterator[Visits]:
    """Draw the urgent events of all classes; each brings its team at the same second."""
    length_s = stays.to_s - stays.from_s
    expected = plan.urgent_per_s[stays.patient_class] * length_s
    how_many = streams.stream(Purpose.URGENT, block_of(Kind.URGENT, 0)).poisson(expected)
    of = np.arange(len(stays.number)).repeat(how_many)
    when = streams.stream(Purpose.URGENT, block_of(Kind.URGENT, 0, moments=True))
    event_s = stays.from_s[of] + (when.random(len(of)) * length_s[of]).astype(np.int64)
    event_class = stays.patient_class[of]
    _refuse_more(streams, float(sum(role.team[event_class].sum() for role in plan.roles)))
    for number, role in enumerate(plan.roles):
        people = role.team[event_class]
        if people.any():
            due_s, patient = event_s.repeat(people), stays.number[of].repeat(people)
            yield Visits(Kind.URGENT, number, due_s, patient)


def _terminal_cleans(plan: Plan, patients: Patients, room: IntArray) -> Iterator[Visits]:
    """List the cleans by somebody in a kit, one for each patient who leaves a room."""
    clean = clean_in_a_kit(plan.settings.rooms)
    if clean is None:
        return
    due_s = patients.leave_s + clean.delay
    cleaned = (room >= 0) & (due_s < plan.settings.horizon)
    those = patients.drawn[cleaned[patients.drawn]]
    role = plan.role_names.index(clean.role)
    yield Visits(Kind.CLEAN, role, due_s[those], those, patients.clean_s[those])


def with_details(plan: Plan, streams: Streams, visits: Visits) -> Columns:
    """Draw all that is not known yet of visits, and drop those without a kit."""
    kind, number, due_s, patient, room_s, done = visits
    role, failures = plan.roles[number], plan.settings.failures
    block, count = block_of(kind, number), len(due_s)

    def times(spread: Distribution, purpose: Purpose) -> IntArray:
        return spread.sample(streams.stream(purpose, block), count)

    def happens(share: float, purpose: Purpose) -> BoolArray:
        if not 0 < share < 1:
            return np.full(count, share >= 1)
        return streams.stream(purpose, block).random(count) < share

    if room_s is None:
        room_s = times(role.room or NO_TIME, Purpose.ROOM_TIMES)
    if kind is Kind.VISIT and role.longer != 1:
        room_s = np.rint(room_s * role.longer).astype(np.int64)
    is_urgent = kind is Kind.URGENT
    columns: Columns = {
        "due_s": due_s,
        "room_s": room_s,
        "don_s": times(role.don, Purpose.DONNING),
        "doff_s": times(role.doff, Purpose.DOFFING),
        "maximum_wait_s": np.full(
            count, plan.urgent_maximum_wait_s if is_urgent else role.maximum_wait_s
        ),
        "role": np.full(count, number),
        "patient": patient,
        "urgent": np.full(count, is_urgent),
        "hood_torn": happens(failures.hood_damage, Purpose.HOODS),
        "tube_torn": happens(failures.tube_damage, Purpose.TUBES),
    }
    if kind is Kind.VISIT and role.kit_share < 1:
        with_kit = happens(role.kit_share, Purpose.KIT_SHARE)
        done = with_kit if done is None else done & with_kit
    if done is not None:
        columns = {name: column[done] for name, column in columns.items()}
    return columns


def patient_groups(place: IntArray, patients_per_wearer: int) -> IntArray:
    """Return the group of each patient: a number, below 0 for boarded patients.

    Places are grouped by number, so many to a wearer: rooms 0 to 3 make one group when a wearer
    has four patients, and so do the first four places of boarded patients. A group keeps its
    places through the surge, whoever lies in them.

    Parameters
    ----------
    place : ndarray of int64, shape (patients,)
        Where each patient of a surge lies, see :func:`surge_sim.demand.rooms.places_of`.
    patients_per_wearer : int

    Returns
    -------
    ndarray of int64, shape (patients,)
    """
    boarded = -1 - (-1 - place) // patients_per_wearer
    return np.where(place >= 0, place // patients_per_wearer, boarded)


class Named(NamedTuple):
    """The named wearers of a surge."""

    #: number of the wearer of each entry, or -1: urgent entries and other roles, shape (entries,)
    wearer: IntArray
    #: end of each wearer's shift [s], shape (wearers,)
    shift_end_s: IntArray
    #: role and group of patients of each wearer, shape (wearers, 2)
    wearers: IntArray


def name_wearers(plan: Plan, place: IntArray, entries: Columns) -> Named:
    """Name the wearers of all routine entries whose role has patients by wearer.

    A wearer is one group of patients in one occurrence of one shift. A shift ends where the next
    one starts.

    Parameters
    ----------
    plan : Plan
    place : ndarray of int64, shape (patients,)
        Where each patient lies.
    entries : dict of ndarray, shape (entries,)
        ``due_s``, ``role``, ``patient`` and ``urgent`` of each entry.

    Returns
    -------
    Named
        Wearers in order of role, shift and group, those of boarded patients behind the others.
    """
    due_s, patient = entries["due_s"], entries["patient"]
    wearer = np.full(len(due_s), -1, dtype=np.int64)
    shift_end_s = np.zeros(0, dtype=np.int64)
    wearers = np.zeros((0, 2), dtype=np.int64)
    for number, one in enumerate(plan.roles):
        if one.patients_per_wearer is None:
            continue
        group = patient_groups(place, one.patients_per_wearer)
        of_rooms = int(group.max(initial=-1)) + 1
        groups = of_rooms - int(group.min(initial=0))
        theirs = np.flatnonzero((entries["role"] == number) & ~entries["urgent"])
        shift = one.shift_ends_s.searchsorted(due_s[theirs], side="right")
        in_order = np.where(group >= 0, group, of_rooms - 1 - group)
        keys, which = np.unique(shift * groups + in_order[patient[theirs]], return_inverse=True)
        wearer[theirs] = len(shift_end_s) + which
        shift, of = np.divmod(keys, max(groups, 1))
        shift_end_s = np.concatenate((shift_end_s, one.shift_ends_s[shift]))
        of = np.where(of < of_rooms, of, of_rooms - 1 - of)
        wearers = np.concatenate((wearers, np.stack((np.full_like(of, number), of), axis=1)))
    wearers.setflags(write=False)
    return Named(wearer, shift_end_s, wearers)
