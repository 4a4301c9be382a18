"""Batteries: the fullest first, the queue for a bay, charging, a full one leaves its bay."""

from __future__ import annotations

from surge_sim.engine.log import Count, Use
from surge_sim.engine.reference.things import Battery
from surge_sim.engine.reference.words import charged, length
from surge_sim.engine.reference.world import Process, World
from surge_sim.equipment.batteries import wants_charging
from surge_sim.equipment.calendar import value_at
from surge_sim.equipment.chargers import (
    bays_working,
    charge_in_bay,
    next_round,
    powered_end,
    powered_seconds,
    seconds_to_charge,
)
from surge_sim.equipment.order import Moment, battery_rank, leaves_bay_rank


def charge_now(ward: World, battery: Battery) -> int:
    """Charge of a battery at this moment."""
    n, b = ward.numbers, battery.number
    if battery.state != Use.BATTERIES_IN_BAY:
        return battery.charge
    if battery.full_s <= ward.now_s:
        return n.capacity[b]
    powered_s = powered_seconds(battery.in_bay_s, ward.now_s, n.cut_from_s, n.cut_to_s)
    return charge_in_bay(
        battery.charge, powered_s, n.capacity[b], n.knee_charge[b], n.knee_s[b], n.charge_s[b]
    )


def may_be_taken(ward: World, battery: Battery) -> bool:
    """Whether a battery can be handed out as far as its place goes."""
    if battery.state == Use.BATTERIES_ON_SHELF:
        return True
    if battery.state == Use.BATTERIES_IN_BAY:
        return bool(ward.numbers.early_take) or battery.full_s <= ward.now_s
    return battery.state == Use.BATTERIES_WAITING_FOR_BAY and bool(ward.numbers.early_take)


def fullest(ward: World) -> Battery | None:
    """Return the battery that is handed out next: fullest, on the shelf, lowest number."""
    best, best_rank = None, -1
    for battery in ward.batteries:
        if may_be_taken(ward, battery):
            on_shelf = battery.state == Use.BATTERIES_ON_SHELF
            rank = battery_rank(charge_now(ward, battery), on_shelf)
            if rank > best_rank:
                best, best_rank = battery, rank
    return best


def usable_count(ward: World, level: int) -> int:
    """Count the batteries that can be handed out with the least run time at a level."""
    least = ward.numbers.least_charge[level]
    return sum(
        may_be_taken(ward, battery) and charge_now(ward, battery) >= least
        for battery in ward.batteries
    )


def take_out(ward: World, battery: Battery) -> None:
    """Take a battery for a kit, from wherever it is."""
    battery.charge = charge_now(ward, battery)
    _tell_taken(ward, battery)
    if battery.state == Use.BATTERIES_IN_BAY:
        ward.bays_taken -= 1
    elif battery.state == Use.BATTERIES_WAITING_FOR_BAY:
        ward.bay_queue.remove(battery)
    ward.place(battery, Use.BATTERIES_IN_USE)


def _tell_taken(ward: World, battery: Battery) -> None:
    if ward.listener is None or battery.state == Use.BATTERIES_ON_SHELF:
        return
    if battery.state == Use.BATTERIES_WAITING_FOR_BAY:
        where = "while it waits for a bay"
    elif battery.full_s <= ward.now_s:
        where = "from the bay that it blocked"
    else:
        where = "from its bay before it is full"
    ward.tell("battery", battery.number, "is taken {}, {}", where, charged(ward, battery))


def put_back(ward: World, battery: Battery) -> None:
    """Bring a battery back: to the queue for a bay, or to the shelf."""
    n = ward.numbers
    battery.told = False
    least = n.least_charge[-1]
    if wants_charging(battery.charge, n.capacity[battery.number], n.charge_below_ppm, least):
        ward.bay_queue.append(battery)
        ward.place(battery, Use.BATTERIES_WAITING_FOR_BAY)
        if ward.listener is not None:
            said = charged(ward, battery)
            ward.tell("battery", battery.number, "comes back {}, to be charged", said)
    else:
        if ward.listener is not None:
            said = charged(ward, battery)
            ward.tell("battery", battery.number, "comes back to the shelf {}, as it is", said)
        ward.place(battery, Use.BATTERIES_ON_SHELF)


def clear_failed_bays(ward: World) -> int:
    """Take batteries out when too few bays work; return how many work.

    Bays are alike, and batteries are moved at once from a bay that fails to one that works. Where
    none is free, those that came into their bays last wait again, before all who wait, with the
    charge that they have; a full one goes to the shelf.
    """
    n = ward.numbers
    working = bays_working(n.bays, value_at(ward.now_s, n.bays_out_s, n.bays_out))
    while ward.bays_taken > working:
        battery = max(
            (one for one in ward.batteries if one.state == Use.BATTERIES_IN_BAY),
            key=lambda one: leaves_bay_rank(one.in_bay_s, one.number),
        )
        battery.charge = charge_now(ward, battery)
        battery.told = False
        ward.bays_taken -= 1
        if battery.charge >= n.capacity[battery.number]:
            ward.place(battery, Use.BATTERIES_ON_SHELF)
            ward.tell("battery", battery.number, "leaves its bay, which fails, full")
        else:
            ward.bay_queue.appendleft(battery)
            ward.place(battery, Use.BATTERIES_WAITING_FOR_BAY)
            if ward.listener is not None:
                said = charged(ward, battery)
                ward.tell("battery", battery.number, "leaves its bay, which fails, {}", said)
    return working


def fill_bays(ward: World) -> None:
    """Put waiting batteries into free bays that work, first come first served."""
    n, working = ward.numbers, clear_failed_bays(ward)
    while ward.bay_queue and ward.bays_taken < working:
        battery = ward.bay_queue.popleft()
        b = battery.number
        ward.bays_taken += 1
        ward.count(Count.CHARGES)
        battery.in_bay_s = ward.now_s
        needed_s = seconds_to_charge(
            battery.charge, n.capacity[b], n.capacity[b], n.knee_charge[b], n.knee_s[b],
            n.charge_s[b],
        )  # fmt: skip
        battery.full_s = powered_end(ward.now_s, needed_s, n.cut_from_s, n.cut_to_s)
        ward.place(battery, Use.BATTERIES_IN_BAY)
        if ward.listener is not None:
            still_s = battery.full_s - ward.now_s - needed_s
            cut = f", {length(still_s)} of it without power" if still_s else ""
            full = length(battery.full_s - ward.now_s)
            ward.tell("battery", b, "goes into a bay; full after {}{}", full, cut)
        ward.clock.process(charge(ward, battery, battery.full_s))
    if ward.listener is not None:
        _tell_waiting(ward)


def _tell_waiting(ward: World) -> None:
    """Tell once of each battery that finds no free bay."""
    for ahead, battery in enumerate(ward.bay_queue):
        if not battery.told:
            battery.told = True
            b, bays = battery.number, ward.numbers.bays
            ward.tell("battery", b, "waits for one of {} bays, {} ahead of it", bays, ahead)


def charge(ward: World, battery: Battery, full_s: int) -> Process:
    """Charge until full, then leave the bay, at once or at the next round."""
    n = ward.numbers
    in_bay_s = battery.in_bay_s
    yield ward.clock.moment(Moment.CHARGED, battery.number, full_s - ward.now_s)
    if not _still_there(battery, in_bay_s, full_s):
        return
    if n.rounds_every_s and next_round(full_s, n.rounds_every_s) > full_s:
        round_s = next_round(full_s, n.rounds_every_s)
        until = length(round_s - ward.now_s)
        ward.tell("battery", battery.number, "is full and blocks its bay; next round in {}", until)
        yield ward.clock.moment(Moment.BAY_ROUND, battery.number, round_s - ward.now_s)
        if not _still_there(battery, in_bay_s, full_s):
            return
    battery.charge = n.capacity[battery.number]
    ward.bays_taken -= 1
    ward.place(battery, Use.BATTERIES_ON_SHELF)
    ward.tell("battery", battery.number, "leaves its bay, full")


def _still_there(battery: Battery, in_bay_s: int, full_s: int) -> bool:
    """Whether nobody has taken the battery out of its bay meanwhile."""
    return (
        battery.state == Use.BATTERIES_IN_BAY
        and battery.in_bay_s == in_bay_s
        and battery.full_s == full_s
    )


def next_enough_s(ward: World, level: int) -> int:
    """Next moment at which a battery in a bay reaches the least run time at a level, or -1."""
    n = ward.numbers
    first_s = -1
    for battery in ward.batteries:
        b = battery.number
        if battery.state != Use.BATTERIES_IN_BAY or n.capacity[b] < n.least_charge[level]:
            continue
        needed_s = seconds_to_charge(
            battery.charge, n.least_charge[level], n.capacity[b], n.knee_charge[b], n.knee_s[b],
            n.charge_s[b],
        )  # fmt: skip
        usable_s = powered_end(battery.in_bay_s, needed_s, n.cut_from_s, n.cut_to_s)
        if usable_s > ward.now_s and (first_s < 0 or usable_s < first_s):
            first_s = usable_s
    return first_s


def settle_away(ward: World) -> None:
    """Send a battery away with every kit that goes; one that comes brings itself full."""
    n, kits = ward.numbers, len(ward.kits_away)
    while len(ward.batteries_away) < kits:
        best, best_charge = None, -1
        for battery in ward.batteries:
            if battery.state == Use.BATTERIES_ON_SHELF and battery.charge > best_charge:
                best, best_charge = battery, battery.charge
        if best is None:
            return
        ward.batteries_away.append(best)
        ward.place(best, Use.BATTERIES_AWAY)
        ward.tell("battery", best.number, "is taken away with a kit")
    while len(ward.batteries_away) > kits:
        battery = ward.batteries_away.pop()
        battery.charge = n.capacity[battery.number]
        ward.tell("battery", battery.number, "comes to the unit with a kit, full")
        ward.place(battery, Use.BATTERIES_ON_SHELF)
