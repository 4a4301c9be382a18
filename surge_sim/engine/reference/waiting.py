"""What those in line wait for: at any time each missing thing is somewhere, for some cause."""

from __future__ import annotations

from collections import Counter

from surge_sim.engine.log import Missing, Use
from surge_sim.engine.reference import charging
from surge_sim.engine.reference.things import Battery, Kit, Need
from surge_sim.engine.reference.world import World
from surge_sim.equipment.causes import CAUSES, Cause, battery_cause, share_out
from surge_sim.equipment.kits import Repair, of_the_unit
from surge_sim.equipment.supplies import HOODS, TUBES

#: whoever holds a kit waits for a battery; all others for what the first in line lacks
FRONT, SWAPS = 0, 1

_PLACES = {
    Use.KITS_IN_USE: Cause.KIT_IN_USE,
    Use.KITS_WAITING_FOR_WIPE: Cause.KIT_WAITING_FOR_WIPE,
    Use.KITS_IN_WIPE_DOWN: Cause.KIT_IN_WIPE_DOWN,
    Use.KITS_DRYING: Cause.KIT_DRYING,
    Use.KITS_READY: Cause.KIT_RESERVED,
    Use.KITS_AWAY: Cause.KIT_AWAY,
}


def begin(ward: World, need: Need) -> None:
    """Begin to wait in line."""
    _let_pass(ward, ward.now_s)
    need.clock = FRONT if need.kit is None else SWAPS
    clock_s = ward.causes[need.clock][CAUSES:]
    need.waited_s = [a - b for a, b in zip(need.waited_s, clock_s, strict=True)]


def end(ward: World, need: Need, now_s: int) -> None:
    """Wait in line no longer."""
    _let_pass(ward, now_s)
    clock_s = ward.causes[need.clock][CAUSES:]
    need.waited_s = [a + b for a, b in zip(need.waited_s, clock_s, strict=True)]


def _let_pass(ward: World, now_s: int) -> None:
    """Put the time since the last change down to the causes there were."""
    for causes in ward.causes:
        before_s = sum(causes[CAUSES:])
        share_out(causes, 0, CAUSES, before_s, now_s - ward.clocks_at_s)  # type: ignore[arg-type]
    ward.clocks_at_s = now_s


def note(ward: World, mask: int, front_level: int, swap_level: int) -> None:
    """Note where everything is that is missing from now on.

    Parameters
    ----------
    ward : Ward
        As it is when a second is settled.
    mask : int
        What the first in line lacks, see `Missing`; 0 when nobody waits.
    front_level, swap_level : int
        Levels for which the first in line, and the first who holds a kit, lack a battery,
        or -1.
    """
    _let_pass(ward, ward.now_s)
    front = Counter[int]()
    if mask & Missing.BLOWER:
        front += _kits(ward)
    else:
        if mask & Missing.HOOD:
            front[Cause.HOOD_ON_ORDER if ward.on_order[HOODS] else Cause.NO_HOOD] = 1
        if mask & Missing.TUBE:
            front[Cause.TUBE_ON_ORDER if ward.on_order[TUBES] else Cause.NO_TUBE] = 1
    if front_level >= 0:
        front += _batteries(ward, front_level)
    swaps = _batteries(ward, swap_level) if swap_level >= 0 else Counter[int]()
    for causes, found in zip(ward.causes, (front, swaps), strict=True):
        causes[:CAUSES] = [found[cause] for cause in range(CAUSES)]


def _kits(ward: World) -> Counter[int]:
    found = Counter[int](_kit(ward, kit) for kit in ward.kits)
    n = ward.numbers
    found[Cause.KIT_AWAY] = of_the_unit(len(ward.kits_away), n.kits_come - n.kits_lent)
    return +found or Counter({Cause.NO_KIT: 1})


def _kit(ward: World, kit: Kit) -> Cause:
    if kit.state != Use.KITS_OUT:
        return Cause.KIT_HELD if kit.held else _PLACES[kit.state]
    if kit in ward.prefilter_queue:
        return Cause.KIT_LACKS_PREFILTER
    if kit in ward.main_queue:
        return Cause.KIT_LACKS_MAIN_FILTER
    return Cause.KIT_IN_REPAIR if kit.repair == Repair.FAULT else Cause.KIT_GETTING_FILTER


def _batteries(ward: World, level: int) -> Counter[int]:
    found = Counter[int](_battery(ward, battery, level) for battery in ward.batteries)
    n = ward.numbers
    not_lent = n.kits_come - n.kits_lent + n.batteries_come - n.batteries_lent
    found[Cause.BATTERY_AWAY] = of_the_unit(len(ward.batteries_away), not_lent)
    return +found or Counter({Cause.NO_BATTERY: 1})


def _battery(ward: World, battery: Battery, level: int) -> int:
    n = ward.numbers
    if battery.state == Use.BATTERIES_IN_USE:
        return Cause.BATTERY_IN_USE
    if battery.state == Use.BATTERIES_AWAY:
        return Cause.BATTERY_AWAY
    return battery_cause(
        charging.charge_now(ward, battery),
        n.capacity[battery.number],
        n.least_charge[level],
        charging.is_free(ward, battery),
        battery.state == Use.BATTERIES_WAITING_FOR_BAY,
        bool(n.has_power),
    )
