"""Isolation rooms: how long one stays shut behind a patient, and who lies in which."""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.patients import Patients
from surge_sim.scenario.patients import Rooms, TerminalClean
from surge_sim.units import NEVER_S

IntArray = NDArray[np.int64]

#: in place of a room's number: lies elsewhere and is visited there, or goes elsewhere
BOARDED = -1
DIVERTED = -2


def air_clearance_s(air_changes: float, clearance: float, mixing_factor: float = 1.0) -> int:
    """Return the time until the share of airborne matter is gone from an empty room [s].

    t = ln(1 / (1 - clearance)) / air changes x mixing factor. CDC/HICPAC, Guidelines for
    Environmental Infection Control in Health-Care Facilities, 2003, Appendix B, Table B.1: holds
    for an empty room without a source and with perfect mixing (factor 1).

    Parameters
    ----------
    air_changes : float
        Air changes per hour, above 0.
    clearance : float
        Share that is removed, 0..1.
    mixing_factor : float
        1 for perfect mixing, more for stagnant corners.

    Returns
    -------
    int
        Time [s]; `NEVER_S` for a clearance of 100 %.
    """
    if clearance >= 1:
        return NEVER_S
    return round(-math.log1p(-clearance) / air_changes * mixing_factor * 3_600)


def clearance_s(rooms: Rooms | None) -> int:
    """Return the time until the air of an empty room is cleared [s]; 0 without a limit of rooms."""
    if rooms is None:
        return 0
    return air_clearance_s(rooms.air_changes, rooms.clearance, rooms.mixing_factor)


def clean_in_a_kit(rooms: Rooms | None) -> TerminalClean | None:
    """Return the terminal clean if somebody in a kit does it, while the air is not yet cleared."""
    clean = None if rooms is None else rooms.terminal_clean
    if clean is None or clean.when != "with a kit" or clean.delay >= clearance_s(rooms):
        return None
    return clean


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
