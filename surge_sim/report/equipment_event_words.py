"""Words for what happens to kits, batteries and spare parts; of entries see `event_words`."""

from __future__ import annotations

from collections.abc import Iterator

from surge_sim.engine.log import Event, Kind, Use, Way
from surge_sim.equipment.cleaning import BY_WEARER, CENTRAL
from surge_sim.equipment.kits import Keep, Repair
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.supplies import (
    HE_FILTERS,
    HOODS,
    LARGE_HOODS,
    PREFILTERS,
    SUPPLY_NAMES,
)
from surge_sim.units import length_text

#: sort of thing, and what is said of it
Said = Iterator[tuple[str, str]]


def _capacity(event: Event, situation: Situation) -> int:
    """Charge that a battery holds when full; what is given of the fleet repeats."""
    fleet = situation.unit.rules.fleet
    return int(fleet[event.battery % len(fleet), 0])


def charged_words(event: Event, situation: Situation) -> str:
    """Say how full a battery is, of what it can hold."""
    whole = _capacity(event, situation)
    return f"{100 * event.value('charge') // whole if whole else 0} % charged"


def wearer_words(event: Event) -> str:
    """Name the wearer of an event."""
    number = event.value("wearer")
    return f"wearer {number}" if number >= 0 else "a wearer from before the surge"


def kit_moves(event: Event, situation: Situation) -> Said:
    """Tell where a kit goes."""
    was, state, length = (
        event.value("was"),
        event.value("state"),
        length_text(event.value("for_s")),
    )
    rules, repair = situation.unit.rules, event.value("repair")
    if state == Use.KITS_WAITING_FOR_WIPE:
        yield "kit", "is handed in for wipe-down"
    elif state == Use.KITS_IN_WIPE_DOWN and rules.cleaning == CENTRAL:
        yield "kit", f"is collected for the central wipe-down; back in {length}"
    elif state == Use.KITS_IN_WIPE_DOWN:
        who = "its wearer" if rules.cleaning == BY_WEARER else "a cleaner"
        yield "kit", f"is wiped down by {who}, {length} of work"
    elif state == Use.KITS_DRYING and event.value("for_s"):
        yield "kit", f"is wiped; {length} of contact and drying time follow"
    elif state == Use.KITS_READY:
        comes = {Use.KITS_OUT: "is back in service", Use.KITS_AWAY: "comes to the unit"}
        yield "kit", comes.get(Use(was), "is clean and ready on the shelf")
    elif state == Use.KITS_OUT:
        why = {
            Repair.FAILURE: f"goes out for repair, {length}",
            Repair.PREFILTER: "is out until there is a prefilter",
        }
        yield "kit", why.get(Repair(repair), "goes out for an HE filter")
    elif state == Use.KITS_AWAY:
        yield "kit", "is taken away"


def part_thrown_away(event: Event, situation: Situation) -> Said:
    """Tell of a part that leaves with a kit."""
    part = {HOODS: "hood", LARGE_HOODS: "large hood"}.get(event.value("supply"), "tube")
    what = f"a {part} for one use" if event.value("single_use") else f"a damaged {part}"
    yield "kit", f"has {what}, which is thrown away"


def kit_held(event: Event, situation: Situation) -> Said:
    """Tell who holds a kit between visits."""
    wipe = length_text(situation.unit.rules.wipe_between_visits_s)
    yield "kit", f"is held by {wearer_words(event)}; a wipe-down between visits takes {wipe}"


def kit_carried(event: Event, situation: Situation) -> Said:
    """Tell how long a kit is carried."""
    length, way = length_text(event.value("for_s")), event.value("way")
    if way == Way.FETCHED:
        yield "entry", f"fetches it and sets it up, {length}"
        yield "kit", f"is fetched and set up, {length}"
    else:
        where = "back" if way == Way.BACK else "to the place of the wipe-down"
        yield "kit", f"is carried {where}, {length}"


def kit_released(event: Event, situation: Situation) -> Said:
    """Tell who no longer holds a kit."""
    ends = "round" if event.value("keeps") == Keep.ROUND else "shift"
    yield "kit", f"is released by {wearer_words(event)}: end of the {ends}"


def filter_change(event: Event, situation: Situation) -> Said:
    """Tell of a new filter."""
    length = length_text(event.value("for_s"))
    if event.value("supply") == PREFILTERS:
        yield "kit", f"gets a new prefilter, {length} of work"
    else:
        yield "kit", f"gets an HE filter; back in {length}"


def battery_moves(event: Event, situation: Situation) -> Said:
    """Tell where a battery goes."""
    was, state, full = event.value("was"), event.value("state"), charged_words(event, situation)
    whole = event.value("charge") >= _capacity(event, situation)
    if state == Use.BATTERIES_IN_BAY:
        still_s = event.value("unpowered_s")
        cut = f", {length_text(still_s)} of it without power" if still_s else ""
        yield "battery", f"goes into a bay; full after {length_text(event.value('for_s'))}{cut}"
    elif state == Use.BATTERIES_AWAY:
        yield "battery", "is taken away with a kit"
    elif was == Use.BATTERIES_AWAY:
        yield "battery", "comes to the unit with a kit, full"
    elif state == Use.BATTERIES_OUT:
        yield (
            "battery",
            f"has failed; a full one in its place in {length_text(event.value('for_s'))}",
        )
    elif was == Use.BATTERIES_OUT:
        yield "battery", "is replaced by a full one"
    elif state == Use.BATTERIES_IN_USE:
        if was == Use.BATTERIES_WAITING_FOR_BAY:
            yield "battery", f"is taken while it waits for a bay, {full}"
        elif was == Use.BATTERIES_COOLING:
            yield "battery", f"is taken while it cools down, {full}"
        elif was == Use.BATTERIES_IN_BAY:
            where = "the bay that it blocked" if whole else "its bay before it is full"
            yield "battery", f"is taken from {where}, {full}"
    elif was == Use.BATTERIES_IN_BAY:
        to_shelf = state == Use.BATTERIES_ON_SHELF
        yield "battery", f"leaves its bay, {'full' if to_shelf else f'which fails, {full}'}"
    elif state == Use.BATTERIES_COOLING:
        cools = length_text(event.value("for_s"))
        yield "battery", f"comes back {full}, cools down for {cools} and is charged then"
    elif was == Use.BATTERIES_COOLING:
        yield "battery", "has cooled down"
    elif state == Use.BATTERIES_WAITING_FOR_BAY:
        yield "battery", f"comes back {full}, to be charged"
    else:
        yield "battery", f"comes back to the shelf {full}, as it is"


def blocks_bay(event: Event, situation: Situation) -> Said:
    """Tell of a full battery that nobody has taken out."""
    until = length_text(event.value("for_s"))
    yield "battery", f"is full and blocks its bay; next round in {until}"


def order(event: Event, situation: Situation) -> Said:
    """Tell of an order or a delivery."""
    done = "ordered" if event.kind == Kind.ORDERED else "delivered"
    yield "supply", f"{event.value('amount')} {SUPPLY_NAMES[event.value('supply')]} {done}"


def stock_out(event: Event, situation: Situation) -> Said:
    """Tell of a part that is wanted and not there."""
    supply = event.value("supply")
    none = "none is ready" if supply == LARGE_HOODS else "there are none"
    yield "supply", f"{SUPPLY_NAMES[supply]} are wanted, and {none}"
    if supply == HE_FILTERS:
        yield "kit", "waits for an HE filter; none is in stock"
