"""Isolation rooms: how long one stays shut behind a patient, and who lies in which."""

from __future__ import annotations

import heapq
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.patients import Patients
from surge_sim.scenario.clearance import clean_in_a_kit, clearance_s
from surge_sim.scenario.patients import Rooms

IntArray = NDArray[np.int64]

#: in place of a room's number: lies elsewhere and is visited there, or goes elsewhere
BOARDED = -1
DIVERTED = -2


def rooms_of(rooms: Rooms | None, patients: Patients) -> IntArray:
    """Return the room of each patient, `BOARDED` or `DIVERTED`, for the whole stay.

    The terminal clean is planned as if its wearer never waits for a kit, for demand does not
    depend on stock; only isolation rooms get one.
    """
    diverts = rooms is not None and rooms.when_full == "divert"
    given = give_rooms(
        patients.arrive_s.tolist(),
        patients.leave_s.tolist(),
        _shut_s(rooms, patients.clean_s).tolist(),
        None if rooms is None else rooms.count,
        DIVERTED if diverts else BOARDED,
    )
    return np.array(given, dtype=np.int64)


def places_of(room: IntArray, patients: Patients) -> IntArray:
    """Return where each patient lies: the room's number, or one below 0 for those boarded.

    Who is boarded takes the lowest place that is free, -1, -2 and so on, for the whole stay:
    boarded patients lie side by side like those in rooms. Places of diverted patients mean nothing.
    """
    boarded = np.flatnonzero(room == BOARDED)
    if not len(boarded):
        return room
    arrive_s, leave_s = patients.arrive_s[boarded].tolist(), patients.leave_s[boarded].tolist()
    place = room.copy()
    free_at_once = [0] * len(boarded)
    place[boarded] = [-1 - n for n in give_rooms(arrive_s, leave_s, free_at_once, None, BOARDED)]
    return place


def _shut_s(rooms: Rooms | None, clean_s: IntArray) -> IntArray:
    """From each patient's leaving to the opening of the room [s].

    A clean with a kit runs inside the clearance time; any other begins when the air is cleared.
    """
    cleared_s = clearance_s(rooms)
    clean = None if rooms is None else rooms.terminal_clean
    if clean is None:
        return np.full(len(clean_s), cleared_s)
    if clean_in_a_kit(rooms) is not None:
        return np.maximum(cleared_s, clean.delay + clean_s)
    return max(cleared_s, clean.delay) + clean_s


def give_rooms(
    arrive_s: Sequence[int],
    leave_s: Sequence[int],
    shut_s: Sequence[int],
    rooms: int | None,
    when_full: int,
) -> list[int]:
    """Give the rooms to patients first come first served, the lowest number first.

    Parameters
    ----------
    arrive_s, leave_s : sequence of int
        Stays in order of arrival [s].
    shut_s : sequence of int
        From the leaving of each patient to the opening of the room [s].
    rooms : int or None
        How many; None: one for everybody.
    when_full : int
        `BOARDED` or `DIVERTED`.

    Returns
    -------
    list of int
        Number of the room, or ``when_full``, for the whole stay.
    """
    free: list[int] = []
    taken: list[tuple[int, int]] = []
    given = []
    known = 0
    for arrive, leave, shut in zip(arrive_s, leave_s, shut_s, strict=True):
        while taken and taken[0][0] <= arrive:
            heapq.heappush(free, heapq.heappop(taken)[1])
        if free:
            room = heapq.heappop(free)
        elif rooms is None or known < rooms:
            # rooms that nobody lay in yet, in order
            room, known = known, known + 1
        else:
            given.append(when_full)
            continue
        heapq.heappush(taken, (leave + shut, room))
        given.append(room)
    return given
