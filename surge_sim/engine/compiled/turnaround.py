"""After a use: wipe-down, wet and dry time, the shelf; spare parts; the workshop."""

from __future__ import annotations

from numba import njit

from surge_sim.engine.compiled import charging
from surge_sim.engine.compiled.basics import (
    HE_FILTERS,
    HOODS,
    INLINE,
    LARGE_HOODS,
    ONE,
    OPTIONS,
    PREFILTERS,
    TUBES,
    ZERO,
    append,
    const,
    drawn,
    enter,
    length,
    moment,
    pop_first,
    remove,
    tell,
)
from surge_sim.engine.compiled.state import HE_QUEUE, PREFILTER_QUEUE, SHELF, WIPE_QUEUE
from surge_sim.engine.log import Count, Kind, Use
from surge_sim.equipment import order
from surge_sim.equipment.cleaning import CENTRAL
from surge_sim.equipment.filters import fitted_life, level_or_highest, lowest_level, working_end
from surge_sim.equipment.kits import Repair, kits_to_be_away, parts_that_follow
from surge_sim.equipment.order import Moment, delivery_number
from surge_sim.equipment.supplies import (
    delivery_s,
    endless_now,
    hoods_of_size,
    in_stock,
    order_quantity,
    spare_parts,
)

SUPPLIES = const(order.SUPPLIES)


@njit(**OPTIONS)
def new_kit(s, f, work, kit):
    """Lay a kit out as it is when the surge begins."""
    k = s.kits[kit]
    k.state, k.battery, k.wiper, k.need = Use.KITS_READY, -1, -1, -1
    if f.n[0].has_filters:
        k.prefilter_life_s = drawn(s, work.prefilter_life_s, ZERO, kit)
        k.prefilter_run_s = work.prefilter_used_s[kit] * f.n[0].part_worn
        k.he_life_s = drawn(s, work.he_life_s, ZERO, kit)
        k.he_run_s = work.he_used_s[kit] * f.n[0].part_worn
    if f.n[0].has_failures:
        k.failure_life_s = drawn(s, work.failure_run_s, ZERO, kit)


@njit(**INLINE)
def level_of(s, f, kit):
    """Lowest level that passes the check; the number of levels if none does."""
    if not f.n[0].has_filters:
        return 0
    k = s.kits[kit]
    return lowest_level(k.prefilter_run_s, k.prefilter_life_s, k.he_run_s, k.he_life_s, f.life_ppm)


@njit(**OPTIONS)
def to_shelf(s, f, kit):
    """Put a clean blower on the shelf, behind those of its level."""
    level = level_or_highest(level_of(s, f, kit), len(f.life_ppm))
    s.kits[kit].shelf_level = level
    append(s.kits, s.ends, SHELF + level, kit)
    s.ward[0].kits_ready += 1
    enter(s, f, kit, Use.KITS_READY)


@njit(**INLINE)
def first_on_shelf(s, f):
    """Return the blower that is handed out next: lowest level, then longest ready."""
    for level in range(len(f.life_ppm)):
        if s.ends[SHELF + level, 0] >= 0:
            return s.ends[SHELF + level, 0]
    return -1


# --- spare parts ---------------------------------------------------------------------------


@njit(**OPTIONS)
def reorder(s, f, supply):
    """Order when few spares are left."""
    p, ward = s.supplies[supply], s.ward[0]
    spare = spare_parts(supply, p.spares, f.n[0].kits)
    lot = order_quantity(spare + p.on_order, f.reorder_point[supply], f.lot[supply])
    if lot:
        p.on_order += lot
        tell(s, Kind.ORDERED, one=supply, two=lot)
        come_s = delivery_s(
            ward.now_s + f.lead_s[supply], supply, f.missed_from_s, f.missed_to_s, f.missed_supply
        )
        moment(s, Moment.DELIVERY, delivery_number(supply, lot), come_s - ward.now_s)


@njit(**OPTIONS)
def reorder_all(s, f):
    """Order what is at or below its reorder point when the surge begins."""
    for supply in range(SUPPLIES):
        if not is_endless(f, supply):
            reorder(s, f, supply)


@njit(**OPTIONS)
def delivery(s, number):
    """Bring an order."""
    supply, lot = number % SUPPLIES, number // SUPPLIES
    s.supplies[supply].on_order -= lot
    s.supplies[supply].spares += lot
    tell(s, Kind.DELIVERED, one=supply, two=lot)
    to_shelf_of(s, supply, lot)


@njit(**OPTIONS)
def to_shelf_of(s, supply, parts):
    """Lay hoods or tubes on their shelf; a filter is taken from what there is."""
    if supply == HOODS:
        s.ward[0].ready_hoods += parts
    elif supply == TUBES:
        s.ward[0].ready_tubes += parts
    elif supply == LARGE_HOODS:
        s.ward[0].ready_large_hoods += parts


@njit(**INLINE)
def is_there(s, f, supply):
    """Whether there is a spare part."""
    return in_stock(is_endless(f, supply), s.supplies[supply].spares)


@njit(**INLINE)
def is_endless(f, supply):
    """Whether a supply never runs out, at this time."""
    return endless_now(f.endless[supply], f.n[0].run_in)


@njit(**OPTIONS)
def stock_out(s, supply, kit):
    """Count that a spare part is wanted, for a kit or for the first in line, and there is none."""
    s.counts[Count.STOCK_OUTS_HOODS + supply] += 1
    tell(s, Kind.STOCK_OUT, kit=kit, one=supply)


@njit(**OPTIONS)
def take_filter(s, f, supply):
    """Take a filter from stock."""
    p = s.supplies[supply]
    if not is_endless(f, supply):
        p.spares -= 1
        p.least_left = min(p.least_left, p.spares)
        reorder(s, f, supply)
    s.counts[Count.HOODS_USED + supply] += 1


@njit(**OPTIONS)
def throw_away(s, f, kit, supply, single_use):
    """Throw a hood or a tube away; an endless supply puts a new one on the shelf at once."""
    tell(s, Kind.PART_THROWN_AWAY, kit=kit, one=supply, two=single_use)
    s.counts[Count.HOODS_USED + supply] += 1
    if not is_endless(f, supply):
        s.supplies[supply].spares -= 1
        reorder(s, f, supply)
    else:
        to_shelf_of(s, supply, ONE)


@njit(**OPTIONS)
def fit_prefilter(s, f, work, kit):
    """Fit a new prefilter."""
    k = s.kits[kit]
    k.prefilter_no += 1
    k.prefilter_run_s = 0
    life_s = drawn(s, work.prefilter_life_s, k.prefilter_no, kit)
    k.prefilter_life_s = fitted_life(life_s, f.n[0].prefilter_life_ppm)


# --- wipe-down -----------------------------------------------------------------------------


@njit(**INLINE)
def hand_in(s, f, kit, wiper):
    """Bring a used kit to the wipe-down."""
    k = s.kits[kit]
    if f.n[0].single_use_hoods and k.has_hood:
        k.has_hood = 0
        throw_away(s, f, kit, ONE * hoods_of_size(k.large_hood), ONE)
    k.wiper = wiper
    append(s.kits, s.ends, WIPE_QUEUE, kit)
    enter(s, f, kit, Use.KITS_WAITING_FOR_WIPE)


@njit(**OPTIONS)
def start_wipe_downs(s, f, work):
    """Start as many wipe-downs as there are places or cleaners; or collect for a central one."""
    ward, n = s.ward[0], f.n[0]
    if n.cleaning == CENTRAL:
        if n.round_s != ward.now_s:
            return
        while s.ends[WIPE_QUEUE, 0] >= 0:
            kit = pop_first(s.kits, s.ends, WIPE_QUEUE)
            s.counts[Count.WIPE_DOWNS] += 1
            back_s = n.round_back_s - ward.now_s
            enter(s, f, kit, Use.KITS_IN_WIPE_DOWN, back_s)
            moment(s, Moment.READY, kit, back_s)
        return
    while s.ends[WIPE_QUEUE, 0] >= 0 and ward.wiping < n.wipers:
        if ward.wipes_started >= len(work.wipe_s):
            ward.exhausted = 1
            return
        kit = pop_first(s.kits, s.ends, WIPE_QUEUE)
        wipe_s = work.wipe_s[ward.wipes_started]
        ward.wipes_started += 1
        ward.wiping += 1
        s.counts[Count.WIPE_DOWNS] += 1
        enter(s, f, kit, Use.KITS_IN_WIPE_DOWN, wipe_s)
        moment(s, Moment.WIPED, kit, wipe_s)


@njit(**OPTIONS)
def wiped(s, f, kit):
    """Wiped down; then it stays wet and dries without labour. Returns the wearer set free."""
    s.ward[0].wiping -= 1
    enter(s, f, kit, Use.KITS_DRYING, f.n[0].contact_and_drying_s)
    moment(s, Moment.READY, kit, f.n[0].contact_and_drying_s)
    return s.kits[kit].wiper


@njit(**OPTIONS)
def dry(s, f, work, kit):
    """Clean again: its parts to their shelves, the blower to the shelf or out."""
    k = s.kits[kit]
    take_apart(s, k)
    if k.repair == Repair.NOTHING:
        to_shelf(s, f, kit)
    else:
        go_out(s, f, work, kit)


@njit(**OPTIONS)
def take_apart(s, k):
    """Lay the clean hood and tube of a kit on their shelves."""
    to_shelf_of(s, ONE * hoods_of_size(k.large_hood), k.has_hood)
    to_shelf_of(s, TUBES, k.has_tube)
    k.has_hood = k.has_tube = k.large_hood = 0


# --- workshop ------------------------------------------------------------------------------


@njit(**OPTIONS)
def go_out(s, f, work, kit):
    """Send a clean blower out: for a repair, an HE filter, or until there is a prefilter."""
    k, repair_s = s.kits[kit], ZERO
    if k.repair == Repair.FAILURE:
        repair_s = drawn(s, work.repair_s, k.failure_no, kit)
    enter(s, f, kit, Use.KITS_OUT, repair_s)
    if k.repair == Repair.FAILURE:
        s.counts[Count.BLOWER_REPAIRS] += 1
        s.ward[0].in_repair += 1
        moment(s, Moment.BACK_IN_SERVICE, kit, repair_s)
    elif k.repair == Repair.PREFILTER:
        append(s.kits, s.ends, PREFILTER_QUEUE, kit)
    else:
        # those before it in the queue take theirs first
        left = s.supplies[HE_FILTERS].spares - length(s.kits, s.ends, HE_QUEUE)
        if not in_stock(is_endless(f, HE_FILTERS), left):
            stock_out(s, HE_FILTERS, kit)
        append(s.kits, s.ends, HE_QUEUE, kit)


@njit(**OPTIONS)
def start_workshop(s, f):
    """Start every filter change for which there is a filter."""
    n, ward = f.n[0], s.ward[0]
    while s.ends[PREFILTER_QUEUE, 0] >= 0 and is_there(s, f, PREFILTERS):
        kit = pop_first(s.kits, s.ends, PREFILTER_QUEUE)
        take_filter(s, f, PREFILTERS)
        change_s = n.prefilter_change_s
        tell(s, Kind.FILTER_CHANGE, kit=kit, one=PREFILTERS, two=change_s)
        moment(s, Moment.BACK_IN_SERVICE, kit, n.prefilter_change_s)
    while s.ends[HE_QUEUE, 0] >= 0 and is_there(s, f, HE_FILTERS):
        kit = pop_first(s.kits, s.ends, HE_QUEUE)
        take_filter(s, f, HE_FILTERS)
        end_s = working_end(
            ward.now_s, n.main_turnaround_s, n.first_clock_s, n.first_weekday, n.open_s, n.shut_s,
            n.weekend,
        )  # fmt: skip
        tell(s, Kind.FILTER_CHANGE, kit=kit, one=HE_FILTERS, two=end_s - ward.now_s)
        moment(s, Moment.BACK_IN_SERVICE, kit, end_s - ward.now_s)


@njit(**OPTIONS)
def back_in_service(s, f, work, kit):
    """Bring a blower back with what it needed."""
    k = s.kits[kit]
    if k.repair == Repair.FAILURE:
        s.ward[0].in_repair -= 1
        k.failure_no += 1
        k.failure_run_s = 0
        k.failure_life_s = drawn(s, work.failure_run_s, k.failure_no, kit)
    elif k.repair == Repair.PREFILTER:
        fit_prefilter(s, f, work, kit)
    else:
        k.main_no += 1
        k.he_run_s = 0
        life_s = drawn(s, work.he_life_s, k.main_no, kit)
        k.he_life_s = fitted_life(life_s, f.n[0].he_life_ppm)
    k.repair = Repair.NOTHING
    to_shelf(s, f, kit)


# --- kits away -----------------------------------------------------------------------------


@njit(**OPTIONS)
def settle_away(s, f):
    """Take away what should be away, as far as it is on the shelf; bring back the others."""
    ward = s.ward[0]
    n = f.n[0]
    target = kits_to_be_away(n.kits_recalled, n.kits - n.kits_come, n.kits_come, n.kits_lent)
    while ward.kits_away < target and ward.kits_ready:
        level = len(f.life_ppm) - 1
        while s.ends[SHELF + level, 1] < 0:
            level -= 1
        kit = s.ends[SHELF + level, 1]
        remove(s.kits, s.ends, SHELF + level, kit)
        ward.kits_ready -= 1
        s.away[0, ward.kits_away] = kit
        ward.kits_away += 1
        enter(s, f, kit, Use.KITS_AWAY)
    while ward.kits_away > target:
        ward.kits_away -= 1
        to_shelf(s, f, s.away[0, ward.kits_away])
    # each kit that is away has a hood, a tube and a battery with it, or they follow it
    kits = ward.kits_away
    hoods = parts_that_follow(kits, ward.hoods_away, ward.ready_hoods)
    ward.hoods_away += hoods
    ward.ready_hoods -= hoods
    tubes = parts_that_follow(kits, ward.tubes_away, ward.ready_tubes)
    ward.tubes_away += tubes
    ward.ready_tubes -= tubes
    charging.settle_batteries_away(s, f)
