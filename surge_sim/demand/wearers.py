"""Named wearers: in each shift the patients are split in groups, one wearer a group."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import clock_at_start_s
from surge_sim.demand.trace import PatientTable
from surge_sim.scenario.care import Role
from surge_sim.units import DAY_S

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: most keys that are numbered by way of a table
_LARGEST_TABLE = 1_000_000


class WearerRule(NamedTuple):
    """How the wearers of a role are named: patients to each, and starts of the shifts [s]."""

    patients_per_wearer: int
    shifts: tuple[int, ...]


def wearer_rules(roles: Iterable[Role]) -> tuple[WearerRule | None, ...]:
    """Return how the wearers of each role are named; None: they are not."""
    return tuple(
        None
        if role.patients_per_wearer is None
        else WearerRule(role.patients_per_wearer, role.shifts)
        for role in roles
    )


def patient_groups(room: IntArray, number: IntArray, patients_per_wearer: int) -> IntArray:
    """Return the group of each patient: a number, not all are in use.

    Rooms are grouped by number, so many to a wearer: rooms 0 to 3 make one group when a wearer
    has four patients. A group keeps its rooms through the surge, whoever lies in them. Boarded
    patients are grouped in the same way by their own number, apart from the rooms.

    Parameters
    ----------
    room, number : ndarray of int64, shape (patients,)
        Room and own number of each patient of a surge, or of several one behind the other.
    patients_per_wearer : int

    Returns
    -------
    ndarray of int64, shape (patients,)
    """
    rooms = int(room.max(initial=-1)) + 1
    # whole groups before the first boarded one, or a room and a boarded patient might share
    boarded_from = -(-rooms // patients_per_wearer) * patients_per_wearer
    place = np.where(room >= 0, room, boarded_from + number)
    return np.asarray(place // patients_per_wearer)


def _numbered(keys: IntArray, most: int) -> tuple[IntArray, IntArray]:
    """Return the distinct keys (0 to ``most``) in order, and the place of each key among them."""
    if most > _LARGEST_TABLE:
        distinct, place = np.unique(keys, return_inverse=True)
        return distinct, place.astype(np.int64)
    # a table of all keys is quicker than sorting, as long as it is small
    there = np.zeros(most + 1, dtype=np.bool_)
    there[keys] = True
    distinct = np.flatnonzero(there)
    number = np.zeros(most + 1, dtype=np.int64)
    number[distinct] = np.arange(len(distinct))
    return distinct, number[keys]


@lru_cache(maxsize=64)
def _ends_of_shifts(shifts: tuple[int, ...], offset_s: int, days: int) -> IntArray:
    """Return the ends of all shifts [s] until some days after the midnight before second 0."""
    starts_s = np.unique(np.asarray(shifts, dtype=np.int64) % DAY_S)
    # every start of a shift is the end of the one before; the first ends what began yesterday
    ends_s = (np.arange(days)[:, np.newaxis] * DAY_S + starts_s - offset_s).ravel()
    ends_s = ends_s[ends_s > 0]
    ends_s.setflags(write=False)
    return ends_s


def name_wearers(
    shifts: tuple[int, ...], start: datetime, surge: IntArray, due_s: IntArray, group: IntArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Return the wearer of each entry of a role, and the end of each wearer's shift.

    A wearer is one group of patients in one occurrence of one shift. A shift ends where the next
    one starts.

    Parameters
    ----------
    shifts : tuple of int
        Starts of the role's shifts [s].
    start : datetime
        Calendar time of second 0.
    surge, due_s, group : ndarray of int64, shape (entries,)
        Place of the surge, moment [s], and group of the patient of each entry.

    Returns
    -------
    wearer : ndarray of int64, shape (entries,)
        From 0, in order of surge, shift and group.
    surge_of : ndarray of int64, shape (wearers,)
        Place of each wearer's surge.
    shift_end_s : ndarray of int64, shape (wearers,)
        End of the shift [s].
    """
    offset_s = clock_at_start_s(start)
    ends_s = _ends_of_shifts(shifts, offset_s, (int(due_s.max(initial=0)) + offset_s) // DAY_S + 2)
    groups = int(group.max(initial=0)) + 1
    key = surge * len(ends_s)
    key += ends_s.searchsorted(due_s, side="right")
    key *= groups
    key += group
    keys, wearer = _numbered(key, (int(surge.max(initial=0)) + 1) * len(ends_s) * groups)
    occurrence = keys // groups
    surge_of = occurrence // len(ends_s)
    return wearer, surge_of, ends_s[occurrence - surge_of * len(ends_s)]


def named_wearers(
    roles: Sequence[WearerRule | None],
    start: datetime,
    patients: Sequence[PatientTable],
    surge: IntArray,
    patient: IntArray,
    due_s: IntArray,
    role: IntArray,
    urgent: BoolArray,
) -> tuple[IntArray, list[IntArray]]:
    """Name the wearers of all routine entries whose role has patients by wearer.

    Parameters
    ----------
    roles : sequence of WearerRule or None
        The roles; the same in all these surges.
    start : datetime
        Calendar time of second 0.
    patients : sequence of PatientTable
        Patients of each surge.
    surge, patient : ndarray of int64, shape (entries,)
        Place of the surge among these, rising, and of the patient among those of all of them.
    due_s, role, urgent : ndarray, shape (entries,)
        Moment [s], number of the role, and whether it is urgent, of each entry.

    Returns
    -------
    wearer : ndarray of int64, shape (entries,)
        Number of the wearer in the surge, role after role, or -1: urgent entries and other roles.
    shift_end_s : list of ndarray of int64, shape (wearers,)
        End of each wearer's shift in each surge [s].
    """
    wearer = np.full(len(due_s), -1, dtype=np.int64)
    edges = np.arange(len(patients) + 1)
    ends: list[list[IntArray]] = [[np.zeros(0, dtype=np.int64)] for _ in patients]
    before = np.zeros(len(patients), dtype=np.int64)
    room = np.concatenate([table.room for table in patients])
    number = np.concatenate([np.arange(len(table.room)) for table in patients])
    for place, one in enumerate(roles):
        if one is None:
            continue
        theirs = np.flatnonzero((role == place) & ~urgent)
        where = surge[theirs]
        group = patient_groups(room, number, one.patients_per_wearer)[patient[theirs]]
        numbers, surge_of, end_s = name_wearers(one.shifts, start, where, due_s[theirs], group)
        bounds = surge_of.searchsorted(edges)
        wearer[theirs] = numbers + (before - bounds[:-1])[where]
        before += np.diff(bounds)
        for own, from_, to in zip(ends, bounds[:-1].tolist(), bounds[1:].tolist(), strict=True):
            own.append(end_s[from_:to])
    return wearer, [np.concatenate(own) for own in ends]
