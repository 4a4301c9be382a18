"""What those in line wait for: at any time each missing thing is somewhere, for some cause."""

from __future__ import annotations

from numba import njit

from surge_sim.engine.compiled import charging
from surge_sim.engine.compiled.basics import (
    HOODS,
    INLINE,
    LARGE_HOODS,
    ONCE,
    OPTIONS,
    TUBES,
    ZERO,
    const,
    length,
)
from surge_sim.engine.compiled.state import HE_QUEUE, PREFILTER_QUEUE
from surge_sim.engine.log import Missing, Use
from surge_sim.equipment import causes
from surge_sim.equipment.causes import Cause, battery_cause, part_cause, share_out
from surge_sim.equipment.kits import of_the_unit
from surge_sim.equipment.order import Line

CAUSES = const(causes.CAUSES)
#: places of the two lines: whoever holds a kit waits for a battery; all others for what the first
#: in line lacks
FRONT, SWAPS = const(0), const(1)
CLOCKS = const(2 * causes.CAUSES)
#: of a need that has waited in line: not now, or now
CLOCK_STANDS, CLOCK_RUNS = const(1), const(2)
#: more than there are flow levels
MOST_LEVELS = const(1_000)
FIRST_BATTERY, NO_KIT = const(Cause.BATTERY_IN_USE), const(Cause.NO_KIT)
LINES = const(Line.NOBODY)


@njit(**OPTIONS)
def begin(s, need):
    """Begin to wait in line: note what the line's clock shows."""
    let_pass(s)
    nd, row, clock = s.needs[need], need * CAUSES, clock_of(s, need)
    for cause in range(CAUSES):
        before_s = s.waited_s[row + cause] if nd.clocked else 0
        s.waited_s[row + cause] = before_s - s.causes[clock + cause]
    nd.clocked = CLOCK_RUNS


@njit(**INLINE)
def begin_behind(s, queue):
    """Begin for those who came in this second and are not served: they stand at the end."""
    need = s.ends[queue, 1]
    while need >= 0 and s.needs[need].need_s == s.ward[0].now_s:
        if not s.needs[need].clocked:
            begin(s, need)
        need = s.needs[need].before


@njit(**OPTIONS)
def end(s, need):
    """Wait in line no longer: what the line's clock shows beyond that was waited."""
    let_pass(s)
    clock = clock_of(s, need)
    for cause in range(CAUSES):
        s.waited_s[need * CAUSES + cause] += s.causes[clock + cause]
    s.needs[need].clocked = CLOCK_STANDS


@njit(**INLINE)
def clock_of(s, need):
    """Where the clock of the line begins in which somebody stands."""
    return CLOCKS + CAUSES * (SWAPS if s.needs[need].waiting - 1 == Line.SWAPS else FRONT)


@njit(**OPTIONS)
def let_pass(s):
    """Put the time since the last change down to the causes there were."""
    ward = s.ward[0]
    seconds = ward.now_s - ward.clocks_at_s
    if seconds:
        ward.front_s += share_out(s.causes, FRONT, CLOCKS, ward.front_s, seconds)
        ward.swaps_s += share_out(
            s.causes, SWAPS * CAUSES, CLOCKS + SWAPS * CAUSES, ward.swaps_s, seconds
        )
        ward.clocks_at_s = ward.now_s


@njit(**ONCE)
def note(s, f, mask, front_level, swap_level):
    """Note where everything is that is missing from now on; levels are -1 without a lack.

    Returns the next moment at which a battery in a bay holds enough for one of the levels, or -1.
    """
    ward, missing = s.ward[0], s.causes
    let_pass(s)
    for queue in range(LINES):
        begin_behind(s, queue)
    for cause in range(FIRST_BATTERY):
        missing[cause] = 0
    if mask & Missing.BLOWER:
        note_kits(s, f)
    else:
        if mask & Missing.HOOD:
            missing[part_cause(Missing.HOOD, s.supplies[HOODS].on_order)] = 1
        if mask & Missing.TUBE:
            missing[part_cause(Missing.TUBE, s.supplies[TUBES].on_order)] = 1
        if mask & Missing.LARGE_HOOD:
            missing[part_cause(Missing.LARGE_HOOD, s.supplies[LARGE_HOODS].on_order)] = 1
    levels = (1 + front_level) * MOST_LEVELS + 1 + swap_level
    n, powered = f.n[0], f.n[0].has_power
    not_lent = n.kits_come - n.kits_lent + n.batteries_come - n.batteries_lent
    away = of_the_unit(ward.batteries_away, not_lent)
    if (
        ward.moved
        or ward.own_away != away
        or ward.levels != levels
        or powered != ward.powered
        or (ward.enough_s >= 0 and ward.enough_s <= ward.now_s)
    ):
        ward.moved, ward.powered = 0, powered
        ward.levels, ward.own_away = levels, away
        for line in range(2):
            for cause in range(FIRST_BATTERY, CAUSES):
                missing[line * CAUSES + cause] = 0
        if front_level >= 0:
            note_batteries(s, f, FRONT, front_level)
        if swap_level >= 0:
            note_batteries(s, f, SWAPS, swap_level)
        ward.enough_s = charging.next_enough_of(s, f, front_level, swap_level)
    return ward.enough_s


@njit(**ONCE)
def note_kits(s, f):
    """Note where kits are; the record of use has counted them."""
    ward, use, missing = s.ward[0], s.use, s.causes
    prefilters = length(s.kits, s.ends, PREFILTER_QUEUE)
    mains = length(s.kits, s.ends, HE_QUEUE)
    missing[Cause.KIT_IN_USE] = use[Use.KITS_IN_USE].there - ward.kits_held
    missing[Cause.KIT_HELD] = ward.kits_held
    missing[Cause.KIT_WAITING_FOR_WIPE] = use[Use.KITS_WAITING_FOR_WIPE].there
    missing[Cause.KIT_IN_WIPE_DOWN] = use[Use.KITS_IN_WIPE_DOWN].there
    missing[Cause.KIT_DRYING] = use[Use.KITS_DRYING].there
    missing[Cause.KIT_LACKS_PREFILTER] = prefilters
    missing[Cause.KIT_LACKS_HE_FILTER] = mains
    missing[Cause.KIT_IN_REPAIR] = ward.in_repair
    missing[Cause.KIT_GETTING_FILTER] = (
        use[Use.KITS_OUT].there - prefilters - mains - ward.in_repair
    )
    missing[Cause.KIT_AWAY] = of_the_unit(ward.kits_away, f.n[0].kits_come - f.n[0].kits_lent)
    missing[Cause.KIT_RESERVED] = ward.kits_ready
    found = ZERO
    for cause in range(NO_KIT):
        found += missing[cause]
    if found == 0:
        missing[Cause.NO_KIT] = 1


@njit(**OPTIONS)
def note_batteries(s, f, line, level):
    """Note where batteries are, for a line that lacks one with the minimum run time at a level."""
    missing, start, least = s.causes, line * CAUSES, f.least_charge[level]
    powered = s.ward[0].powered != 0
    found = s.ward[0].own_away
    missing[start + Cause.BATTERY_AWAY] = found
    for battery in range(len(s.batteries)):
        b = s.batteries[battery]
        if b.state == Use.BATTERIES_AWAY:
            continue
        charge, free = charging.charge_now(s, f, battery), charging.is_free(s, f, battery)
        cause = battery_cause(b.state, charge, b.capacity, least, free, powered)
        missing[start + cause] += 1
        found += 1
    if found == 0:
        missing[start + Cause.NO_BATTERY] = 1
