"""Named wearers: in each shift the patients are split in groups, one wearer a group."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.entries import Columns
from surge_sim.demand.plan import Plan

IntArray = NDArray[np.int64]


def patient_groups(room: IntArray, patients_per_wearer: int) -> IntArray:
    """Return the group of each patient: a number, not all are in use.

    Rooms are grouped by number, so many to a wearer: rooms 0 to 3 make one group when a wearer
    has four patients. A group keeps its rooms through the surge, whoever lies in them. Boarded
    patients are grouped in the same way by their own number, apart from the rooms.

    Parameters
    ----------
    room : ndarray of int64, shape (patients,)
        Room of each patient of a surge, below 0 without one.
    patients_per_wearer : int

    Returns
    -------
    ndarray of int64, shape (patients,)
    """
    groups_of_rooms = -(-(int(room.max(initial=-1)) + 1) // patients_per_wearer)
    boarded = groups_of_rooms + np.arange(len(room)) // patients_per_wearer
    return np.where(room >= 0, room // patients_per_wearer, boarded)


def name_wearers(plan: Plan, room: IntArray, entries: Columns) -> tuple[IntArray, IntArray]:
    """Name the wearers of all routine entries whose role has patients by wearer.

    A wearer is one group of patients in one occurrence of one shift. A shift ends where the next
    one starts.

    Parameters
    ----------
    plan : Plan
    room : ndarray of int64, shape (patients,)
        Room of each patient.
    entries : dict of ndarray, shape (entries,)
        ``due_s``, ``role``, ``patient`` and ``urgent`` of each entry.

    Returns
    -------
    wearer : ndarray of int64, shape (entries,)
        Number of the wearer, in order of role, shift and group, or -1: urgent entries and other
        roles.
    shift_end_s : ndarray of int64, shape (wearers,)
        End of each wearer's shift [s].
    """
    due_s, patient = entries["due_s"], entries["patient"]
    wearer = np.full(len(due_s), -1, dtype=np.int64)
    shift_end_s = np.zeros(0, dtype=np.int64)
    for number, one in enumerate(plan.roles):
        if one.patients_per_wearer is None:
            continue
        group = patient_groups(room, one.patients_per_wearer)
        groups = int(group.max(initial=0)) + 1
        theirs = np.flatnonzero((entries["role"] == number) & ~entries["urgent"])
        shift = one.shift_ends_s.searchsorted(due_s[theirs], side="right")
        key = shift * groups + group[patient[theirs]]
        keys, place = np.unique(key, return_inverse=True)
        wearer[theirs] = len(shift_end_s) + place
        shift_end_s = np.concatenate((shift_end_s, one.shift_ends_s[keys // groups]))
    return wearer, shift_end_s
