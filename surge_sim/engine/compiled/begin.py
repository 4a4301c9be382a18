"""How a play begins, and how the surge does when its run-in is over."""

from __future__ import annotations

from numba import njit

from surge_sim.engine.compiled import turnaround
from surge_sim.engine.compiled.basics import (
    HOODS,
    LARGE_HOODS,
    ONE,
    OPTIONS,
    TUBES,
    ZERO,
    change,
    const,
    drawn,
    enter,
    lay_down,
    place,
)
from surge_sim.engine.log import Use
from surge_sim.equipment import order
from surge_sim.equipment.kits import batteries_to_be_away, kits_to_be_away, place_away

USES, SUPPLIES = const(len(Use)), const(order.SUPPLIES)


@njit(**OPTIONS)
def begin_shelf(s):
    """Note the fewest hoods and tubes that there were on the shelf: as many as there are now."""
    ward = s.ward[0]
    s.supplies[HOODS].least_left = ward.ready_hoods
    s.supplies[TUBES].least_left = ward.ready_tubes
    s.supplies[LARGE_HOODS].least_left = ward.ready_large_hoods


@njit(**OPTIONS)
def put_in_place(s, f, e, work):
    """Kits ready and batteries full; what may be borrowed later is still away."""
    ward, n = s.ward[0], f.n[0]
    own_kits, kits, batteries = n.kits - n.kits_come, len(s.kits), len(s.batteries)
    own_batteries = batteries - n.kits_come - n.batteries_come
    ward.needs = len(e.due_s)
    ward.record = len(s.causes) > 0
    ward.wake_s = -1
    away = kits_to_be_away(n.kits_recalled, own_kits, n.kits_come, n.kits_lent)
    here = max(batteries - batteries_to_be_away(away, n.batteries_come, n.batteries_lent), 0)
    ward.hoods_away = ward.tubes_away = away
    ward.ready_hoods, ward.ready_tubes = n.hoods - away, n.tubes - away
    for supply in range(SUPPLIES):
        s.supplies[supply].spares = s.supplies[supply].least_left = f.spares[supply]
    s.supplies[HOODS].spares, s.supplies[TUBES].spares = n.hoods, n.tubes
    s.supplies[LARGE_HOODS].spares = ward.ready_large_hoods = n.large_hoods
    begin_shelf(s)
    for wearer in range(len(s.wearers)):
        s.wearers[wearer].kit = -1
    for kit in range(len(s.kits)):
        turnaround.new_kit(s, f, work, kit)
        change(s, f, Use.KITS_READY, ONE)
        if kit < kits - away:
            turnaround.to_shelf(s, f, kit)
        else:
            s.away[0, place_away(kit, kits - away, own_kits, kits)] = kit
            ward.kits_away += 1
            enter(s, f, kit, Use.KITS_AWAY)
    for battery in range(len(s.batteries)):
        b, cells = s.batteries[battery], f.cells
        b.capacity, b.cc_charge = cells[battery, 0], cells[battery, 1]
        b.cc_s, b.charge_s = cells[battery, 2], cells[battery, 3]
        b.charge, b.state = b.capacity, Use.BATTERIES_ON_SHELF
        if n.has_battery_failures:
            b.failure_life_s = drawn(s, work.battery_run_s, ZERO, battery)
        lay_down(s, battery)
        change(s, f, Use.BATTERIES_ON_SHELF, ONE)
        if battery >= here:
            s.away[1, place_away(battery, here, own_batteries, batteries)] = battery
            ward.batteries_away += 1
            place(s, f, battery, Use.BATTERIES_AWAY)


@njit(**OPTIONS)
def begin_surge(s, f):
    """The run-in is over: what was counted in it is left out, and everything is where it is."""
    ward = s.ward[0]
    for what in range(len(s.counts)):
        s.counts[what] = 0
    begin_shelf(s)
    turnaround.reorder_all(s, f)
    if ward.record:
        for use in range(USES):
            s.use[use].peak, s.use[use].since_s = ZERO, ward.now_s
