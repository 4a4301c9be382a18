"""The line at the shelf: who is served next, what is missing, whose patience is over."""

from __future__ import annotations

from numba import njit

from surge_sim.demand.trace import NEVER_S
from surge_sim.engine.compiled import state
from surge_sim.engine.compiled.basics import (
    INLINE,
    LESS,
    NONE,
    ONE,
    OPTIONS,
    ZERO,
    change,
    const,
    enter,
    insert_behind,
    moment,
    pop_first,
    remove,
)
from surge_sim.engine.compiled.charging import (
    charge_now,
    fullest,
    next_enough_of,
    put_back,
    take_out,
    usable_count,
)
from surge_sim.engine.compiled.state import SHELF
from surge_sim.engine.compiled.turnaround import first_on_shelf, level_of
from surge_sim.engine.compiled.waiting import CLOCK_RUNS, begin_waiting, end_waiting, note_causes
from surge_sim.engine.log import Count, Missing, Outcome, Use
from surge_sim.equipment import supplies
from surge_sim.equipment.order import Moment, may_swap, may_take

URGENT_LINE, SWAP_LINE = const(state.URGENT_LINE), const(state.SWAP_LINE)
ROUTINE_LINE = const(state.ROUTINE_LINE)
BLOWER, HOOD, TUBE, BATTERY = (
    const(Missing.BLOWER), const(Missing.HOOD), const(Missing.TUBE), const(Missing.BATTERY),
)  # fmt: skip
ENTRIES_WAITING, KITS_IN_USE = const(Use.ENTRIES_WAITING), const(Use.KITS_IN_USE)
SERVED = const(Outcome.SERVED)
PATIENCE_OVER, TICK, CHECKED = (
    const(Moment.PATIENCE_OVER),
    const(Moment.TICK),
    const(Moment.CHECKED),
)
HOODS, TUBES = const(supplies.HOODS), const(supplies.TUBES)
CHECKS, SWAPS = const(Count.CHECKS), const(Count.BATTERY_SWAPS)
STOCK_OUTS_HOODS, STOCK_OUTS_TUBES = const(Count.STOCK_OUTS_HOODS), const(Count.STOCK_OUTS_TUBES)


@njit(**OPTIONS)
def want_kit(s, f, e, need):
    """Join the line; or check at once when a held kit's battery still has the least run."""
    nd = s.needs[need]
    wearer = e.wearer[nd.entry]
    held = s.wearers[wearer].kit if wearer >= 0 and not nd.urgent else -1
    if held < 0:
        join(s, f, e, need, URGENT_LINE if nd.urgent else ROUTINE_LINE)
        return
    nd.kit = held
    s.kits[held].need = need
    s.ward[0].kits_held -= s.kits[held].held
    s.kits[held].held = 0
    battery = s.kits[held].battery
    if battery >= 0:
        if s.batteries[battery].charge >= f.least_charge[level_held(s, f, held)]:
            start_check(s, f, held)
            return
        put_back(s, f, battery)
        s.kits[held].battery = -1
    join(s, f, e, need, SWAP_LINE)


@njit(**OPTIONS)
def level_held(s, f, kit):
    """Level at which a held kit will run, the highest if its check will fail."""
    return min(level_of(s, f, kit), len(f.life_ppm) - 1)


@njit(**OPTIONS)
def join(s, f, e, need, queue):
    """Stand in line by (moment of the need, row): after a failed check that is mostly in front."""
    nd = s.needs[need]
    change(s, f, ENTRIES_WAITING, ONE)
    nd.waiting = 1 + queue
    before = s.ends[queue, 1]
    while before >= 0 and (
        nd.need_s < s.needs[before].need_s
        or (nd.need_s == s.needs[before].need_s and need < before)
    ):
        before = s.needs[before].before
    insert_behind(s.needs, s.ends, queue, need, before)
    if s.ward[0].record and nd.failed_checks:
        begin_waiting(s, need)  # perhaps in mid line; all others stand at its end
    if nd.urgent:
        s.ward[0].urgent_waiting += 1
    ward, patience_s = s.ward[0], e.patience_s[nd.entry]
    if patience_s == NEVER_S:
        return
    if nd.need_s + patience_s <= ward.now_s:
        moment(s, PATIENCE_OVER, need, ZERO)
    elif ward.joined < len(s.joined):
        s.joined[ward.joined] = need
        ward.joined += 1
    else:
        ward.exhausted = 1


@njit(**OPTIONS)
def await_patience(s, e):
    """Await the end of the patience of those who joined in this second and were not served in it.

    The reference engine awaits it for everybody; when somebody is served, nothing comes of it.
    """
    ward = s.ward[0]
    for i in range(ward.joined):
        nd = s.needs[s.joined[i]]
        if nd.waiting:
            patience_end_s = nd.need_s + e.patience_s[nd.entry]
            moment(s, PATIENCE_OVER, s.joined[i], patience_end_s - ward.now_s)
    ward.joined = 0


@njit(**OPTIONS)
def patience_over(s, need):
    """Mark a need whose patience is over; whether it is still served is settled after serving."""
    ward = s.ward[0]
    if s.needs[need].waiting:
        if ward.impatient >= len(s.impatient):
            ward.exhausted = 1
            return
        s.impatient[ward.impatient] = need
        ward.impatient += 1


@njit(**INLINE)
def leave_line(s, f, need):
    """Stand in line no longer."""
    nd = s.needs[need]
    change(s, f, ENTRIES_WAITING, LESS)
    if nd.clocked == CLOCK_RUNS:
        end_waiting(s, need)
    remove(s.needs, s.ends, nd.waiting - 1, need)
    nd.waiting = 0
    if nd.urgent:
        s.ward[0].urgent_waiting -= 1


@njit(**INLINE)
def lacking(s, f, need):
    """Say what the shelf lacks for an entry, and which battery it would get."""
    ward = s.ward[0]
    reserved = 0 if s.needs[need].urgent else f.n[0].reserved
    mask = 0
    if not may_take(ward.kits_ready, reserved):
        mask |= BLOWER
    if not may_take(ward.ready_hoods, reserved):
        mask |= HOOD
    if not may_take(ward.ready_tubes, reserved):
        mask |= TUBE
    if mask and not ward.record:
        return mask, NONE  # what else is missing would only be written down
    level = shelf_level(s, f)
    battery = fullest(s, f)
    if (
        battery < 0
        or charge_now(s, f, battery) < f.least_charge[level]
        or (reserved > 0 and not may_take(usable_count(s, f, level, reserved + 1), reserved))
    ):
        mask |= BATTERY
    return mask, battery


@njit(**INLINE)
def shelf_level(s, f):
    """Level of the blower that is handed out next; the lowest when there is none."""
    kit = first_on_shelf(s, f)
    return 0 if kit < 0 else s.kits[kit].shelf_level


@njit(**INLINE)
def is_waiting(s):
    """Whether anybody stands in line."""
    ends = s.ends
    return ends[URGENT_LINE, 0] >= 0 or ends[SWAP_LINE, 0] >= 0 or ends[ROUTINE_LINE, 0] >= 0


@njit(**OPTIONS)
def serve(s, f):
    """Serve the line as far as the shelf goes: urgent, then battery swaps, then routine."""
    ward, ends = s.ward[0], s.ends
    ward.mask = 0
    while ends[URGENT_LINE, 0] >= 0:
        ward.mask, battery = lacking(s, f, ends[URGENT_LINE, 0])
        if ward.mask:
            break
        hand_out(s, f, ends[URGENT_LINE, 0], battery)
    while ends[SWAP_LINE, 0] >= 0:
        battery = swap_battery(s, f, ends[SWAP_LINE, 0])
        if battery < 0:
            if not ward.mask:
                ward.mask = BATTERY
            break
        swap(s, f, ends[SWAP_LINE, 0], battery)
    while ends[ROUTINE_LINE, 0] >= 0 and ends[URGENT_LINE, 0] < 0 and ends[SWAP_LINE, 0] < 0:
        ward.mask, battery = lacking(s, f, ends[ROUTINE_LINE, 0])
        if ward.mask:
            break
        hand_out(s, f, ends[ROUTINE_LINE, 0], battery)


@njit(**INLINE)
def hand_out(s, f, need, battery):
    """Hand a complete kit to the first in line."""
    ward = s.ward[0]
    kit = first_on_shelf(s, f)
    k = s.kits[kit]
    pop_first(s.kits, s.ends, SHELF + k.shelf_level)
    ward.kits_ready -= 1
    ward.ready_hoods -= 1
    ward.ready_tubes -= 1
    reserved = ZERO if s.needs[need].urgent else f.n[0].reserved
    hoods, tubes = s.supplies[HOODS], s.supplies[TUBES]
    hoods.least_left = min(hoods.least_left, ward.ready_hoods - reserved)
    tubes.least_left = min(tubes.least_left, ward.ready_tubes - reserved)
    k.has_hood = k.has_tube = 1
    enter(s, f, kit, KITS_IN_USE)
    s.needs[need].kit = kit
    k.need = need
    give_battery(s, f, need, kit, battery)


@njit(**OPTIONS)
def swap_battery(s, f, need):
    """Return the battery that the first of the swaps may take, if any."""
    level = level_held(s, f, s.needs[need].kit)
    battery = fullest(s, f)
    if battery < 0 or charge_now(s, f, battery) < f.least_charge[level]:
        return -1
    urgent = s.ward[0].urgent_waiting
    if urgent and not may_swap(usable_count(s, f, level, urgent + 1), urgent):
        return -1
    return battery


@njit(**OPTIONS)
def swap(s, f, need, battery):
    """Give a fresh battery to a wearer who holds a kit."""
    s.counts[SWAPS] += 1
    give_battery(s, f, need, s.needs[need].kit, battery)


@njit(**INLINE)
def give_battery(s, f, need, kit, battery):
    """Put the battery in; the check begins."""
    take_out(s, f, battery)
    s.kits[kit].battery = battery
    leave_line(s, f, need)
    start_check(s, f, kit)


@njit(**INLINE)
def start_check(s, f, kit):
    """Begin to check a kit."""
    s.kits[kit].fresh = 0
    s.counts[CHECKS] += 1
    moment(s, CHECKED, kit, f.n[0].check_s)


@njit(**OPTIONS)
def note_missing(s, f):
    """Write down what the first in line lacks, and wake up when a battery holds enough."""
    ward, ends = s.ward[0], s.ends
    mask = ward.mask if is_waiting(s) else 0
    before = ward.mask_before
    if mask != before:
        part = ZERO if mask & BLOWER else mask
        part_before = ZERO if before & BLOWER else before
        if part & HOOD and not part_before & HOOD:
            s.counts[STOCK_OUTS_HOODS] += 1
        if part & TUBE and not part_before & TUBE:
            s.counts[STOCK_OUTS_TUBES] += 1
        ward.mask_before = mask
        if ward.record:
            write_missing(s, mask)
    swap_level = front_level = NONE
    if ends[SWAP_LINE, 0] >= 0:
        swap_level = level_held(s, f, s.needs[ends[SWAP_LINE, 0]].kit)
    if mask & BATTERY:
        front_level = swap_level
        if ends[URGENT_LINE, 0] >= 0 or swap_level < 0:
            front_level = shelf_level(s, f)
    if ward.record:
        wake_s = note_causes(s, f, mask, front_level, swap_level)
    elif f.n[0].early_take:
        wake_s = next_enough_of(s, f, front_level, swap_level)
    else:
        return
    if wake_s >= 0 and wake_s != ward.wake_s:
        ward.wake_s = wake_s
        moment(s, TICK, ZERO, wake_s - ward.now_s)


@njit(**OPTIONS)
def write_missing(s, mask):
    """Add to the record of what was missing; the last word of a second counts."""
    ward = s.ward[0]
    count = ward.missing
    if count and s.missing_at_s[count - 1] == ward.now_s:
        count -= 1
    if mask != (s.missing_mask[count - 1] if count else 0):
        if count >= len(s.missing_at_s):
            ward.exhausted = 1
            return
        s.missing_at_s[count] = ward.now_s
        s.missing_mask[count] = mask
        count += 1
    ward.missing = count


@njit(**OPTIONS)
def note_late(s, f, need):
    """Count an entry once when one of its needs was not served in time."""
    n, nd, ward = f.n[0], s.needs[need], s.ward[0]
    first = s.needs[nd.entry]
    served = nd.outcome == SERVED
    if not (served and nd.wait_s <= n.wait_s) and not first.late:
        first.late = 1
        ward.late += 1
    if nd.urgent and not (served and nd.wait_s <= n.urgent_wait_s) and not first.urgent_late:
        first.urgent_late = 1
        ward.urgent_late += 1
