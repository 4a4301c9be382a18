"""After a use: wipe-down, wet and dry time, the shelf; spare parts; the workshop."""

from __future__ import annotations

from surge_sim.engine.log import Count, Exhausted, Kind, Use
from surge_sim.engine.reference import charging
from surge_sim.engine.reference.ward import Kit, Process, Ward
from surge_sim.equipment.cleaning import CENTRAL
from surge_sim.equipment.filters import fitted_life, level_or_highest, lowest_level, working_end
from surge_sim.equipment.kits import Repair, kits_to_be_away, parts_that_follow
from surge_sim.equipment.order import SUPPLIES, Moment, delivery_number
from surge_sim.equipment.supplies import (
    HE_FILTERS,
    HOODS,
    LARGE_HOODS,
    PREFILTERS,
    TUBES,
    delivery_s,
    endless_now,
    hoods_of_size,
    in_stock,
    order_quantity,
    spare_parts,
)


def new_kit(ward: Ward, kit: Kit) -> None:
    """Lay a kit out as it is when the surge begins."""
    n, work, number = ward.numbers, ward.work, kit.number
    if n.has_filters:
        kit.prefilter_life_s = ward.drawn(work.prefilter_life_s, 0, number)
        kit.prefilter_run_s = work.prefilter_used_s[number] * n.part_worn
        kit.he_life_s = ward.drawn(work.he_life_s, 0, number)
        kit.he_run_s = work.he_used_s[number] * n.part_worn
    if n.has_failures:
        kit.failure_life_s = ward.drawn(work.failure_run_s, 0, number)


def level_of(ward: Ward, kit: Kit) -> int:
    """Lowest level that passes the check; the number of levels if none does."""
    if not ward.numbers.has_filters:
        return 0
    return lowest_level(
        kit.prefilter_run_s,
        kit.prefilter_life_s,
        kit.he_run_s,
        kit.he_life_s,
        ward.numbers.life_ppm,
    )


def to_shelf(ward: Ward, kit: Kit) -> None:
    """Put a clean blower on the shelf, behind those of its level."""
    kit.shelf_level = level_or_highest(level_of(ward, kit), len(ward.numbers.life_ppm))
    ward.shelf[kit.shelf_level].append(kit)
    ward.kits_ready += 1
    ward.enter(kit, Use.KITS_READY)


def first_on_shelf(ward: Ward) -> Kit | None:
    """Return the blower that is handed out next: lowest level, then longest ready."""
    return next((queue[0] for queue in ward.shelf if queue), None)


# --- spare parts ---------------------------------------------------------------------------


def reorder(ward: Ward, supply: int) -> None:
    """Order when few spares are left."""
    n = ward.numbers
    spare = spare_parts(supply, ward.spares[supply], n.kits)
    lot = order_quantity(spare + ward.on_order[supply], n.reorder_point[supply], n.lot[supply])
    if lot:
        ward.on_order[supply] += lot
        come_s = delivery_s(
            ward.now_s + n.lead_s[supply], supply, n.missed_from_s, n.missed_to_s, n.missed_supply
        )
        ward.tell(Kind.ORDERED, supply, lot)
        ward.clock.process(delivery(ward, supply, lot, come_s - ward.now_s))


def reorder_all(ward: Ward) -> None:
    """Order what is at or below its reorder point when the surge begins."""
    for supply in range(SUPPLIES):
        if not is_endless(ward, supply):
            reorder(ward, supply)


def delivery(ward: Ward, supply: int, lot: int, delay_s: int) -> Process:
    """Bring an order."""
    yield ward.clock.moment(Moment.DELIVERY, delivery_number(supply, lot), delay_s)
    ward.on_order[supply] -= lot
    ward.spares[supply] += lot
    ward.tell(Kind.DELIVERED, supply, lot)
    to_shelf_of(ward, supply, lot)


def to_shelf_of(ward: Ward, supply: int, parts: int) -> None:
    """Lay hoods or tubes on their shelf; a filter is taken from what there is."""
    if supply == HOODS:
        ward.ready_hoods += parts
    elif supply == TUBES:
        ward.ready_tubes += parts
    elif supply == LARGE_HOODS:
        ward.ready_large_hoods += parts


def is_there(ward: Ward, supply: int) -> bool:
    """Whether there is a spare part."""
    return in_stock(is_endless(ward, supply), ward.spares[supply])


def is_endless(ward: Ward, supply: int) -> bool:
    """Whether a supply never runs out, at this time."""
    return endless_now(ward.numbers.endless[supply], ward.numbers.run_in)


def stock_out(ward: Ward, supply: int, kit: Kit | None = None) -> None:
    """Count that a spare part is wanted, for a kit or for the first in line, and there is none."""
    ward.counts[Count.STOCK_OUTS_HOODS + supply] += 1
    ward.tell(Kind.STOCK_OUT, supply, kit=-1 if kit is None else kit.number)


def take_filter(ward: Ward, supply: int) -> None:
    """Take a filter from stock."""
    if not is_endless(ward, supply):
        ward.spares[supply] -= 1
        ward.least_left[supply] = min(ward.least_left[supply], ward.spares[supply])
        reorder(ward, supply)
    ward.counts[Count.HOODS_USED + supply] += 1


def throw_away(ward: Ward, kit: Kit, supply: int, single_use: bool = False) -> None:
    """Throw a hood or a tube away; an endless supply puts a new one on the shelf at once."""
    ward.tell(Kind.PART_THROWN_AWAY, supply, single_use, kit=kit.number)
    ward.counts[Count.HOODS_USED + supply] += 1
    if not is_endless(ward, supply):
        ward.spares[supply] -= 1
        reorder(ward, supply)
    else:
        to_shelf_of(ward, supply, 1)


def fit_prefilter(ward: Ward, kit: Kit) -> None:
    """Fit a new prefilter."""
    kit.prefilter_no += 1
    kit.prefilter_run_s = 0
    life_s = ward.drawn(ward.work.prefilter_life_s, kit.prefilter_no, kit.number)
    kit.prefilter_life_s = fitted_life(life_s, ward.numbers.prefilter_life_ppm)


# --- wipe-down -----------------------------------------------------------------------------


def hand_in(ward: Ward, kit: Kit) -> None:
    """Bring a used kit to the wipe-down."""
    if ward.numbers.single_use_hoods and kit.has_hood:
        kit.has_hood = False
        throw_away(ward, kit, hoods_of_size(kit.large_hood), single_use=True)
    ward.wipe_queue.append(kit)
    ward.enter(kit, Use.KITS_WAITING_FOR_WIPE)


def start_wipe_downs(ward: Ward) -> None:
    """Start as many wipe-downs as there are places or cleaners; or collect for a central one."""
    n = ward.numbers
    if n.cleaning == CENTRAL:
        if n.round_s != ward.now_s:
            return
        while ward.wipe_queue:
            kit = ward.wipe_queue.popleft()
            ward.counts[Count.WIPE_DOWNS] += 1
            back_s = n.round_back_s - ward.now_s
            ward.enter(kit, Use.KITS_IN_WIPE_DOWN, back_s)
            ward.clock.process(dry(ward, kit, back_s))
        return
    while ward.wipe_queue and ward.wiping < n.wipers:
        if ward.wipes_started >= len(ward.work.wipe_s):
            raise Exhausted("wipe-downs")
        kit = ward.wipe_queue.popleft()
        wipe_s = ward.work.wipe_s[ward.wipes_started]
        ward.wipes_started += 1
        ward.wiping += 1
        ward.counts[Count.WIPE_DOWNS] += 1
        ward.enter(kit, Use.KITS_IN_WIPE_DOWN, wipe_s)
        ward.clock.process(wipe_down(ward, kit, wipe_s))


def wipe_down(ward: Ward, kit: Kit, wipe_s: int) -> Process:
    """Wipe a kit down; then it stays wet and dries without labour."""
    yield ward.clock.moment(Moment.WIPED, kit.number, wipe_s)
    ward.wiping -= 1
    ward.enter(kit, Use.KITS_DRYING, ward.numbers.contact_and_drying_s)
    ward.clock.process(dry(ward, kit, ward.numbers.contact_and_drying_s))
    if kit.wiped is not None:
        kit.wiped.succeed()
        kit.wiped = None


def dry(ward: Ward, kit: Kit, delay_s: int) -> Process:
    """Clean again: its parts to their shelves, the blower to the shelf or out."""
    yield ward.clock.moment(Moment.READY, kit.number, delay_s)
    take_apart(ward, kit)
    if kit.repair == Repair.NOTHING:
        to_shelf(ward, kit)
    else:
        go_out(ward, kit)


def take_apart(ward: Ward, kit: Kit) -> None:
    """Lay the clean hood and tube of a kit on their shelves."""
    to_shelf_of(ward, hoods_of_size(kit.large_hood), int(kit.has_hood))
    to_shelf_of(ward, TUBES, int(kit.has_tube))
    kit.has_hood = kit.has_tube = kit.large_hood = False


# --- workshop ------------------------------------------------------------------------------


def go_out(ward: Ward, kit: Kit) -> None:
    """Send a clean blower out: for a repair, an HE filter, or until there is a prefilter."""
    if kit.repair == Repair.FAILURE:
        ward.counts[Count.BLOWER_REPAIRS] += 1
        repair_s = ward.drawn(ward.work.repair_s, kit.failure_no, kit.number)
        ward.enter(kit, Use.KITS_OUT, repair_s)
        ward.clock.process(back_in_service(ward, kit, repair_s))
    elif kit.repair == Repair.PREFILTER:
        ward.enter(kit, Use.KITS_OUT)
        ward.prefilter_queue.append(kit)
    else:
        ward.enter(kit, Use.KITS_OUT)
        # those before it in the queue take theirs first
        left = ward.spares[HE_FILTERS] - len(ward.he_queue)
        if not in_stock(is_endless(ward, HE_FILTERS), left):
            stock_out(ward, HE_FILTERS, kit)
        ward.he_queue.append(kit)


def start_workshop(ward: Ward) -> None:
    """Start every filter change for which there is a filter."""
    n = ward.numbers
    while ward.prefilter_queue and is_there(ward, PREFILTERS):
        kit = ward.prefilter_queue.popleft()
        take_filter(ward, PREFILTERS)
        ward.tell(Kind.FILTER_CHANGE, PREFILTERS, n.prefilter_change_s, kit=kit.number)
        ward.clock.process(back_in_service(ward, kit, n.prefilter_change_s))
    while ward.he_queue and is_there(ward, HE_FILTERS):
        kit = ward.he_queue.popleft()
        take_filter(ward, HE_FILTERS)
        end_s = working_end(
            ward.now_s, n.main_turnaround_s, n.first_clock_s, n.first_weekday, n.open_s, n.shut_s,
            n.weekend,
        )  # fmt: skip
        ward.tell(Kind.FILTER_CHANGE, HE_FILTERS, end_s - ward.now_s, kit=kit.number)
        ward.clock.process(back_in_service(ward, kit, end_s - ward.now_s))


def back_in_service(ward: Ward, kit: Kit, delay_s: int) -> Process:
    """Bring a blower back with what it needed."""
    yield ward.clock.moment(Moment.BACK_IN_SERVICE, kit.number, delay_s)
    if kit.repair == Repair.FAILURE:
        kit.failure_no += 1
        kit.failure_run_s = 0
        kit.failure_life_s = ward.drawn(ward.work.failure_run_s, kit.failure_no, kit.number)
    elif kit.repair == Repair.PREFILTER:
        fit_prefilter(ward, kit)
    else:
        kit.main_no += 1
        kit.he_run_s = 0
        life_s = ward.drawn(ward.work.he_life_s, kit.main_no, kit.number)
        kit.he_life_s = fitted_life(life_s, ward.numbers.he_life_ppm)
    kit.repair = Repair.NOTHING
    to_shelf(ward, kit)


# --- kits away -----------------------------------------------------------------------------


def settle_away(ward: Ward) -> None:
    """Take away what should be away, as far as it is on the shelf; bring back the others."""
    n = ward.numbers
    target = kits_to_be_away(n.kits_recalled, n.kits - n.kits_come, n.kits_come, n.kits_lent)
    while len(ward.kits_away) < target and ward.kits_ready:
        kit = next(queue for queue in reversed(ward.shelf) if queue).pop()
        ward.kits_ready -= 1
        ward.kits_away.append(kit)
        ward.enter(kit, Use.KITS_AWAY)
    while len(ward.kits_away) > target:
        kit = ward.kits_away.pop()
        to_shelf(ward, kit)
    # each kit that is away has a hood, a tube and a battery with it, or they follow it
    kits = len(ward.kits_away)
    hoods = parts_that_follow(kits, ward.hoods_away, ward.ready_hoods)
    ward.hoods_away += hoods
    ward.ready_hoods -= hoods
    tubes = parts_that_follow(kits, ward.tubes_away, ward.ready_tubes)
    ward.tubes_away += tubes
    ward.ready_tubes -= tubes
    charging.settle_away(ward)
