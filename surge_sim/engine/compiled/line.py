"""The line at the shelf: who is served next, what is missing, whose maximum wait is over."""

from __future__ import annotations

from numba import njit

from surge_sim.engine.compiled import charging, turnaround, waiting
from surge_sim.engine.compiled.basics import (
    HOODS,
    INLINE,
    LARGE_HOODS,
    LESS,
    NONE,
    ONE,
    OPTIONS,
    TUBES,
    ZERO,
    change,
    enter,
    insert_behind,
    moment,
    pop_first,
    remove,
    tell,
    write,
)
from surge_sim.engine.compiled.state import SHELF
from surge_sim.engine.log import Count, Kind, Missing, Outcome, Use, Way
from surge_sim.equipment.batteries import level_wanted, may_be_issued
from surge_sim.equipment.filters import level_or_highest
from surge_sim.equipment.kits import begins_to_lack, is_late, lets_pass, missing_parts
from surge_sim.equipment.order import Line, Moment, kept_back, line_to_join, served_next
from surge_sim.equipment.supplies import hoods_of_size
from surge_sim.units import NEVER_S


@njit(**OPTIONS)
def want_kit(s, f, e, need):
    """Join a line; or check at once when a held kit's battery may be used on."""
    nd = s.needs[need]
    wearer = e.wearer[nd.entry]
    held = s.wearers[wearer].kit if wearer >= 0 else NONE
    line = ONE * line_to_join(nd.urgent, held >= 0)
    if line != Line.SWAPS:
        join(s, f, e, need, line)
        return
    nd.kit = held
    k = s.kits[held]
    k.need = need
    let_go(s, held)
    if k.battery >= 0:
        charge = s.batteries[k.battery].charge
        enough = may_be_issued(charge, f.least_charge[level_held(s, f, held)], ZERO, ZERO)
        tell(s, Kind.HOLDS_KIT, nd.entry, held, k.battery, charge, ONE * enough)
        if enough:
            start_check(s, f, held, ZERO)
            return
        charging.put_back(s, f, k.battery)
        k.battery = -1
    join(s, f, e, need, line)


@njit(**INLINE)
def hold(s, kit):
    """Let a kit be kept by a wearer who is between two visits."""
    s.kits[kit].held = 1
    s.ward[0].kits_held += 1


@njit(**INLINE)
def let_go(s, kit):
    """Use a kept kit for a visit, or hand it in."""
    s.ward[0].kits_held -= s.kits[kit].held
    s.kits[kit].held = 0


@njit(**OPTIONS)
def level_held(s, f, kit):
    """Level at which a held kit will run, the highest if its check will fail."""
    return level_or_highest(turnaround.level_of(s, f, kit), len(f.life_ppm))


@njit(**OPTIONS)
def join(s, f, e, need, queue):
    """Stand in line by (moment of the need, row): after a failed check that is mostly in front."""
    nd = s.needs[need]
    tell(s, Kind.JOINS_LINE, nd.entry, one=queue, two=nd.need_s, three=need)
    change(s, f, Use.ENTRIES_WAITING, ONE)
    nd.waiting = 1 + queue
    before = s.ends[queue, 1]
    while before >= 0 and (
        nd.need_s < s.needs[before].need_s
        or (nd.need_s == s.needs[before].need_s and need < before)
    ):
        before = s.needs[before].before
    insert_behind(s.needs, s.ends, queue, need, before)
    if s.ward[0].record and nd.failed_checks:
        waiting.begin(s, need)  # perhaps in mid line; all others stand at its end
    if nd.urgent:
        s.ward[0].urgent_waiting += 1
    ward, maximum_wait_s = s.ward[0], e.maximum_wait_s[nd.entry]
    if maximum_wait_s == NEVER_S:
        return
    if nd.need_s + maximum_wait_s <= ward.now_s:
        moment(s, Moment.MAXIMUM_WAIT_OVER, need, ZERO)
    elif ward.joined < len(s.joined):
        s.joined[ward.joined] = need
        ward.joined += 1
    else:
        ward.exhausted = 1


@njit(**OPTIONS)
def await_maximum_wait(s, e):
    """Await the end of the maximum wait of those who joined in this second and were not served.

    The reference engine awaits it for everybody; when somebody is served, nothing comes of it.
    """
    ward = s.ward[0]
    for i in range(ward.joined):
        nd = s.needs[s.joined[i]]
        if nd.waiting:
            maximum_wait_end_s = nd.need_s + e.maximum_wait_s[nd.entry]
            moment(s, Moment.MAXIMUM_WAIT_OVER, s.joined[i], maximum_wait_end_s - ward.now_s)
    ward.joined = 0


@njit(**OPTIONS)
def maximum_wait_over(s, need):
    """Mark a need whose maximum wait is over; whether it is served is settled after serving."""
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
    change(s, f, Use.ENTRIES_WAITING, LESS)
    if nd.clocked == waiting.CLOCK_RUNS:
        waiting.end(s, need)
    remove(s.needs, s.ends, nd.waiting - 1, need)
    nd.waiting = 0
    if nd.urgent:
        s.ward[0].urgent_waiting -= 1


@njit(**OPTIONS)
def serve(s, f):
    """Serve the lines as far as the shelf goes."""
    ward, ends, stuck = s.ward[0], s.ends, NONE
    ward.mask = 0
    while True:
        line = ONE * served_next(
            ends[Line.URGENT, 0] >= 0, ends[Line.SWAPS, 0] >= 0, ends[Line.ROUTINE, 0] >= 0, stuck
        )
        if line == Line.NOBODY:
            return
        need = ends[line, 0]
        back = kept_back(line, ward.urgent_waiting, f.n[0].reserved)
        mask, battery = lacking(s, f, need, line, back)
        first_lacks = mask
        if lets_pass(mask):
            other = first_of_other_size(s, need)
            if other >= 0:
                lacks, battery = lacking(s, f, other, line, back)
                if lacks:
                    mask |= lacks
                else:
                    need, mask = other, ZERO
        if mask:
            if not ward.mask:
                ward.mask, ward.first_lacks = mask, first_lacks
            stuck = line
            continue
        if line == Line.SWAPS:
            s.counts[Count.BATTERY_SWAPS] += 1
        else:
            take_kit(s, f, need, back)
        give_battery(s, f, need, battery, line)


@njit(**OPTIONS)
def first_of_other_size(s, first):
    """Return the first behind the first in a line who needs a hood of the other size, or -1."""
    need = s.needs[first].next
    while need >= 0 and large_hood(s, need) == large_hood(s, first):
        need = s.needs[need].next
    return need


@njit(**INLINE)
def large_hood(s, need):
    """Whether who needs a kit needs a large hood on it."""
    return s.needs[s.needs[need].entry].large_hood


@njit(**INLINE)
def lacking(s, f, need, line, back):
    """Say what the first in a line lacks, and which battery it would get."""
    ward, mask = s.ward[0], ZERO
    if line == Line.SWAPS:
        level = level_held(s, f, s.needs[need].kit)
    else:
        large = large_hood(s, need)
        hoods = ward.ready_large_hoods if large else ward.ready_hoods
        mask = ONE * missing_parts(ward.kits_ready, hoods, ward.ready_tubes, back, large)
        if mask and not ward.record:
            return mask, NONE  # what else is missing would only be written down
        level = shelf_level(s, f)
    least, mark = f.least_charge[level], mark_of(s, need)
    battery = charging.first_by_rank(s, f, mark, least, NONE)
    charge = charging.charge_now(s, f, battery) if battery >= 0 else NONE
    usable = charging.usable_count(s, f, least, back + 1) if back and battery >= 0 else ZERO
    if not may_be_issued(charge, least, usable, back):
        mask |= Missing.BATTERY
    return mask, battery


@njit(**INLINE)
def mark_of(s, need):
    """Return the mark that was drawn for the entry of a need."""
    return s.needs[s.needs[need].entry].mark


@njit(**INLINE)
def shelf_level(s, f):
    """Level of the blower that is handed out next; the lowest when there is none."""
    kit = turnaround.first_on_shelf(s, f)
    return ZERO if kit < 0 else s.kits[kit].shelf_level


@njit(**INLINE)
def is_waiting(s):
    """Whether anybody stands in line."""
    ends = s.ends
    return ends[Line.URGENT, 0] >= 0 or ends[Line.SWAPS, 0] >= 0 or ends[Line.ROUTINE, 0] >= 0


@njit(**INLINE)
def take_kit(s, f, need, back):
    """Take a blower, a hood of the wearer's size and a tube from the shelf."""
    ward, large = s.ward[0], large_hood(s, need)
    kit = turnaround.first_on_shelf(s, f)
    k = s.kits[kit]
    pop_first(s.kits, s.ends, SHELF + k.shelf_level)
    ward.kits_ready -= 1
    supply = ONE * hoods_of_size(large)
    turnaround.to_shelf_of(s, supply, LESS)
    ward.ready_tubes -= 1
    # what is kept back is as good as gone for this one
    hoods, tubes = s.supplies[supply], s.supplies[TUBES]
    ready = ward.ready_large_hoods if large else ward.ready_hoods
    hoods.least_left = min(hoods.least_left, ready - back)
    tubes.least_left = min(tubes.least_left, ward.ready_tubes - back)
    k.has_hood = k.has_tube = 1
    k.large_hood = large
    enter(s, f, kit, Use.KITS_IN_USE)
    s.needs[need].kit = kit
    k.need = need


@njit(**INLINE)
def give_battery(s, f, need, battery, line):
    """Put the battery in; the kit is fetched, and checked."""
    nd = s.needs[need]
    swap = line == Line.SWAPS
    issue = charging.NOT_TOLD
    if s.ward[0].telling:
        level = level_held(s, f, nd.kit) if swap else s.kits[nd.kit].shelf_level
        issue = charging.compared(s, f, battery, level, mark_of(s, need))
    charging.take_out(s, f, battery)
    s.kits[nd.kit].battery = battery
    leave_line(s, f, need)
    if s.ward[0].telling:
        kind = ONE * (Kind.TAKES_BATTERY if swap else Kind.TAKES_KIT)
        write(s, kind, nd.entry, nd.kit, battery, *issue)
        if not swap and large_hood(s, need):
            tell(s, Kind.TAKES_LARGE_HOOD, nd.entry, nd.kit, battery)
    fetch_s = f.n[0].fetch_s
    if fetch_s:
        tell(s, Kind.KIT_CARRIED, nd.entry, nd.kit, battery, fetch_s, Way.FETCHED)
    start_check(s, f, nd.kit, fetch_s)


@njit(**INLINE)
def start_check(s, f, kit, fetched_s):
    """Begin to fetch a kit and check it."""
    s.kits[kit].fresh = 0
    s.kits[kit].fetched_s = fetched_s
    s.counts[Count.CHECKS] += 1
    moment(s, Moment.CHECKED, kit, fetched_s + f.n[0].check_s)


@njit(**OPTIONS)
def note_missing(s, f):
    """Write down what the first in line lacks, and wake up when a battery holds enough."""
    ward, ends = s.ward[0], s.ends
    mask = ward.mask if is_waiting(s) else ZERO
    if ward.telling:
        tell_first(s, f, ward.first_lacks if mask else ZERO)
    before = ward.mask_before
    if mask != before:
        if begins_to_lack(Missing.HOOD, mask, before):
            turnaround.stock_out(s, HOODS, NONE)
        if begins_to_lack(Missing.TUBE, mask, before):
            turnaround.stock_out(s, TUBES, NONE)
        if begins_to_lack(Missing.LARGE_HOOD, mask, before):
            turnaround.stock_out(s, LARGE_HOODS, NONE)
        ward.mask_before = mask
        if ward.record:
            write_missing(s, mask)
    if not ward.record and not f.n[0].partial_charge_at_reissue:
        return  # no battery is issued before it is full, and no cause is written down
    swap_level = NONE
    if ends[Line.SWAPS, 0] >= 0:
        swap_level = level_held(s, f, s.needs[ends[Line.SWAPS, 0]].kit)
    urgent = ends[Line.URGENT, 0] >= 0
    front_level = level_wanted(mask & Missing.BATTERY, urgent, swap_level, shelf_level(s, f))
    if ward.record:
        wake_s = waiting.note(s, f, mask, front_level, swap_level)
    else:
        wake_s = charging.next_enough_of(s, f, front_level, swap_level)
    if wake_s >= 0 and wake_s != ward.wake_s:
        ward.wake_s = wake_s
        moment(s, Moment.TICK, ZERO, wake_s - ward.now_s)


@njit(**OPTIONS)
def tell_first(s, f, mask):
    """Tell what the first in line lacks when it, or that, is another than before."""
    ward, first, line = s.ward[0], NONE, ZERO
    while first < 0 and line < Line.NOBODY:
        first = s.ends[line, 0]
        line += ONE
    line -= ONE
    if first >= 0 and (first != ward.first_row or mask != ward.first_mask):
        nd, reserved = s.needs[first], ZERO
        if line == Line.ROUTINE:
            reserved = ONE * (lacking(s, f, first, line, ZERO)[0] == 0)
        tell(s, Kind.FIRST_IN_LINE, nd.entry, one=mask, two=reserved)
    ward.first_row, ward.first_mask = first, mask


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
    """Count an entry of the surge once when one of its needs was not served in time."""
    n, nd, ward = f.n[0], s.needs[need], s.ward[0]
    if nd.entry < n.entries_before:
        return
    first = s.needs[nd.entry]
    served = nd.outcome == Outcome.SERVED
    if is_late(served, nd.wait_s, n.wait_s) and not first.late:
        first.late = 1
        ward.late += 1
    if nd.urgent and is_late(served, nd.wait_s, n.urgent_wait_s) and not first.urgent_late:
        first.urgent_late = 1
        ward.urgent_late += 1
