"""Words for what happens in a play: sentences about entries, kits, batteries and spare parts.

Who waits behind whom stands in `event_queues`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from surge_sim.engine.log import (
    ALARM_WORDS,
    Alarm,
    Event,
    EventLog,
    Kind,
    Missing,
    Use,
    Way,
    events_of,
)
from surge_sim.equipment.batteries import Issue
from surge_sim.equipment.charge_curve import FULL
from surge_sim.equipment.cleaning import BY_WEARER, CENTRAL
from surge_sim.equipment.filters import AfterFailedCheck
from surge_sim.equipment.kits import Keep, Repair
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.supplies import (
    HE_FILTERS,
    HOODS,
    LARGE_HOODS,
    PREFILTERS,
    SUPPLY_NAMES,
)
from surge_sim.report.event_queues import Queues
from surge_sim.report.rounding import counted, listed
from surge_sim.units import duration_text


class Sentence(NamedTuple):
    """Something that happened at a second of the surge."""

    at_s: int
    #: entry, kit, battery, supply or unit, and its number
    sort: str
    number: int
    said: str


def sentences(log: EventLog, situation: Situation) -> Iterator[Sentence]:
    """Tell all that happens, in its order; who begins to wait is told when a second is over.

    Nothing is told of the run-in, but that it is followed: who is ahead of whom at second 0.
    """
    queues, second = Queues(situation), -1
    for event in events_of(log):
        if event.second > second:
            begin = list(queues.begin_to_wait())
            yield from (Sentence(second, *one) for one in begin if second >= 0)
        second = event.second
        if second >= 0:
            yield from words_of(event, situation)
        queues.follow(event)
    yield from (Sentence(second, *one) for one in queues.begin_to_wait())


def words_of(event: Event, situation: Situation) -> Iterator[Sentence]:
    """Tell of one event, to each of the things that it is about."""
    if event.entry < -1 and event.kind in _ONLY_OF_ENTRIES:
        return  # an entry of the run-in, which has no story
    for sort, said in _WORDS[event.kind](event, situation):
        number = {"entry": event.entry, "kit": event.kit, "battery": event.battery}.get(sort, 0)
        if number < -1:
            continue
        yield Sentence(event.second, sort, number, said)


#: sort of thing, and what is said of it
_Said = Iterator[tuple[str, str]]

_MISSING_WORDS = {
    Missing.BLOWER: "a clean blower",
    Missing.HOOD: "a hood",
    Missing.LARGE_HOOD: "a large hood",
    Missing.TUBE: "a tube",
    Missing.BATTERY: "a charged battery",
}


#: what is told of an entry alone, with its numbers in the demand
_ONLY_OF_ENTRIES = (Kind.WEARER_BUSY, Kind.NEEDS_KIT, Kind.FIRST_IN_LINE, Kind.WAITING_AT_END)


def _entry(event: Event) -> str:
    """Name the entry of an event."""
    return f"entry {event.entry}" if event.entry >= -1 else "an entry from before the surge"


def _wearer(event: Event) -> str:
    """Name the wearer of an event."""
    number = event.value("wearer")
    return f"wearer {number}" if number >= 0 else "a wearer from before the surge"


def _length(seconds: int) -> str:
    return duration_text(seconds) if seconds else "no time"


def _capacity(event: Event, situation: Situation) -> int:
    """Charge that a battery holds when full; what is given of the fleet repeats."""
    fleet = situation.unit.rules.fleet
    return int(fleet[event.battery % len(fleet), 0])


def charged_words(event: Event, situation: Situation) -> str:
    """Say how full a battery is, of what it can hold."""
    whole = _capacity(event, situation)
    return f"{100 * event.value('charge') // whole if whole else 0} % charged"


def _wearer_busy(event: Event, situation: Situation) -> _Said:
    yield "entry", f"is due, but its {_wearer(event)} is busy"


def _needs_kit(event: Event, situation: Situation) -> _Said:
    rest = f" for {_length(event.value('room_s'))} in the room" if event.value("part") else ""
    urgency = ", urgently" if situation.demand.urgent[event.entry] else ""
    yield "entry", f"requests a kit{rest}{urgency}"


def _holds_kit(event: Event, situation: Situation) -> _Said:
    battery = f"battery {event.battery} ({charged_words(event, situation)})"
    then = "goes on with it" if event.value("enough") else "needs another battery"
    yield "entry", f"holds kit {event.kit} with {battery} and {then}"


def _first_in_line(event: Event, situation: Situation) -> _Said:
    yield "entry", first_in_line_words(event, _MISSING_WORDS)


def first_in_line_words(event: Event, missing_words: Mapping[Missing, str]) -> str:
    """Say what the first in line waits for, in these words."""
    if event.value("reserved"):
        return "waits first in line; the last kits are kept for urgent entries"
    mask = event.value("missing")
    said = [words for bit, words in missing_words.items() if mask & bit]
    return f"waits first in line for {listed(said)}"


def _takes(event: Event, situation: Situation) -> _Said:
    entry, kit, battery = _entry(event), event.kit, event.battery
    full = charged_words(event, situation)
    why = _why_this_battery(event, Issue(situation.unit.rules.issued))
    yield "entry", f"{taken_words(event, situation)}, {why}"
    yield "kit", f"is in hand for {entry} with battery {battery} ({full})"
    yield "battery", f"goes with kit {kit} for {entry}, {full}, {why}"


def taken_words(event: Event, situation: Situation) -> str:
    """Say which kit and battery are taken, and how full the battery is."""
    kit, battery = event.kit, f"battery {event.battery} ({charged_words(event, situation)})"
    if event.kind == Kind.TAKES_KIT:
        return f"takes kit {kit} and {battery}"
    return f"gives the held kit {kit} {battery}"


def _why_this_battery(event: Event, issued: Issue) -> str:
    """Say what was compared: what the battery that is issued has, and what the next one has."""
    usable = event.value("usable")
    if usable == 1:
        return "the only usable battery"
    charge, next_charge = (
        f"{100 * event.value(name) // FULL} %" for name in ("charge", "next_charge")
    )
    lies, next_lies = (_length(event.value(name)) for name in ("lies_s", "next_lies_s"))
    return {
        Issue.FULLEST: f"the fullest of {usable} usable ones: {charge} of the rated charge, next "
        f"{next_charge}",
        Issue.ANY_USABLE: f"any of {usable} usable ones",
        Issue.LEAST_CHARGED: f"the least charged of {usable} usable ones, from the shelf first: "
        f"{charge} of the rated charge, next {next_charge}",
        Issue.LONGEST_ON_SHELF: f"the longest in its place of {usable} usable ones, from the shelf "
        f"first: {lies}, next {next_lies}",
    }[issued]


def _check_fails(event: Event, situation: Situation) -> _Said:
    follows = event.value("follows")
    if follows == AfterFailedCheck.NEW_PREFILTER:
        change = _length(situation.unit.rules.prefilter_change_s)
        said = f"fails its check at every flow level and gets a new prefilter, {change} of work"
        yield "entry", f"kit {event.kit} {said}"
    else:
        said = (
            "fails its check again, so its HE filter is spent"
            if follows == AfterFailedCheck.LACKS_HE_FILTER
            else "fails its check and there is no prefilter in stock"
        )
        yield "entry", f"kit {event.kit} {said}; back in line"
    yield "kit", said


def _puts_on(event: Event, situation: Situation) -> _Said:
    levels, rechecks = len(situation.unit.rules.life_ppm), event.value("rechecks")
    level = f" at flow level {event.value('level') + 1} of {levels}" if levels > 1 else ""
    yield "kit", f"passes its check{level}"
    if event.entry < -1:
        return
    yield "entry", f"puts on kit {event.kit}, which passed its check{level}"
    demand = situation.demand
    don, doff = (_length(int(t[event.entry])) for t in (demand.don_s, demand.doff_s))
    room = _length(event.value("room_s"))
    yield "entry", f"takes {don} to put it on, then {room} in the room and {doff} to take it off"
    if rechecks:
        yield "entry", f"checks the kit {counted(rechecks, 'time')} more during wear"


def _takes_off(event: Event, situation: Situation) -> _Said:
    yield "kit", f"is taken off after {_length(event.value('worn_s'))} of running"
    if not event.value("alarm"):
        yield "entry", "has taken the kit off and is done"
        return
    why, rest_s = ALARM_WORDS[Alarm(event.value("alarm"))], event.value("rest_s")
    left = f"has left at an alarm ({why}) and taken the kit off; {_length(rest_s)} in the room are"
    if rest_s < event.value("room_s"):
        yield "entry", f"{left} left to do"
    else:
        left = f"has not gone in, at an alarm ({why}), and taken the kit off"
        yield "entry", f"{left}; {_length(rest_s)} in the room are to do"
    yield "kit", f"gave an alarm in use: {why}"
    yield "battery", f"was in kit {event.kit} at an alarm: {why}"


def _gives_up(event: Event, situation: Situation) -> _Said:
    then = "whether and how the visit is then made is outside this model"
    if situation.unit.rules.postponed:
        then = f"comes again in {_length(situation.unit.rules.postponed_by_s)}"
    yield (
        "entry",
        f"leaves the queue unserved after waiting {_length(event.value('wait_s'))}; {then}",
    )


def _left_waiting(event: Event, situation: Situation) -> _Said:
    later = event.value("need_s") > event.second
    yield "entry", "would come again after the end" if later else "still waits at the end"


def _kit_moves(event: Event, situation: Situation) -> _Said:
    was, state, length = event.value("was"), event.value("state"), _length(event.value("for_s"))
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


def _part_thrown_away(event: Event, situation: Situation) -> _Said:
    part = {HOODS: "hood", LARGE_HOODS: "large hood"}.get(event.value("supply"), "tube")
    what = f"a {part} for one use" if event.value("single_use") else f"a damaged {part}"
    yield "kit", f"has {what}, which is thrown away"


def _kit_held(event: Event, situation: Situation) -> _Said:
    wipe = _length(situation.unit.rules.wipe_between_visits_s)
    yield "kit", f"is held by {_wearer(event)}; a wipe-down between visits takes {wipe}"


def _kit_carried(event: Event, situation: Situation) -> _Said:
    length, way = _length(event.value("for_s")), event.value("way")
    if way == Way.FETCHED:
        yield "entry", f"fetches it and sets it up, {length}"
        yield "kit", f"is fetched and set up, {length}"
    else:
        where = "back" if way == Way.BACK else "to the place of the wipe-down"
        yield "kit", f"is carried {where}, {length}"


def _kit_released(event: Event, situation: Situation) -> _Said:
    ends = "round" if event.value("keeps") == Keep.ROUND else "shift"
    yield "kit", f"is released by {_wearer(event)}: end of the {ends}"


def _filter_change(event: Event, situation: Situation) -> _Said:
    length = _length(event.value("for_s"))
    if event.value("supply") == PREFILTERS:
        yield "kit", f"gets a new prefilter, {length} of work"
    else:
        yield "kit", f"gets an HE filter; back in {length}"


def _battery_moves(event: Event, situation: Situation) -> _Said:
    was, state, full = event.value("was"), event.value("state"), charged_words(event, situation)
    whole = event.value("charge") >= _capacity(event, situation)
    if state == Use.BATTERIES_IN_BAY:
        still_s = event.value("unpowered_s")
        cut = f", {_length(still_s)} of it without power" if still_s else ""
        yield "battery", f"goes into a bay; full after {_length(event.value('for_s'))}{cut}"
    elif state == Use.BATTERIES_AWAY:
        yield "battery", "is taken away with a kit"
    elif was == Use.BATTERIES_AWAY:
        yield "battery", "comes to the unit with a kit, full"
    elif state == Use.BATTERIES_OUT:
        yield "battery", f"has failed; a full one in its place in {_length(event.value('for_s'))}"
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
        cools = _length(event.value("for_s"))
        yield "battery", f"comes back {full}, cools down for {cools} and is charged then"
    elif was == Use.BATTERIES_COOLING:
        yield "battery", "has cooled down"
    elif state == Use.BATTERIES_WAITING_FOR_BAY:
        yield "battery", f"comes back {full}, to be charged"
    else:
        yield "battery", f"comes back to the shelf {full}, as it is"


def _blocks_bay(event: Event, situation: Situation) -> _Said:
    until = _length(event.value("for_s"))
    yield "battery", f"is full and blocks its bay; next round in {until}"


def _order(event: Event, situation: Situation) -> _Said:
    done = "ordered" if event.kind == Kind.ORDERED else "delivered"
    yield "supply", f"{event.value('amount')} {SUPPLY_NAMES[event.value('supply')]} {done}"


def _stock_out(event: Event, situation: Situation) -> _Said:
    supply = event.value("supply")
    none = "none is ready" if supply == LARGE_HOODS else "there are none"
    yield "supply", f"{SUPPLY_NAMES[supply]} are wanted, and {none}"
    if supply == HE_FILTERS:
        yield "kit", "waits for an HE filter; none is in stock"


def _takes_large_hood(event: Event, situation: Situation) -> _Said:
    yield "entry", "takes a large hood with it"
    yield "kit", "gets a large hood"


def _nothing(event: Event, situation: Situation) -> _Said:
    """Say nothing of an event that others tell of."""
    yield from ()


_WORDS: dict[Kind, Callable[[Event, Situation], _Said]] = {
    Kind.WEARER_BUSY: _wearer_busy,
    Kind.NEEDS_KIT: _needs_kit,
    Kind.HOLDS_KIT: _holds_kit,
    Kind.JOINS_LINE: _nothing,
    Kind.FIRST_IN_LINE: _first_in_line,
    Kind.TAKES_KIT: _takes,
    Kind.TAKES_BATTERY: _takes,
    Kind.CHECK_FAILS: _check_fails,
    Kind.PUTS_ON: _puts_on,
    Kind.TAKES_OFF: _takes_off,
    Kind.RENEGES: _gives_up,
    Kind.WAITING_AT_END: _left_waiting,
    Kind.KIT_MOVES: _kit_moves,
    Kind.PART_THROWN_AWAY: _part_thrown_away,
    Kind.KIT_HELD: _kit_held,
    Kind.KIT_RELEASED: _kit_released,
    Kind.KIT_CARRIED: _kit_carried,
    Kind.FILTER_CHANGE: _filter_change,
    Kind.BATTERY_MOVES: _battery_moves,
    Kind.BLOCKS_BAY: _blocks_bay,
    Kind.ORDERED: _order,
    Kind.DELIVERED: _order,
    Kind.STOCK_OUT: _stock_out,
    Kind.TAKES_LARGE_HOOD: _takes_large_hood,
}
