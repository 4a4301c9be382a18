"""The same customers in other programs: Ciw, and recursions of the waits written out here.

Nothing in this module imports surge_sim.
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence

import ciw
import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]

#: later than anything that happens
NEVER = 10**12


def _gaps(due_s: IntArray) -> list[float]:
    return [*(float(gap) for gap in np.diff(due_s, prepend=0)), float(NEVER)]


def ciw_waits(
    servers: int,
    due_s: IntArray,
    room_s: IntArray,
    urgent: NDArray[np.bool_] | None = None,
    maximum_wait_s: int | None = None,
) -> IntArray:
    """Waits of the same customers in Ciw, in their order; -1 for one who gave up.

    With ``urgent`` two classes with non-pre-emptive priority; with ``maximum_wait_s`` customers
    leave the line after it (their services must then be all alike).
    """
    groups = {"urgent": urgent, "routine": ~urgent} if urgent is not None else {"routine": None}
    arrive, serve, members = {}, {}, {}
    for name, those in groups.items():
        pick = np.arange(len(due_s)) if those is None else np.flatnonzero(those)
        members[name] = pick
        arrive[name] = [ciw.dists.Sequential(_gaps(due_s[pick]))]
        serve[name] = [ciw.dists.Sequential([float(one) for one in room_s[pick]] or [1.0])]
    more = {}
    if urgent is not None:
        more["priority_classes"] = {"urgent": 0, "routine": 1}
    if maximum_wait_s is not None:
        more["reneging_time_distributions"] = {
            name: [ciw.dists.Deterministic(float(maximum_wait_s))] for name in groups
        }
    network = ciw.create_network(
        arrival_distributions=arrive, service_distributions=serve, number_of_servers=[servers],
        **more,
    )  # fmt: skip
    simulation = ciw.Simulation(network)
    simulation.simulate_until_max_time(NEVER / 2)
    waits = np.full(len(due_s), -2, np.int64)
    for name, pick in members.items():
        records = [one for one in simulation.get_all_records() if one.customer_class == name]
        # customers of one class are numbered in the order in which they came
        records.sort(key=lambda one: (one.arrival_date, one.id_number))
        for row, one in zip(pick, records, strict=True):
            waits[row] = -1 if one.record_type == "renege" else round(one.waiting_time)
    return waits


def recursion_waits(servers: int, due_s: IntArray, room_s: IntArray) -> IntArray:
    """Waits of first come, first served: the earliest free server takes the next.

    J. Kiefer & J. Wolfowitz, 1955: `LINDLEY` in catalogue/sources.
    """
    free = [0] * servers
    waits = []
    for due, room in zip(due_s.tolist(), room_s.tolist(), strict=True):
        start = max(due, free[0])
        waits.append(start - due)
        heapq.heapreplace(free, start + room)
    return np.array(waits, np.int64)


def kits_and_batteries(
    due_s: Sequence[int],
    use_s: int,
    clean_s: int,
    charge_s: int,
    kits: int,
    batteries: int,
    bays: int,
) -> IntArray:
    """Waits when an entry needs a clean kit and a full battery, all uses alike.

    Start epochs by increasing functions of earlier ones (Glasserman & Yao, Mathematics of
    Operations Research 1992): an entry starts when it is due, not before the one ahead of it,
    when a kit is back, and when a battery is full; a battery is charged when a bay is free.
    """
    starts: list[int] = []
    back: list[int] = []
    full: list[int] = []
    for due in due_s:
        number = len(starts)
        at = max(due, starts[-1] if starts else 0)
        if number >= kits:
            at = max(at, back[number - kits])
        if number >= batteries:
            at = max(at, full[number - batteries])
        starts.append(at)
        back.append(at + use_s + clean_s)
        # uses are alike, so batteries come off in the order of the starts
        bay_free = full[number - bays] if number >= bays else 0
        full.append(max(at + use_s, bay_free) + charge_s)
    return np.array(starts, np.int64) - np.asarray(due_s, np.int64)
