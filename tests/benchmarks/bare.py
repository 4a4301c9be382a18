"""A bare pool of kits in SimPy: the same entries, but a kit is only taken, worn and wiped down.

What somebody would write in an afternoon: no batteries, filters, parts, crews, wearers, maximum
waits or urgency. It shows what the compiled engine gains over a plain model, not over a slow one.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import simpy

from surge_sim.demand.table import Demand
from surge_sim.equipment.numbers import Rules


def play_bare(trace: Demand, rules: Rules, kits: int, wipe_s: list[int]) -> list[int]:
    """Play one surge.

    Parameters
    ----------
    trace : Demand
        The surge's demand.
    rules : Rules
        Of the unit: how long a check, and wet and dry time, take.
    kits : int
        Kits in the pool.
    wipe_s : list of int
        Labour of the m-th wipe-down to start [s].

    Returns
    -------
    list of int
        Wait of each entry for a kit [s], or -1 when it still waits at the close.
    """
    check_s, after_s = rules.check_s, rules.contact_and_drying_s
    env = simpy.Environment()
    pool = simpy.Store(env)
    pool.items.extend(range(kits))
    waits = [-1] * trace.entries
    wipes = iter(wipe_s)

    def visit(entry: int, worn_s: int) -> Generator[simpy.Event, Any, None]:
        need_s = env.now
        kit = yield pool.get()
        waits[entry] = int(env.now - need_s)
        yield env.timeout(check_s + worn_s)
        yield env.timeout(next(wipes) + after_s)
        yield pool.put(kit)

    def arrivals() -> Generator[simpy.Event, Any, None]:
        worn_s = (trace.don_s + trace.room_s + trace.doff_s).tolist()
        for entry, (due_s, worn) in enumerate(zip(trace.due_s.tolist(), worn_s, strict=True)):
            if due_s > env.now:
                yield env.timeout(due_s - env.now)
            env.process(visit(entry, worn))

    env.process(arrivals())
    env.run(until=trace.closing_s)
    return waits
