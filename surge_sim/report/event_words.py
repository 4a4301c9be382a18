"""Words for what happens in a play: sentences about entries.

Those about kits, batteries and spare parts stand in `equipment_event_words`, and who waits behind
whom in `event_queues`.
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
    events_of,
)
from surge_sim.equipment.batteries import Issue
from surge_sim.equipment.charge_curve import FULL
from surge_sim.equipment.filters import AfterFailedCheck
from surge_sim.equipment.situation import Situation
from surge_sim.report.equipment_event_words import (
    Said,
    battery_moves,
    blocks_bay,
    charged_words,
    filter_change,
    kit_carried,
    kit_held,
    kit_moves,
    kit_released,
    order,
    part_thrown_away,
    stock_out,
)
from surge_sim.report.event_queues import Queues
from surge_sim.report.rounding import counted, listed
from surge_sim.units import length_text


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
    queues, second, last_said = Queues(situation), -1, dict[int, str]()
    for event in events_of(log):
        if event.second > second:
            begin = list(queues.begin_to_wait())
            yield from (Sentence(second, *one) for one in begin if second >= 0)
        second = event.second
        if second >= 0:
            for one in words_of(event, situation):
                if one.sort != "entry":
                    yield one
                    continue
                told = _with_wait(one, event, queues)
                # what it waits for may change, and the words for it stay the same
                if last_said.get(one.number) != told.said:
                    yield told
                last_said[one.number] = told.said
        queues.follow(event)
    yield from (Sentence(second, *one) for one in queues.begin_to_wait())


def _with_wait(one: Sentence, event: Event, queues: Queues) -> Sentence:
    """Add how long an entry has waited, or where all batteries are when it must wait for one."""
    if event.kind in (Kind.TAKES_KIT, Kind.TAKES_BATTERY):
        waited_s = queues.waited_s(event)
        return one._replace(
            said=f"has waited {length_text(waited_s)}; {one.said}" if waited_s else one.said
        )
    if event.kind == Kind.FIRST_IN_LINE and event.value("missing") & Missing.BATTERY:
        where = queues.batteries_words()
        return one._replace(said=f"{one.said}; batteries: {where}") if where else one
    return one


def words_of(event: Event, situation: Situation) -> Iterator[Sentence]:
    """Tell of one event, to each of the things that it is about."""
    if event.entry < -1 and event.kind in _ONLY_OF_ENTRIES:
        return  # an entry of the run-in, which has no story
    for sort, said in _WORDS[event.kind](event, situation):
        number = {"entry": event.entry, "kit": event.kit, "battery": event.battery}.get(sort, 0)
        if number < -1:
            continue
        yield Sentence(event.second, sort, number, said)


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


def _wearer_busy(event: Event, situation: Situation) -> Said:
    demand, number = situation.demand, event.value("wearer")
    if number < 0:
        yield "entry", "is due; its wearer is busy with an entry from before the surge"
        return
    roles = demand.role_names
    role = roles[demand.role[event.entry]] if roles else "number"
    yield "entry", f"is due; its wearer ({role} {number}) is busy with an earlier entry"


def _needs_kit(event: Event, situation: Situation) -> Said:
    rest = f" for {length_text(event.value('room_s'))} in the room" if event.value("part") else ""
    urgency = ", urgently" if situation.demand.urgent[event.entry] else ""
    yield "entry", f"requests a kit{rest}{urgency}"


def _holds_kit(event: Event, situation: Situation) -> Said:
    battery = f"battery {event.battery} ({charged_words(event, situation)})"
    then = "goes on with it" if event.value("enough") else "needs another battery"
    yield "entry", f"holds kit {event.kit} with {battery} and {then}"


def _first_in_line(event: Event, situation: Situation) -> Said:
    yield "entry", first_in_line_words(event, _MISSING_WORDS)


def first_in_line_words(event: Event, missing_words: Mapping[Missing, str]) -> str:
    """Say what the first in line waits for, in these words."""
    if event.value("reserved"):
        return "waits first in line; the last kits are kept for urgent entries"
    mask = event.value("missing")
    said = [words for bit, words in missing_words.items() if mask & bit]
    return f"waits first in line for {listed(said)}"


def _takes(event: Event, situation: Situation) -> Said:
    entry, kit, battery = _entry(event), event.kit, event.battery
    full = charged_words(event, situation)
    why = _why_this_battery(event, Issue(situation.unit.rules.issued))
    check_s = situation.unit.rules.check_s
    check = f"; its check takes {length_text(check_s)}" if check_s else ""
    yield "entry", f"{taken_words(event, situation)}, {why}{check}"
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
    lies, next_lies = (length_text(event.value(name)) for name in ("lies_s", "next_lies_s"))
    return {
        Issue.FULLEST: f"the fullest of {usable} usable ones: {charge} of the rated charge, next "
        f"{next_charge}",
        Issue.ANY_USABLE: f"any of {usable} usable ones",
        Issue.LEAST_CHARGED: f"the least charged of {usable} usable ones, from the shelf first: "
        f"{charge} of the rated charge, next {next_charge}",
        Issue.LONGEST_ON_SHELF: f"the longest in its place of {usable} usable ones, from the shelf "
        f"first: {lies}, next {next_lies}",
    }[issued]


def _check_fails(event: Event, situation: Situation) -> Said:
    follows = event.value("follows")
    if follows == AfterFailedCheck.NEW_PREFILTER:
        change = length_text(situation.unit.rules.prefilter_change_s)
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


def _puts_on(event: Event, situation: Situation) -> Said:
    levels, rechecks = len(situation.unit.rules.life_ppm), event.value("rechecks")
    level = f" at flow level {event.value('level') + 1} of {levels}" if levels > 1 else ""
    yield "kit", f"passes its check{level}"
    if event.entry < -1:
        return
    demand = situation.demand
    don, doff = (length_text(int(t[event.entry])) for t in (demand.don_s, demand.doff_s))
    room = length_text(event.value("room_s"))
    yield (
        "entry",
        f"puts on kit {event.kit}, which passed its check{level}; takes {don} to put it on, then "
        f"{room} in the room and {doff} to take it off",
    )
    if rechecks:
        yield "entry", f"checks the kit {counted(rechecks, 'time')} more during wear"


def _takes_off(event: Event, situation: Situation) -> Said:
    yield "kit", f"is taken off after {length_text(event.value('worn_s'))} of running"
    if not event.value("alarm"):
        yield "entry", "has taken the kit off and is done"
        return
    why, rest_s = ALARM_WORDS[Alarm(event.value("alarm"))], event.value("rest_s")
    rest = length_text(rest_s)
    left = f"has left at an alarm ({why}) and taken the kit off; {rest} in the room are"
    if rest_s < event.value("room_s"):
        yield "entry", f"{left} left to do"
    else:
        left = f"has not gone in, at an alarm ({why}), and taken the kit off"
        yield "entry", f"{left}; {rest} in the room are to do"
    yield "kit", f"gave an alarm in use: {why}"
    yield "battery", f"was in kit {event.kit} at an alarm: {why}"


def _gives_up(event: Event, situation: Situation) -> Said:
    then = "whether and how the visit is then made is outside this model"
    if situation.unit.rules.postponed:
        then = f"comes again in {length_text(situation.unit.rules.postponed_by_s)}"
    yield (
        "entry",
        f"leaves the queue unserved after waiting {length_text(event.value('wait_s'))}; {then}",
    )


def _left_waiting(event: Event, situation: Situation) -> Said:
    later = event.value("need_s") > event.second
    yield "entry", "would come again after the end" if later else "still waits at the end"


def _takes_large_hood(event: Event, situation: Situation) -> Said:
    yield "entry", "takes a large hood with it"
    yield "kit", "gets a large hood"


def _nothing(event: Event, situation: Situation) -> Said:
    """Say nothing of an event that others tell of."""
    yield from ()


_WORDS: dict[Kind, Callable[[Event, Situation], Said]] = {
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
    Kind.KIT_MOVES: kit_moves,
    Kind.PART_THROWN_AWAY: part_thrown_away,
    Kind.KIT_HELD: kit_held,
    Kind.KIT_RELEASED: kit_released,
    Kind.KIT_CARRIED: kit_carried,
    Kind.FILTER_CHANGE: filter_change,
    Kind.BATTERY_MOVES: battery_moves,
    Kind.BLOCKS_BAY: blocks_bay,
    Kind.ORDERED: order,
    Kind.DELIVERED: order,
    Kind.STOCK_OUT: stock_out,
    Kind.TAKES_LARGE_HOOD: _takes_large_hood,
}
