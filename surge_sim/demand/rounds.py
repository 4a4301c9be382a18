"""Rounds: routine entries that a wearer makes one after the other, going from room to room."""

from __future__ import annotations

from collections.abc import Sequence
from heapq import heappop, heappush
from itertools import pairwise

import numpy as np

from surge_sim.demand.entries import Columns, in_order
from surge_sim.demand.patients import Patients
from surge_sim.demand.plan import Plan


def in_rounds(plan: Plan, patients: Patients, entries: Columns) -> Columns:
    """Bring the routine entries of named wearers together in rounds, where their role makes them.

    A round begins when a visit is due, and takes the next visit of other patients of the same
    wearer along, those that would be due first, until it has as many rooms as the role says. So
    each patient is visited as often in each shift as without rounds, only earlier. All entries of
    a round are due in its first second; the wearer makes them one after the other.

    Parameters
    ----------
    plan : Plan
    patients : Patients
    entries : dict of ndarray, shape (entries,)
        With their wearers, in the order of the demand.

    Returns
    -------
    dict of ndarray
        In order again.
    """
    due_s, wearer, patient = (entries[name] for name in ("due_s", "wearer", "patient"))
    # a terminal clean is due once its patient has left, and belongs to no round
    visit = (wearer >= 0) & (due_s < patients.leave_s[patient])
    moments_s = due_s.copy()
    for number, role in enumerate(plan.roles):
        if role.rooms_per_round < 2:
            continue
        theirs = np.flatnonzero(visit & (entries["role"] == number))
        theirs = theirs[wearer[theirs].argsort(kind="stable")]
        ends = np.flatnonzero(np.diff(wearer[theirs], append=-1)) + 1
        for first, end in pairwise((0, *ends.tolist())):
            rows = theirs[first:end]
            whose = patient[rows]
            moments_s[rows] = moments_of_rounds(
                due_s[rows].tolist(),
                whose.tolist(),
                patients.arrive_s[whose].tolist(),
                role.rooms_per_round,
            )
    return in_order(entries | {"due_s": moments_s})


def moments_of_rounds(
    due_s: Sequence[int], patient: Sequence[int], arrive_s: Sequence[int], rooms: int
) -> list[int]:
    """Return when each visit of one wearer is made [s].

    Parameters
    ----------
    due_s, patient, arrive_s : sequence of int, of one length
        Visits in order of time: when each is due by itself, whom it is for, and since when that
        patient is there.
    rooms : int
        Of a round, at most.
    """
    moments_s = [-1] * len(due_s)
    # visits still to make, by patient; the last one of a list is the next
    left: dict[int, list[int]] = {}
    for place in reversed(range(len(due_s))):
        left.setdefault(patient[place], []).append(place)
    # patients still to come; the last one of the list comes next
    coming = sorted(left.values(), key=lambda visits: arrive_s[visits[0]], reverse=True)
    # a heap of the next visit of each patient who is there
    there: list[int] = []
    begin_s = -1
    for first, at_s in enumerate(due_s):
        if moments_s[first] >= 0:
            continue
        # two rounds in one second would be taken for one
        begin_s = max(at_s, begin_s + 1)
        while coming and arrive_s[coming[-1][-1]] <= begin_s:
            heappush(there, coming.pop().pop())
        made = [heappop(there) for _ in range(min(rooms, len(there)))]
        for place in made:
            moments_s[place] = begin_s
            if left[patient[place]]:
                heappush(there, left[patient[place]].pop())
    return moments_s
