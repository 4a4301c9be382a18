"""Batteries: which one is issued, the queue for a bay, charging, a full one leaves its bay."""

from __future__ import annotations

from numpy.typing import NDArray

from surge_sim.engine.log import Count, Kind, Use
from surge_sim.engine.reference.ward import Battery, Need, Process, Ward
from surge_sim.equipment.batteries import (
    bays_working,
    issue_rank,
    may_be_taken,
    next_round,
    powered_end,
    powered_seconds,
    wants_charging,
)
from surge_sim.equipment.charge_curve import charge_in_bay, seconds_to_charge
from surge_sim.equipment.kits import batteries_to_be_away
from surge_sim.equipment.order import Moment, leaves_bay_rank

#: capacity, charge at the knee, seconds until it and of the whole charge, shares of its end
Curve = tuple[int, int, int, int, NDArray]


def charge_now(ward: Ward, battery: Battery) -> int:
    """Charge of a battery at this moment."""
    n = ward.numbers
    if battery.state != Use.BATTERIES_IN_BAY:
        return battery.charge
    if battery.full_s <= ward.now_s:
        return n.capacity[battery.number]
    powered_s = powered_seconds(battery.in_bay_s, ward.now_s, n.cut_from_s, n.cut_to_s)
    return charge_in_bay(battery.charge, powered_s, *curve(ward, battery))


def curve(ward: Ward, battery: Battery) -> Curve:
    """Return how a battery is charged, see `charge_curve`."""
    n, b = ward.numbers, battery.number
    return n.capacity[b], n.cc_charge[b], n.cc_s[b], n.charge_s[b], n.end_of_charge


def is_free(ward: Ward, battery: Battery) -> bool:
    """Whether a battery can be issued as far as its place goes."""
    full = battery.full_s <= ward.now_s
    return may_be_taken(battery.state, full, ward.numbers.partial_charge_at_reissue)


def usable(ward: Ward, level: int) -> list[Battery]:
    """Return the batteries that can be issued with the minimum run time at a level."""
    least = ward.numbers.least_charge[level]
    return [one for one in ward.batteries if is_free(ward, one) and charge_now(ward, one) >= least]


def first_by_rank(ward: Ward, need: Need, batteries: list[Battery]) -> Battery | None:
    """Return the battery that is issued to a need, of those that can be."""
    issued, mark = ward.numbers.issued, int(ward.trace.mark[need.entry])

    def rank(one: Battery) -> tuple[int, int]:
        full = one.full_s <= ward.now_s
        charge = charge_now(ward, one)
        rank = issue_rank(issued, charge, one.state, full, one.since_s, mark, one.number)
        return rank, -one.number

    return max(batteries, key=rank, default=None)


def compared(ward: Ward, need: Need, battery: Battery, level: int) -> tuple[int, ...]:
    """Return what was compared to issue a battery, as the values of an event, see `MEANINGS`."""
    others = usable(ward, level)
    others.remove(battery)
    second = first_by_rank(ward, need, others)
    charge, lies_s = charge_now(ward, battery), ward.now_s - battery.since_s
    if second is None:
        return charge, 1, lies_s, -1, -1
    there_s = ward.now_s - second.since_s
    return charge, 1 + len(others), lies_s, charge_now(ward, second), there_s


def take_out(ward: Ward, battery: Battery) -> None:
    """Take a battery for a kit, from wherever it is."""
    battery.charge = charge_now(ward, battery)
    if battery.state == Use.BATTERIES_IN_BAY:
        ward.bays_taken -= 1
    elif battery.state == Use.BATTERIES_WAITING_FOR_BAY:
        ward.bay_queue.remove(battery)
    ward.place(battery, Use.BATTERIES_IN_USE)


def new_battery(ward: Ward, battery: Battery) -> None:
    """Lay a battery out as it is when the surge begins."""
    if ward.numbers.has_battery_failures:
        battery.failure_life_s = ward.drawn(ward.work.battery_run_s, 0, battery.number)


def put_back(ward: Ward, battery: Battery) -> None:
    """Bring a battery back: to the queue for a bay, when it has cooled, or to the shelf."""
    n = ward.numbers
    least = n.least_charge[-1]
    if not wants_charging(battery.charge, n.capacity[battery.number], n.charge_below_ppm, least):
        ward.place(battery, Use.BATTERIES_ON_SHELF)
    elif n.cool_down_s:
        battery.cool_s = ward.now_s + n.cool_down_s
        ward.place(battery, Use.BATTERIES_COOLING, n.cool_down_s)
        ward.clock.process(cool_down(ward, battery))
    else:
        wait_for_bay(ward, battery)


def cool_down(ward: Ward, battery: Battery) -> Process:
    """Cool, then wait for a bay."""
    cool_s = battery.cool_s
    yield ward.clock.moment(Moment.BATTERY_READY, battery.number, cool_s - ward.now_s)
    # nobody may have taken it meanwhile
    if battery.state == Use.BATTERIES_COOLING and battery.cool_s == cool_s:
        wait_for_bay(ward, battery)


def wait_for_bay(ward: Ward, battery: Battery) -> None:
    """Stand at the end of the queue for a bay."""
    ward.bay_queue.append(battery)
    ward.place(battery, Use.BATTERIES_WAITING_FOR_BAY)


def send_out(ward: Ward, battery: Battery) -> None:
    """Send a battery away that has failed, until there is a full one in its place."""
    ward.counts[Count.BATTERY_REPLACEMENTS] += 1
    delay_s = ward.drawn(ward.work.replacement_s, battery.failure_no, battery.number)
    ward.place(battery, Use.BATTERIES_OUT, delay_s)
    ward.clock.process(replace(ward, battery, delay_s))


def replace(ward: Ward, battery: Battery, delay_s: int) -> Process:
    """Lay a new battery on the shelf; it has the number of the one that failed."""
    yield ward.clock.moment(Moment.BATTERY_READY, battery.number, delay_s)
    battery.failure_no += 1
    battery.failure_run_s = 0
    battery.failure_life_s = ward.drawn(ward.work.battery_run_s, battery.failure_no, battery.number)
    battery.charge = ward.numbers.capacity[battery.number]
    ward.place(battery, Use.BATTERIES_ON_SHELF)


def clear_failed_bays(ward: Ward) -> int:
    """Take batteries out when too few bays work; return how many work.

    Bays are alike, and batteries are moved at once from a bay that fails to one that works. Where
    none is free, those that came into their bays last wait again, before all who wait, with the
    charge that they have; a full one goes to the shelf.
    """
    n = ward.numbers
    working = bays_working(n.bays, n.bays_lent, n.bays_out, n.bays_failed)
    while ward.bays_taken > working:
        battery = max(
            (one for one in ward.batteries if one.state == Use.BATTERIES_IN_BAY),
            key=lambda one: leaves_bay_rank(one.in_bay_s, one.number),
        )
        battery.charge = charge_now(ward, battery)
        ward.bays_taken -= 1
        if battery.charge >= n.capacity[battery.number]:
            ward.place(battery, Use.BATTERIES_ON_SHELF)
        else:
            ward.bay_queue.appendleft(battery)
            ward.place(battery, Use.BATTERIES_WAITING_FOR_BAY)
    return working


def fill_bays(ward: Ward) -> None:
    """Put waiting batteries into free bays that work, first come first served."""
    n, working = ward.numbers, clear_failed_bays(ward)
    while ward.bay_queue and ward.bays_taken < working:
        battery = ward.bay_queue.popleft()
        ward.bays_taken += 1
        ward.counts[Count.CHARGES] += 1
        battery.in_bay_s = ward.now_s + n.connect_s
        full = n.capacity[battery.number]
        needed_s = seconds_to_charge(battery.charge, full, *curve(ward, battery))
        battery.full_s = powered_end(battery.in_bay_s, needed_s, n.cut_from_s, n.cut_to_s)
        for_s = battery.full_s - ward.now_s
        ward.place(battery, Use.BATTERIES_IN_BAY, for_s, for_s - n.connect_s - needed_s)
        battery.charges += 1
        ward.clock.process(charge(ward, battery))


def charge(ward: Ward, battery: Battery) -> Process:
    """Charge until full, then leave the bay, at once or at the next round."""
    n = ward.numbers
    full_s, number = battery.full_s, battery.charges
    yield ward.clock.moment(Moment.CHARGED, battery.number, full_s - ward.now_s)
    if not _still_there(battery, number):
        return
    round_s = next_round(full_s, n.rounds_every_s, n.rounds_from_s)
    if round_s > full_s:
        ward.tell(Kind.BLOCKS_BAY, round_s - ward.now_s, battery=battery.number)
        yield ward.clock.moment(Moment.BAY_ROUND, battery.number, round_s - ward.now_s)
        if not _still_there(battery, number):
            return
    battery.charge = n.capacity[battery.number]
    ward.bays_taken -= 1
    ward.place(battery, Use.BATTERIES_ON_SHELF)


def _still_there(battery: Battery, number: int) -> bool:
    """Whether nobody has taken the battery out of its bay meanwhile."""
    return battery.state == Use.BATTERIES_IN_BAY and battery.charges == number


def next_enough_s(ward: Ward, level: int) -> int:
    """Next moment at which a battery in a bay reaches the minimum run time at a level, or -1."""
    n = ward.numbers
    first_s = -1
    least = n.least_charge[level]
    for battery in ward.batteries:
        if battery.state != Use.BATTERIES_IN_BAY or n.capacity[battery.number] < least:
            continue
        needed_s = seconds_to_charge(battery.charge, least, *curve(ward, battery))
        usable_s = powered_end(battery.in_bay_s, needed_s, n.cut_from_s, n.cut_to_s)
        if usable_s > ward.now_s and (first_s < 0 or usable_s < first_s):
            first_s = usable_s
    return first_s


def settle_away(ward: Ward) -> None:
    """Send away the batteries that should be; one that comes is full."""
    n = ward.numbers
    target = batteries_to_be_away(len(ward.kits_away), n.batteries_come, n.batteries_lent)
    while len(ward.batteries_away) < target:
        best, best_charge = None, -1
        for battery in ward.batteries:
            if battery.state == Use.BATTERIES_ON_SHELF and battery.charge > best_charge:
                best, best_charge = battery, battery.charge
        if best is None:
            return
        ward.batteries_away.append(best)
        ward.place(best, Use.BATTERIES_AWAY)
    while len(ward.batteries_away) > target:
        battery = ward.batteries_away.pop()
        battery.charge = n.capacity[battery.number]
        ward.place(battery, Use.BATTERIES_ON_SHELF)
