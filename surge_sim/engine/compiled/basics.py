"""The mechanics of waiting: moments to come, queues, time in each state."""

from __future__ import annotations

import numpy as np
from numba import njit

from surge_sim.engine.compiled.state import BATTERY_SHELF
from surge_sim.engine.log import Kind, Use
from surge_sim.equipment import supplies
from surge_sim.equipment.order import (
    KIND_BITS,
    KINDS,
    LAST_S,
    NUMBER_BITS,
    NUMBERS,
    moment_rank,
)
from surge_sim.units import HOUR_S


def const(value: int) -> np.int64:
    """Return a constant that compiled functions take as any whole number, not as this one only."""
    return np.int64(value)


KEYS, KEY_BITS = const(KINDS * NUMBERS), const(KIND_BITS + NUMBER_BITS)
NUMBER_SHIFT = const(NUMBER_BITS)
LAST_KIND, LAST_NUMBER = const(KINDS - 1), const(NUMBERS - 1)
LATEST_S = const(LAST_S)
HOODS, TUBES = const(supplies.HOODS), const(supplies.TUBES)
LARGE_HOODS = const(supplies.LARGE_HOODS)
PREFILTERS, HE_FILTERS = const(supplies.PREFILTERS), const(supplies.HE_FILTERS)
NONE, ONE, LESS, ZERO = const(-1), const(1), const(-1), const(0)
#: functions called from compiled code only
OPTIONS = {"error_model": "numpy", "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
#: small ones, often called; all of them would be a tenth faster and take nearly twice as long to
#: compile
INLINE = OPTIONS | {"forceinline": True}
#: large ones called from one place: written into it before anything is compiled, which spares
#: compiling and optimizing them twice; with the smaller ones it would take longer again
ONCE = OPTIONS | {"inline": "always"}


@njit(**INLINE)
def moment(s, kind, number, delay_s):
    """Await a change after `delay_s`, in its place within that second, or at `LATEST_S`."""
    ward = s.ward[0]
    place = ward.moments
    if place >= len(s.heap):
        ward.exhausted = 1
        return
    ward.moments = place + 1
    at_s = min(ward.now_s + delay_s, LATEST_S)
    rise(s.heap, place, at_s * KEYS + moment_rank(kind, number))


@njit(**INLINE)
def second_of(key):
    """Second of a moment; a shift, since a division rounds with several steps more."""
    return key >> KEY_BITS


@njit(**INLINE)
def kind_of(key):
    """Kind of a moment."""
    return (key >> NUMBER_SHIFT) & LAST_KIND


@njit(**INLINE)
def number_of(key):
    """Number of the thing that a moment changes."""
    return key & LAST_NUMBER


@njit(**INLINE)
def rise(heap, place, key):
    """Put a key in its place between a free one of the heap and the top."""
    while place > 0:
        parent = (place - 1) // 2
        if heap[parent] <= key:
            break
        heap[place] = heap[parent]
        place = parent
    heap[place] = key


@njit(**INLINE)
def next_moment(s):
    """Take the key of the next change off the heap."""
    ward = s.ward[0]
    heap = s.heap
    first = heap[0]
    count = ward.moments - 1
    ward.moments = count
    # the hole goes down to a leaf along the lesser children, and the last key up from there: a key
    # from the end mostly belongs near it
    hole = ZERO
    child = ONE
    while child + 1 < count:
        child += ONE * (heap[child + 1] < heap[child])
        heap[hole] = heap[child]
        hole = child
        child = 2 * hole + 1
    if child < count:
        heap[hole] = heap[child]
        hole = child
    rise(heap, hole, heap[count])
    return first


@njit(**INLINE)
def drawn(s, table, generation, number):
    """Read a draw that belongs to a blower or a battery."""
    if generation >= table.shape[0]:
        s.ward[0].exhausted = 1
        return 1
    return table[generation, number]


@njit(**INLINE)
def length(things, ends, queue):
    """Count the things in a queue."""
    count, thing = ZERO, ends[queue, 0]
    while thing >= 0:
        count += ONE
        thing = things[thing].next
    return count


@njit(**INLINE)
def append(things, ends, queue, number):
    """Put a thing at the end of a queue."""
    last = ends[queue, 1]
    things[number].next = -1
    things[number].before = last
    if last < 0:
        ends[queue, 0] = number
    else:
        things[last].next = number
    ends[queue, 1] = number


@njit(**INLINE)
def insert_behind(things, ends, queue, number, before):
    """Put a thing behind another of the queue; -1 is the front."""
    after = ends[queue, 0] if before < 0 else things[before].next
    things[number].next = after
    things[number].before = before
    if before < 0:
        ends[queue, 0] = number
    else:
        things[before].next = number
    if after < 0:
        ends[queue, 1] = number
    else:
        things[after].before = number


@njit(**INLINE)
def remove(things, ends, queue, number):
    """Take a thing out of a queue."""
    before, after = things[number].before, things[number].next
    if before < 0:
        ends[queue, 0] = after
    else:
        things[before].next = after
    if after < 0:
        ends[queue, 1] = before
    else:
        things[after].before = before


@njit(**INLINE)
def pop_first(things, ends, queue):
    """Take the first out of a queue."""
    number = ends[queue, 0]
    remove(things, ends, queue, number)
    return number


@njit(**INLINE)
def change(s, f, use, by):
    """Add `by` things to a state; what they add by the end of the hour is counted at once."""
    if s.ward[0].record:
        ahead_s = seconds_ahead(s, f)
        add(s, f, use, by, ahead_s)


@njit(**INLINE)
def seconds_ahead(s, f):
    """Begin the hour if it has changed; return how much of it, within the horizon, is to come."""
    ward = s.ward[0]
    if ward.now_s >= ward.hour_end_s:
        next_hours(s, f)
    return max(ward.hour_end_s - ward.now_s, 0)


@njit(**INLINE)
def add(s, f, use, by, ahead_s):
    """Add things to a state in the record."""
    note_peak(s, f, use)
    u = s.use[use]
    u.there += by
    u.in_hour += by * ahead_s


@njit(**INLINE)
def note_peak(s, f, use):
    """A number that lasts no time makes no peak."""
    u, now_s = s.use[use], min(s.ward[0].now_s, f.n[0].horizon_s)
    if now_s > u.since_s:
        u.peak = max(u.peak, u.there)
        u.since_s = now_s


@njit(**OPTIONS)
def next_hours(s, f):
    """Write down the hours that are over; begin each with what it adds if nothing changes."""
    ward, horizon_s = s.ward[0], f.n[0].horizon_s
    while ward.now_s >= ward.hour_end_s and ward.hour_end_s < horizon_s:
        write_hour(s)
        from_s = ward.hour_end_s
        ward.hour = from_s // HOUR_S
        ward.hour_end_s = min(from_s + HOUR_S, horizon_s)
        for use in range(len(s.use)):
            s.use[use].in_hour = s.use[use].there * (ward.hour_end_s - from_s)


@njit(**INLINE)
def write_hour(s):
    """Write down the item-seconds of the hour."""
    for use in range(len(s.use)):
        s.use_area[use, s.ward[0].hour] = s.use[use].in_hour


@njit(**INLINE)
def tell(s, kind, entry=NONE, kit=NONE, battery=NONE, one=ZERO, two=ZERO, three=ZERO, four=ZERO):
    """Note what happens, if anybody asked for it; for the values see `MEANINGS`."""
    if s.ward[0].telling:
        write(s, kind, entry, kit, battery, one, two, three, four, ZERO)


@njit(**OPTIONS)
def write(s, kind, entry, kit, battery, one, two, three, four, five):
    """Write an event down; where there is no room the play is played again with more."""
    ward, events = s.ward[0], s.events
    row = ward.events
    ward.events = row + 1
    if row >= len(events):
        return
    events[row, 0], events[row, 1] = ward.now_s, kind
    events[row, 2], events[row, 3], events[row, 4] = entry, kit, battery
    events[row, 5], events[row, 6], events[row, 7] = one, two, three
    events[row, 8], events[row, 9] = four, five


@njit(**INLINE)
def move(s, f, was, state):
    """Take one thing from a state to another in the record."""
    if s.ward[0].record:
        ahead_s = seconds_ahead(s, f)
        add(s, f, was, LESS, ahead_s)
        add(s, f, state, ONE, ahead_s)


@njit(**INLINE)
def enter(s, f, kit, state, for_s=ZERO):
    """Move a kit to another state, for so long if that is known."""
    k = s.kits[kit]
    if s.ward[0].telling:
        write(s, Kind.KIT_MOVES, NONE, kit, NONE, k.state, ONE * state, for_s, k.repair, ZERO)
    move(s, f, k.state, state)
    k.state = state


@njit(**INLINE)
def place(s, f, battery, state, for_s=ZERO, unpowered_s=ZERO):
    """Move a battery to another state."""
    ward, b = s.ward[0], s.batteries[battery]
    if ward.telling:
        to = ONE * state
        write(s, Kind.BATTERY_MOVES, NONE, NONE, battery, b.state, to, b.charge, for_s, unpowered_s)
    move(s, f, b.state, state)
    ward.moved = 1
    if b.state == Use.BATTERIES_ON_SHELF:
        remove(s.batteries, s.ends, BATTERY_SHELF, battery)
    b.state, b.since_s = state, ward.now_s
    if state == Use.BATTERIES_ON_SHELF:
        lay_down(s, battery)


@njit(**INLINE)
def lay_down(s, battery):
    """Lay a battery on the shelf, behind those that came before; in one second by their numbers."""
    now_s, before = s.batteries[battery].since_s, s.ends[BATTERY_SHELF, 1]
    while before > battery and s.batteries[before].since_s == now_s:
        before = s.batteries[before].before
    insert_behind(s.batteries, s.ends, BATTERY_SHELF, battery, before)
