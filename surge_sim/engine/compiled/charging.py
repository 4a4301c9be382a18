"""Batteries: which one is issued, the queue for a bay, charging, a full one leaves its bay."""

from __future__ import annotations

from numba import njit

from surge_sim.engine.compiled.basics import (
    INLINE,
    KEYS,
    NONE,
    ONE,
    OPTIONS,
    ZERO,
    append,
    drawn,
    insert_behind,
    moment,
    place,
    pop_first,
    remove,
    tell,
)
from surge_sim.engine.compiled.state import BATTERY_SHELF, BAY_QUEUE
from surge_sim.engine.log import Count, Kind, Use
from surge_sim.equipment.batteries import (
    Issue,
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
from surge_sim.equipment.order import Moment, leaves_bay_rank, moment_rank


@njit(**INLINE)
def charge_now(s, f, battery):
    """Charge of a battery at this moment."""
    b = s.batteries[battery]
    if b.state != Use.BATTERIES_IN_BAY:
        return b.charge
    now_s = s.ward[0].now_s
    if b.full_s <= now_s:
        return b.capacity
    powered_s = powered_seconds(b.in_bay_s, now_s, f.cut_from_s, f.cut_to_s)
    return charge_in_bay(
        b.charge, powered_s, b.capacity, b.cc_charge, b.cc_s, b.charge_s, f.end_of_charge
    )


@njit(**INLINE)
def is_free(s, f, battery):
    """Whether a battery can be issued as far as its place goes."""
    b = s.batteries[battery]
    return may_be_taken(b.state, b.full_s <= s.ward[0].now_s, f.n[0].partial_charge_at_reissue)


#: in the place of `compared` where nobody asks for it
NOT_TOLD = (ZERO, ZERO, ZERO, ZERO, ZERO)


@njit(**INLINE)
def rank(s, f, battery, charge, mark):
    """Rank of a battery for issue."""
    b, n = s.batteries[battery], f.n[0]
    full = b.full_s <= s.ward[0].now_s
    return issue_rank(n.issued, charge, b.state, full, b.since_s, mark, battery)


@njit(**OPTIONS)
def first_by_rank(s, f, mark, least, without):
    """Return the battery that is issued next, other than ``without``, or -1."""
    n = f.n[0]
    if n.issued == Issue.LONGEST_ON_SHELF:
        battery = s.ends[BATTERY_SHELF, 0]
        while battery >= 0:
            if s.batteries[battery].charge >= least and battery != without:
                return battery  # the shelf is in that order
            battery = s.batteries[battery].next
        if not n.partial_charge_at_reissue and not n.rounds_every_s:
            return NONE  # what may be taken has left its bay
    best, best_rank = NONE, NONE
    for battery in range(len(s.batteries)):
        if is_free(s, f, battery) and battery != without:
            charge = charge_now(s, f, battery)
            if charge >= least:
                its_rank = rank(s, f, battery, charge, mark)
                if its_rank > best_rank:
                    best, best_rank = battery, its_rank
    return best


@njit(**OPTIONS)
def usable_count(s, f, least, most):
    """Count the batteries, up to `most`, that can be issued with the minimum run time."""
    count = ZERO
    for battery in range(len(s.batteries)):
        if is_free(s, f, battery) and charge_now(s, f, battery) >= least:
            count += ONE
            if count == most:
                break
    return count


@njit(**OPTIONS)
def compared(s, f, battery, level, mark):
    """Return what was compared to issue a battery, as the values of an event, see `MEANINGS`."""
    now_s, least = s.ward[0].now_s, f.least_charge[level]
    usable = usable_count(s, f, least, len(s.batteries))
    second = first_by_rank(s, f, mark, least, battery)
    second_charge, second_lies_s = NONE, NONE
    if second >= 0:
        second_charge = charge_now(s, f, second)
        second_lies_s = now_s - s.batteries[second].since_s
    lies_s = now_s - s.batteries[battery].since_s
    return charge_now(s, f, battery), usable, lies_s, second_charge, second_lies_s


@njit(**INLINE)
def take_out(s, f, battery):
    """Take a battery for a kit, from wherever it is."""
    b = s.batteries[battery]
    b.charge = charge_now(s, f, battery)
    if b.state == Use.BATTERIES_IN_BAY:
        s.ward[0].bays_taken -= 1
    elif b.state == Use.BATTERIES_WAITING_FOR_BAY:
        remove(s.batteries, s.ends, BAY_QUEUE, battery)
    place(s, f, battery, Use.BATTERIES_IN_USE)


@njit(**OPTIONS)
def put_back(s, f, battery):
    """Bring a battery back: to the queue for a bay, when it has cooled, or to the shelf."""
    b, cool_down_s = s.batteries[battery], f.n[0].cool_down_s
    least = f.least_charge[len(f.least_charge) - 1]
    if not wants_charging(b.charge, b.capacity, f.n[0].charge_below_ppm, least):
        place(s, f, battery, Use.BATTERIES_ON_SHELF)
    elif cool_down_s:
        b.ready_s = s.ward[0].now_s + cool_down_s
        place(s, f, battery, Use.BATTERIES_COOLING, cool_down_s)
        moment(s, Moment.BATTERY_READY, battery, cool_down_s)
    else:
        wait_for_bay(s, f, battery)


@njit(**OPTIONS)
def wait_for_bay(s, f, battery):
    """Stand at the end of the queue for a bay."""
    append(s.batteries, s.ends, BAY_QUEUE, battery)
    place(s, f, battery, Use.BATTERIES_WAITING_FOR_BAY)


@njit(**OPTIONS)
def send_out(s, f, work, battery):
    """Send a battery away that has failed, until there is a full one in its place."""
    b = s.batteries[battery]
    s.counts[Count.BATTERY_REPLACEMENTS] += 1
    delay_s = drawn(s, work.replacement_s, b.failure_no, battery)
    b.ready_s = s.ward[0].now_s + delay_s
    place(s, f, battery, Use.BATTERIES_OUT, delay_s)
    moment(s, Moment.BATTERY_READY, battery, delay_s)


@njit(**OPTIONS)
def battery_ready(s, f, work, battery):
    """It has cooled, if nobody has taken it meanwhile; or one that failed is replaced."""
    b = s.batteries[battery]
    if b.ready_s != s.ward[0].now_s:
        return
    if b.state == Use.BATTERIES_COOLING:
        wait_for_bay(s, f, battery)
    elif b.state == Use.BATTERIES_OUT:
        b.failure_no += 1
        b.failure_run_s = 0
        b.failure_life_s = drawn(s, work.battery_run_s, b.failure_no, battery)
        b.charge = b.capacity
        place(s, f, battery, Use.BATTERIES_ON_SHELF)


@njit(**INLINE)
def working_bays(f):
    """How many bays work now."""
    n = f.n[0]
    return bays_working(n.bays, n.bays_lent, n.bays_out, n.bays_failed)


@njit(**OPTIONS)
def clear_failed_bays(s, f, working):
    """Take batteries out when too few bays work."""
    ward = s.ward[0]
    while ward.bays_taken > working:
        last, last_rank = NONE, NONE
        for battery in range(len(s.batteries)):
            b = s.batteries[battery]
            if b.state == Use.BATTERIES_IN_BAY and leaves_bay_rank(b.in_bay_s, battery) > last_rank:
                last, last_rank = battery, leaves_bay_rank(b.in_bay_s, battery)
        b = s.batteries[last]
        b.charge = charge_now(s, f, last)
        ward.bays_taken -= 1
        if b.charge >= b.capacity:
            place(s, f, last, Use.BATTERIES_ON_SHELF)
        else:
            insert_behind(s.batteries, s.ends, BAY_QUEUE, last, NONE)
            place(s, f, last, Use.BATTERIES_WAITING_FOR_BAY)


@njit(**OPTIONS)
def fill_bays(s, f):
    """Put waiting batteries into free bays that work, first come first served."""
    ward, working, connect_s = s.ward[0], working_bays(f), f.n[0].connect_s
    clear_failed_bays(s, f, working)
    while s.ends[BAY_QUEUE, 0] >= 0 and ward.bays_taken < working:
        battery = pop_first(s.batteries, s.ends, BAY_QUEUE)
        b = s.batteries[battery]
        ward.bays_taken += 1
        s.counts[Count.CHARGES] += 1
        b.in_bay_s = ward.now_s + connect_s
        needed_s = seconds_to_charge(
            b.charge, b.capacity, b.capacity, b.cc_charge, b.cc_s, b.charge_s, f.end_of_charge
        )
        b.full_s = powered_end(b.in_bay_s, needed_s, f.cut_from_s, f.cut_to_s)
        for_s = b.full_s - ward.now_s
        place(s, f, battery, Use.BATTERIES_IN_BAY, for_s, for_s - connect_s - needed_s)
        moment(s, Moment.CHARGED, battery, for_s)


@njit(**OPTIONS)
def charged(s, f, battery):
    """Full, if it is still there: leave the bay, at once or at the next round."""
    b, now_s, n = s.batteries[battery], s.ward[0].now_s, f.n[0]
    if b.state != Use.BATTERIES_IN_BAY or b.full_s != now_s:
        return
    if s.ward[0].moments and s.heap[0] == now_s * KEYS + moment_rank(Moment.CHARGED, battery):
        return  # taken out and put in again, it is full at a moment that stands there twice
    for_s = next_round(now_s, n.rounds_every_s, n.rounds_from_s) - now_s
    if for_s > 0:
        s.ward[0].moved = 1
        tell(s, Kind.BLOCKS_BAY, battery=battery, one=for_s)
        moment(s, Moment.BAY_ROUND, battery, for_s)
    else:
        leave_bay(s, f, battery)


@njit(**OPTIONS)
def bay_round(s, f, battery):
    """Take a full battery out of its bay at a round, if it is still there."""
    b = s.batteries[battery]
    if b.state == Use.BATTERIES_IN_BAY and b.full_s < s.ward[0].now_s:
        leave_bay(s, f, battery)


@njit(**OPTIONS)
def leave_bay(s, f, battery):
    """Put a full battery on the shelf."""
    s.batteries[battery].charge = s.batteries[battery].capacity
    s.ward[0].bays_taken -= 1
    place(s, f, battery, Use.BATTERIES_ON_SHELF)


@njit(**OPTIONS)
def next_enough_s(s, f, level):
    """Next moment at which a battery in a bay reaches the minimum run time at a level, or -1."""
    first_s = NONE
    least = f.least_charge[level]
    for battery in range(len(s.batteries)):
        b = s.batteries[battery]
        if b.state != Use.BATTERIES_IN_BAY or b.capacity < least:
            continue
        needed_s = seconds_to_charge(
            b.charge, least, b.capacity, b.cc_charge, b.cc_s, b.charge_s, f.end_of_charge
        )
        usable_s = powered_end(b.in_bay_s, needed_s, f.cut_from_s, f.cut_to_s)
        if usable_s > s.ward[0].now_s and (first_s < 0 or usable_s < first_s):
            first_s = usable_s
    return first_s


@njit(**OPTIONS)
def next_enough_of(s, f, front_level, swap_level):
    """Next such moment for either of two levels, of which each may be -1."""
    first_s = next_enough_s(s, f, front_level) if front_level >= 0 else NONE
    if swap_level >= 0 and swap_level != front_level:
        swap_s = next_enough_s(s, f, swap_level)
        if swap_s >= 0 and (first_s < 0 or swap_s < first_s):
            first_s = swap_s
    return first_s


@njit(**OPTIONS)
def next_fullest(s, last, charge):
    """Fullest battery on the shelf, the first of several; the one before was `last`, so full.

    Of thousands that go at once nearly all are as full, and the next one comes after the last.
    """
    best, best_charge = NONE, NONE
    if last >= 0:
        for battery in range(last + 1, len(s.batteries)):
            b = s.batteries[battery]
            if b.state == Use.BATTERIES_ON_SHELF and b.charge == charge:
                return battery
    for battery in range(len(s.batteries)):
        b = s.batteries[battery]
        if b.state == Use.BATTERIES_ON_SHELF and b.charge > best_charge:
            best, best_charge = battery, b.charge
    return best


@njit(**OPTIONS)
def settle_batteries_away(s, f):
    """Send away the batteries that should be; one that comes is full."""
    ward, n = s.ward[0], f.n[0]
    target = batteries_to_be_away(ward.kits_away, n.batteries_come, n.batteries_lent)
    best, charge = NONE, NONE
    while ward.batteries_away < target:
        best = next_fullest(s, best, charge)
        if best < 0:
            return
        charge = s.batteries[best].charge
        s.away[1, ward.batteries_away] = best
        ward.batteries_away += 1
        place(s, f, best, Use.BATTERIES_AWAY)
    while ward.batteries_away > target:
        ward.batteries_away -= 1
        battery = s.away[1, ward.batteries_away]
        s.batteries[battery].charge = s.batteries[battery].capacity
        place(s, f, battery, Use.BATTERIES_ON_SHELF)
