"""Named wearers: in each shift the patients are split in groups, one wearer a group."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import clock_at_start_s
from surge_sim.demand.trace import PatientTable
from surge_sim.scenario.care import Role
from surge_sim.scenario.schema import Settings
from surge_sim.units import DAY_S

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: most keys that are numbered by way of a table
_LARGEST_TABLE = 1_000_000


def patient_groups(patients: PatientTable, patients_per_wearer: int) -> IntArray:
    """Return the group of each patient, shape (patients,): a number, not all are in use.

    Rooms are grouped by number, so many to a wearer: rooms 0 to 3 make one group when a wearer
    has four patients. A group keeps its rooms through the surge, whoever lies in them. Boarded
    patients are grouped in the same way by their own number, apart from the rooms.
    """
    room = patients.room
    rooms = int(room.max(initial=-1)) + 1
    # whole groups before the first boarded one, or a room and a boarded patient might share
    boarded_from = -(-rooms // patients_per_wearer) * patients_per_wearer
    place = np.where(room >= 0, room, boarded_from + np.arange(len(room)))
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
    role: Role, start: datetime, due_s: IntArray, group: IntArray
) -> tuple[IntArray, IntArray]:
    """Return the wearer of each entry of a role, and the end of each wearer's shift.

    A wearer is one group of patients in one occurrence of one shift. A shift ends where the next
    one starts.

    Parameters
    ----------
    role : Role
        With the starts of its shifts.
    start : datetime
        Calendar time of second 0.
    due_s : ndarray of int64, shape (entries,)
        Moments of the entries in order of time [s].
    group : ndarray of int64, shape (entries,)
        Group of the patient of each entry.

    Returns
    -------
    wearer : ndarray of int64, shape (entries,)
        From 0, in order of shift and group.
    shift_end_s : ndarray of int64, shape (wearers,)
        End of the shift [s].
    """
    offset_s = clock_at_start_s(start)
    days = (int(due_s[-1]) + offset_s) // DAY_S + 2 if len(due_s) else 0
    ends_s = _ends_of_shifts(role.shifts, offset_s, days)
    entries = due_s.searchsorted(ends_s)
    entries[1:] -= entries[:-1].copy()
    occurrence = np.arange(len(ends_s)).repeat(entries)
    groups = int(group.max(initial=0)) + 1
    keys, wearer = _numbered(occurrence * groups + group, len(ends_s) * groups)
    return wearer, ends_s[keys // groups]


def named_wearers(
    settings: Settings,
    patients: PatientTable,
    due_s: IntArray,
    role: IntArray,
    patient: IntArray,
    urgent: BoolArray,
) -> tuple[IntArray, IntArray]:
    """Name the wearers of all routine entries whose role has patients by wearer.

    Parameters
    ----------
    settings : Settings
        One surge's settings.
    patients : PatientTable
        Patients of the surge.
    due_s, role, patient, urgent : ndarray, shape (entries,)
        Columns of the entries in order of time.

    Returns
    -------
    wearer : ndarray of int64, shape (entries,)
        Number of the wearer, role after role, or -1: urgent entries and other roles.
    shift_end_s : ndarray of int64, shape (wearers,)
        End of each wearer's shift [s].
    """
    wearer = np.full(len(due_s), -1, dtype=np.int64)
    ends = [np.zeros(0, dtype=np.int64)]
    named = 0
    for number, one in enumerate(settings.roles.values()):
        if one.patients_per_wearer is None:
            continue
        theirs = np.flatnonzero((role == number) & ~urgent)
        group = patient_groups(patients, one.patients_per_wearer)[patient[theirs]]
        numbers, shift_end_s = name_wearers(one, settings.start, due_s[theirs], group)
        wearer[theirs] = numbers + named
        ends.append(shift_end_s)
        named += len(shift_end_s)
    return wearer, np.concatenate(ends)
