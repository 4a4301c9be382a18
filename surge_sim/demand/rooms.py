"""Rooms of one surge: how long they stay shut behind a patient, and who lies in which."""

from __future__ import annotations

import heapq

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.air import air_clearance_s
from surge_sim.scenario.care import Rooms, TerminalClean

IntArray = NDArray[np.int64]

#: in place of a room's number: lies elsewhere and is visited there, or goes elsewhere
BOARDED = -1
DIVERTED = -2


def clearance_s(rooms: Rooms | None) -> int:
    """Return the time until the air of an empty room is cleared [s]."""
    if rooms is None:
        return 0
    return air_clearance_s(rooms.air_changes, rooms.clearance, rooms.mixing_factor)


def is_cleaned_in_a_kit(cleared_s: int, clean: TerminalClean | None) -> bool:
    """Whether somebody in a kit does the clean, while the air is not yet cleared."""
    return clean is not None and clean.when == "with a kit" and clean.delay < cleared_s


def shut_s(cleared_s: int, rooms: Rooms | None, clean_s: IntArray) -> list[int]:
    """From each patient's leaving to the opening of the room [s].

    A clean with a kit runs inside the clearance time; any other begins when the air is cleared.

    Parameters
    ----------
    cleared_s : int
        See `clearance_s`.
    rooms : Rooms or None
    clean_s : ndarray of int64, shape (patients,)
        How long the terminal clean of each takes [s]; not read when there is none.

    Returns
    -------
    list of int
    """
    clean = None if rooms is None else rooms.terminal_clean
    if clean is None:
        return [cleared_s] * len(clean_s)
    if is_cleaned_in_a_kit(cleared_s, clean):
        return [max(cleared_s, clean.delay + room_s) for room_s in clean_s.tolist()]
    return [max(cleared_s, clean.delay) + room_s for room_s in clean_s.tolist()]


def give_rooms(
    arrive_s: list[int], leave_s: list[int], shut_s: list[int], rooms: int | None, when_full: int
) -> list[int]:
    """Give the rooms to patients first come first served, the lowest number first.

    Parameters
    ----------
    arrive_s, leave_s : list of int
        Stays in order of arrival [s].
    shut_s : list of int
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
