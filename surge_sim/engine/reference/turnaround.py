"""After a use: wipe-down, wet and dry time, the shelf; spare parts; the workshop."""

from __future__ import annotations

from surge_sim.engine.draws import Exhausted
from surge_sim.engine.log import Count, Use
from surge_sim.engine.reference import charging
from surge_sim.engine.reference.things import Kit, Repair
from surge_sim.engine.reference.words import length
from surge_sim.engine.reference.world import Process, World
from surge_sim.equipment.calendar import round_after, value_at, working_end
from surge_sim.equipment.filters import fitted_life, lowest_level
from surge_sim.equipment.order import Moment, delivery_number
from surge_sim.equipment.supplies import (
    HOODS,
    MAIN_FILTERS,
    PREFILTERS,
    SUPPLY_NAMES,
    TUBES,
    delivery_s,
    order_size,
)
from surge_sim.equipment.unit import BY_WEARER, CENTRAL


def new_kit(ward: World, number: int) -> Kit:
    """Return a kit as it is when the surge begins."""
    n, work = ward.numbers, ward.work
    kit = Kit(number)
    if n.has_filters:
        kit.prefilter_life_s = life(ward, work.prefilter_life_s, 0, number, PREFILTERS)
        kit.prefilter_run_s = work.prefilter_used_s[number] * n.part_worn
        kit.main_life_s = life(ward, work.main_life_s, 0, number, MAIN_FILTERS)
        kit.main_run_s = work.main_used_s[number] * n.part_worn
    if n.has_faults:
        kit.fault_life_s = drawn(work.fault_run_s, 0, number)
    return kit


def drawn(table: object, generation: int, number: int) -> int:
    """Read a draw that belongs to a blower."""
    if generation >= len(table):  # type: ignore[arg-type]
        raise Exhausted("lives")
    value: int = table[generation][number]  # type: ignore[index]
    return value


def life(ward: World, table: object, generation: int, number: int, supply: int) -> int:
    """Life of a filter that is fitted now."""
    n = ward.numbers
    life_s = drawn(table, generation, number)
    if generation == 0:
        return life_s
    if supply == PREFILTERS:
        bad = (n.bad_prefilter_from_s, n.bad_prefilter_to_s, n.bad_prefilter_ppm)
    else:
        bad = (n.bad_main_from_s, n.bad_main_to_s, n.bad_main_ppm)
    return fitted_life(life_s, ward.now_s, *bad)


def level_of(ward: World, kit: Kit) -> int:
    """Lowest level that passes the check; the number of levels if none does."""
    if not ward.numbers.has_filters:
        return 0
    return lowest_level(
        kit.prefilter_run_s,
        kit.prefilter_life_s,
        kit.main_run_s,
        kit.main_life_s,
        ward.numbers.life_ppm,
    )


def to_shelf(ward: World, kit: Kit) -> None:
    """Put a clean blower on the shelf, behind those of its level."""
    kit.shelf_level = min(level_of(ward, kit), len(ward.numbers.life_ppm) - 1)
    ward.shelf[kit.shelf_level].append(kit)
    ward.kits_ready += 1
    ward.enter(kit, Use.KITS_READY)


def first_on_shelf(ward: World) -> Kit | None:
    """Return the blower that is handed out next: lowest level, then longest ready."""
    return next((queue[0] for queue in ward.shelf if queue), None)


# --- spare parts ---------------------------------------------------------------------------


def reorder(ward: World, supply: int) -> None:
    """Order when few spares are left."""
    n = ward.numbers
    spare = ward.spares[supply] - (n.kits if supply in (HOODS, TUBES) else 0)
    lot = order_size(spare + ward.on_order[supply], n.reorder_at[supply], n.lot[supply])
    if lot:
        ward.on_order[supply] += lot
        come_s = delivery_s(
            ward.now_s + n.lead_s[supply], supply, n.missed_from_s, n.missed_to_s, n.missed_supply
        )
        ward.tell("supply", supply, "{} {} ordered", lot, SUPPLY_NAMES[supply])
        ward.clock.process(delivery(ward, supply, lot, come_s - ward.now_s))


def delivery(ward: World, supply: int, lot: int, delay_s: int) -> Process:
    """Bring an order."""
    yield ward.clock.moment(Moment.DELIVERY, delivery_number(supply, lot), delay_s)
    ward.on_order[supply] -= lot
    ward.spares[supply] += lot
    ward.tell("supply", supply, "{} {} delivered", lot, SUPPLY_NAMES[supply])
    if supply == HOODS:
        ward.ready_hoods += lot
    elif supply == TUBES:
        ward.ready_tubes += lot


def take_filter(ward: World, supply: int) -> bool:
    """Take a filter from stock; False, and a stock-out, when there is none."""
    if not ward.numbers.endless[supply]:
        if ward.spares[supply] == 0:
            ward.count(Count.STOCK_OUTS_HOODS + supply)
            return False
        ward.spares[supply] -= 1
        ward.least_left[supply] = min(ward.least_left[supply], ward.spares[supply])
        reorder(ward, supply)
    ward.count(Count.HOODS_USED + supply)
    return True


def throw_away(ward: World, supply: int) -> None:
    """Throw a hood or a tube away; an endless supply puts a new one on the shelf at once."""
    ward.count(Count.HOODS_USED + supply)
    if not ward.numbers.endless[supply]:
        ward.spares[supply] -= 1
        reorder(ward, supply)
    elif supply == HOODS:
        ward.ready_hoods += 1
    else:
        ward.ready_tubes += 1


def fit_prefilter(ward: World, kit: Kit) -> None:
    """Fit a new prefilter."""
    kit.prefilter_no += 1
    kit.prefilter_run_s = 0
    kit.prefilter_life_s = life(
        ward, ward.work.prefilter_life_s, kit.prefilter_no, kit.number, PREFILTERS
    )


# --- wipe-down -----------------------------------------------------------------------------


def hand_in(ward: World, kit: Kit) -> None:
    """Bring a used kit to the wipe-down."""
    if ward.numbers.single_use_hoods and kit.has_hood:
        kit.has_hood = False
        ward.tell("kit", kit.number, "has a hood for one use, which is thrown away")
        throw_away(ward, HOODS)
    kit.told = False
    ward.wipe_queue.append(kit)
    ward.enter(kit, Use.KITS_WAITING_FOR_WIPE)
    ward.tell("kit", kit.number, "is handed in for wipe-down")


def start_wipe_downs(ward: World) -> None:
    """Start as many wipe-downs as there are places or cleaners; or collect for a central one."""
    n = ward.numbers
    if n.cleaning == CENTRAL:
        number = round_after(ward.now_s, n.round_s)
        if number == len(n.round_s) or n.round_s[number] != ward.now_s:
            _tell_waiting(ward)
            return
        while ward.wipe_queue:
            kit = ward.wipe_queue.popleft()
            ward.count(Count.WIPE_DOWNS)
            ward.enter(kit, Use.KITS_IN_WIPE_DOWN)
            back_s = n.round_return_s[number] - ward.now_s
            back = length(back_s)
            ward.tell("kit", kit.number, "is collected for the central wipe-down; back in {}", back)
            ward.clock.process(dry(ward, kit, back_s))
        return
    while ward.wipe_queue and ward.wiping < value_at(ward.now_s, n.wipers_s, n.wipers):
        if ward.wipes_started >= len(ward.work.wipe_s):
            raise Exhausted("wipe-downs")
        kit = ward.wipe_queue.popleft()
        wipe_s = ward.work.wipe_s[ward.wipes_started]
        ward.wipes_started += 1
        ward.wiping += 1
        ward.count(Count.WIPE_DOWNS)
        ward.enter(kit, Use.KITS_IN_WIPE_DOWN)
        who = "its wearer" if n.cleaning == BY_WEARER else "a cleaner"
        ward.tell("kit", kit.number, "is wiped down by {}, {} of work", who, length(wipe_s))
        ward.clock.process(wipe_down(ward, kit, wipe_s))
    _tell_waiting(ward)


def _tell_waiting(ward: World) -> None:
    """Tell once of each kit whose wipe-down does not start at once."""
    if ward.listener is None:
        return
    waits_for = ("a free place", "a cleaner", "the next central round")[ward.numbers.cleaning]
    for ahead, kit in enumerate(ward.wipe_queue):
        if not kit.told:
            kit.told = True
            ward.tell("kit", kit.number, "waits for {}, {} ahead of it", waits_for, ahead)


def wipe_down(ward: World, kit: Kit, wipe_s: int) -> Process:
    """Wipe a kit down; then it stays wet and dries without labour."""
    yield ward.clock.moment(Moment.WIPED, kit.number, wipe_s)
    ward.wiping -= 1
    ward.enter(kit, Use.KITS_DRYING)
    wet_dry_s = ward.numbers.wet_dry_s
    if wet_dry_s:
        ward.tell("kit", kit.number, "is wiped, then wet and drying for {}", length(wet_dry_s))
    ward.clock.process(dry(ward, kit, ward.numbers.wet_dry_s))
    if kit.wiped is not None:
        kit.wiped.succeed()
        kit.wiped = None


def dry(ward: World, kit: Kit, delay_s: int) -> Process:
    """Clean again: its parts to their shelves, the blower to the shelf or out."""
    yield ward.clock.moment(Moment.READY, kit.number, delay_s)
    ward.ready_hoods += kit.has_hood
    ward.ready_tubes += kit.has_tube
    kit.has_hood = kit.has_tube = False
    if kit.repair == Repair.NOTHING:
        ward.tell("kit", kit.number, "is clean and ready on the shelf")
        to_shelf(ward, kit)
    else:
        go_out(ward, kit)


# --- workshop ------------------------------------------------------------------------------


def go_out(ward: World, kit: Kit) -> None:
    """Send a clean blower out: for a repair, a main filter, or until there is a prefilter."""
    n = ward.numbers
    ward.enter(kit, Use.KITS_OUT)
    if kit.repair == Repair.FAULT:
        ward.count(Count.BLOWER_REPAIRS)
        repair_s = drawn(ward.work.repair_s, kit.fault_no, kit.number)
        ward.tell("kit", kit.number, "goes out for repair, {}", length(repair_s))
        ward.clock.process(back_in_service(ward, kit, repair_s))
    elif kit.repair == Repair.PREFILTER:
        ward.tell("kit", kit.number, "is out until there is a prefilter")
        ward.prefilter_queue.append(kit)
    else:
        none = not n.endless[MAIN_FILTERS] and ward.spares[MAIN_FILTERS] == 0
        there = "; none is in stock" if none else ""
        ward.tell("kit", kit.number, "goes out for a main filter{}", there)
        if none:
            ward.count(Count.STOCK_OUTS_MAIN_FILTERS)
        ward.main_queue.append(kit)


def start_workshop(ward: World) -> None:
    """Start every filter change for which there is a filter."""
    n = ward.numbers
    while ward.prefilter_queue and (n.endless[PREFILTERS] or ward.spares[PREFILTERS] > 0):
        kit = ward.prefilter_queue.popleft()
        take_filter(ward, PREFILTERS)
        change = length(n.prefilter_change_s)
        ward.tell("kit", kit.number, "gets a new prefilter, {} of work", change)
        ward.clock.process(back_in_service(ward, kit, n.prefilter_change_s))
    while ward.main_queue and (n.endless[MAIN_FILTERS] or ward.spares[MAIN_FILTERS] > 0):
        kit = ward.main_queue.popleft()
        take_filter(ward, MAIN_FILTERS)
        end_s = working_end(
            ward.now_s, n.main_turnaround_s, n.first_clock_s, n.first_weekday, n.open_s, n.shut_s,
            n.weekend,
        )  # fmt: skip
        takes = length(end_s - ward.now_s)
        ward.tell("kit", kit.number, "gets a main filter; back in {}", takes)
        ward.clock.process(back_in_service(ward, kit, end_s - ward.now_s))


def back_in_service(ward: World, kit: Kit, delay_s: int) -> Process:
    """Bring a blower back with what it needed."""
    yield ward.clock.moment(Moment.BACK_IN_SERVICE, kit.number, delay_s)
    if kit.repair == Repair.FAULT:
        kit.fault_no += 1
        kit.fault_run_s = 0
        kit.fault_life_s = drawn(ward.work.fault_run_s, kit.fault_no, kit.number)
    elif kit.repair == Repair.PREFILTER:
        fit_prefilter(ward, kit)
    else:
        kit.main_no += 1
        kit.main_run_s = 0
        kit.main_life_s = life(ward, ward.work.main_life_s, kit.main_no, kit.number, MAIN_FILTERS)
    kit.repair = Repair.NOTHING
    ward.tell("kit", kit.number, "is back in service")
    to_shelf(ward, kit)


# --- kits away -----------------------------------------------------------------------------


def settle_away(ward: World) -> None:
    """Take away what should be away, as far as it is on the shelf; bring back the others."""
    n = ward.numbers
    target = value_at(ward.now_s, n.away_s, n.away_kits)
    while len(ward.kits_away) < target and ward.kits_ready:
        kit = next(queue for queue in reversed(ward.shelf) if queue).pop()
        ward.kits_ready -= 1
        ward.kits_away.append(kit)
        ward.enter(kit, Use.KITS_AWAY)
        ward.tell("kit", kit.number, "is taken away")
    while len(ward.kits_away) > target:
        kit = ward.kits_away.pop()
        ward.tell("kit", kit.number, "comes to the unit")
        to_shelf(ward, kit)
    # each kit that is away has a hood, a tube and a battery with it, or they follow it
    kits = len(ward.kits_away)
    hoods = max(min(kits - ward.hoods_away, ward.ready_hoods), -ward.hoods_away)
    ward.hoods_away += hoods
    ward.ready_hoods -= hoods
    tubes = max(min(kits - ward.tubes_away, ward.ready_tubes), -ward.tubes_away)
    ward.tubes_away += tubes
    ward.ready_tubes -= tubes
    charging.settle_away(ward)
