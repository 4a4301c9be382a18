"""What staff can see at a moment: counted from the events before it, so nothing of the future."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.drill.at_work import (
    bays_charging,
    cleaners_on_duty,
    kits_recalled,
    kits_reserved,
)
from surge_sim.drill.line import JOINS, LEAVES
from surge_sim.engine.log import Kind, RunLog, Use
from surge_sim.equipment.filters import AfterFailedCheck
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.supplies import (
    HE_FILTERS,
    HOODS,
    LARGE_HOODS,
    PREFILTERS,
    SUPPLY_NAMES,
    TUBES,
)

Whole = NDArray[np.int64]

#: columns of an event: see `surge_sim.engine.log`
_SECOND, _KIND, _ENTRY, _KIT, _BATTERY, _FIRST_VALUE = range(6)


class Seen(NamedTuple):
    """What there is to see at some moments; each an array of shape (moments,)."""

    #: clean, with a hood and a tube
    kits_ready: Whole
    #: of these: kept for urgent entries
    kits_reserved: Whole
    #: clean, but there is no hood for them, or no tube
    kits_without_hood: Whole
    kits_without_tube: Whole
    kits_in_use: Whole
    kits_waiting_for_wipe: Whole
    kits_in_wipe_down: Whole
    kits_drying: Whole
    #: in repair, or waiting for a filter
    kits_out: Whole
    #: taken by a recall, each with its battery
    kits_recalled: Whole
    batteries_on_shelf: Whole
    batteries_in_use: Whole
    #: cooling before they are charged; -1: they need not
    batteries_cooling: Whole
    batteries_waiting_for_bay: Whole
    batteries_in_bay: Whole
    #: failed and not yet replaced; -1: none fails
    batteries_out: Whole
    #: requests that wait in line
    at_door: Whole
    #: how long the first of them has waited [s]
    longest_wait_s: Whole
    #: patients in isolation rooms, and those boarded elsewhere
    in_rooms: Whole
    boarded: Whole
    #: parts on the shelf, those for clean kits included; -1: unlimited
    hoods: Whole
    tubes: Whole
    prefilters: Whole
    he_filters: Whole
    large_hoods: Whole
    #: cleaners on duty; -1: no crew wipes down
    cleaners: Whole
    #: charger bays that work and have power
    bays_charging: Whole

    def at(self, place: int) -> dict[str, int]:
        """Return all of one moment by name."""
        return {name: int(column[place]) for name, column in self._asdict().items()}


_USES = {
    "kits_ready": Use.KITS_READY,
    "kits_in_use": Use.KITS_IN_USE,
    "kits_waiting_for_wipe": Use.KITS_WAITING_FOR_WIPE,
    "kits_in_wipe_down": Use.KITS_IN_WIPE_DOWN,
    "kits_drying": Use.KITS_DRYING,
    "kits_out": Use.KITS_OUT,
    "batteries_on_shelf": Use.BATTERIES_ON_SHELF,
    "batteries_in_use": Use.BATTERIES_IN_USE,
    "batteries_cooling": Use.BATTERIES_COOLING,
    "batteries_waiting_for_bay": Use.BATTERIES_WAITING_FOR_BAY,
    "batteries_in_bay": Use.BATTERIES_IN_BAY,
    "batteries_out": Use.BATTERIES_OUT,
}


def seen(situation: Situation, log: RunLog, at_s: Sequence[int]) -> Seen:
    """Count what there is to see at some moments.

    Parameters
    ----------
    situation : Situation
        What was played.
    log : RunLog
        The play, with its events.
    at_s : sequence of int
        Moments in order of time [s]. Each is seen as it is before anything happens in its second;
        at second 0, as things were put in place.

    Returns
    -------
    Seen
    """
    assert log.events is not None
    events = log.events
    when = np.maximum(np.asarray(at_s, dtype=np.int64), 1)
    counted = {name: _in_state(situation, events, use, when) for name, use in _USES.items()}
    rules, nothing = situation.unit.rules, np.full(len(when), -1)
    if not rules.cool_down_s:
        counted["batteries_cooling"] = nothing
    if not rules.has_battery_failures:
        counted["batteries_out"] = nothing
    at_door, longest_s = _line(events, when)
    patients = situation.demand.patients
    there = (patients.arrive_s < when[:, None]) & (patients.leave_s >= when[:, None])
    away = _in_state(situation, events, Use.KITS_AWAY, when)
    parts = [_parts(situation, events, supply, when, away) for supply in range(len(SUPPLY_NAMES))]
    counted |= _kits_ready(counted["kits_ready"], parts[HOODS], parts[TUBES])
    return Seen(
        **counted,
        kits_reserved=np.minimum(kits_reserved(situation, when), counted["kits_ready"]),
        kits_recalled=kits_recalled(situation, away, when),
        cleaners=cleaners_on_duty(situation, when),
        bays_charging=bays_charging(situation, when),
        at_door=at_door,
        longest_wait_s=longest_s,
        in_rooms=(there & (patients.room >= 0)).sum(axis=1),
        boarded=(there & (patients.room == -1)).sum(axis=1),
        hoods=parts[HOODS],
        tubes=parts[TUBES],
        prefilters=parts[PREFILTERS],
        he_filters=parts[HE_FILTERS],
        large_hoods=parts[LARGE_HOODS],
    )


def _before(seconds: Whole, when: Whole) -> Whole:
    """Count the events before each moment; their seconds are in order."""
    return np.searchsorted(seconds, when, side="left").astype(np.int64)


def _in_state(situation: Situation, events: Whole, use: Use, when: Whole) -> Whole:
    """Count kits or batteries in a state."""
    of_kits = use <= Use.KITS_AWAY
    moves = events[events[:, _KIND] == (Kind.KIT_MOVES if of_kits else Kind.BATTERY_MOVES)]
    things = moves[:, _KIT if of_kits else _BATTERY]
    was, state = moves[:, _FIRST_VALUE], moves[:, _FIRST_VALUE + 1]
    _, first = np.unique(things, return_index=True)
    began = int((was[first] == use).sum())
    stock, timeline = situation.stock, situation.timeline
    if use == Use.KITS_READY:  # those that have not moved at all
        began += stock.kits + timeline.kits_come - len(first)
    elif use == Use.BATTERIES_ON_SHELF:
        began += stock.batteries + timeline.kits_come + timeline.batteries_come - len(first)
    seconds = moves[:, _SECOND]
    come, gone = _before(seconds[state == use], when), _before(seconds[was == use], when)
    return began + come - gone


def _kits_ready(clean: Whole, hoods: Whole, tubes: Whole) -> dict[str, Whole]:
    """Part clean kits by what they lack; a large hood stands for no other."""
    without_hood = np.where(hoods < 0, 0, np.maximum(clean - hoods, 0))
    left = clean - without_hood
    without_tube = np.where(tubes < 0, 0, np.maximum(left - tubes, 0))
    return {
        "kits_ready": left - without_tube,
        "kits_without_hood": without_hood,
        "kits_without_tube": without_tube,
    }


def _line(events: Whole, when: Whole) -> tuple[Whole, Whole]:
    """Count who waits in line, and how long the first has waited."""
    rows = events[np.isin(events[:, _KIND], [JOINS, *LEAVES])]
    waiting: dict[int, int] = {}
    count, longest_s = np.zeros(len(when), dtype=np.int64), np.zeros(len(when), dtype=np.int64)
    ends = _before(rows[:, _SECOND], when).tolist()
    begun = 0
    for place, end in enumerate(ends):
        for row in rows[begun:end].tolist():
            if row[_KIND] == JOINS:
                waiting[row[_ENTRY]] = row[_FIRST_VALUE + 1]
            else:
                waiting.pop(row[_ENTRY], None)
        begun = end
        count[place] = len(waiting)
        longest_s[place] = int(when[place]) - min(waiting.values(), default=int(when[place]))
    return count, longest_s


def _parts(situation: Situation, events: Whole, supply: int, when: Whole, away: Whole) -> Whole:
    """Count the parts of one sort on the shelf; -1 where they are unlimited.

    Hoods and tubes: also those that wait for a clean kit.
    """
    rules = situation.unit.rules
    if rules.endless[supply]:
        return np.full(len(when), -1)
    # parts of the run-in come from elsewhere
    of_surge = events[events[:, _SECOND] >= 0]
    kind, value = of_surge[:, _KIND], of_surge[:, _FIRST_VALUE]
    used = (kind == Kind.PART_THROWN_AWAY) | (kind == Kind.FILTER_CHANGE)
    used &= value == supply
    if supply == PREFILTERS:
        used |= (kind == Kind.CHECK_FAILS) & (value == AfterFailedCheck.NEW_PREFILTER)
    come = (kind == Kind.DELIVERED) & (value == supply)
    amounts = np.concatenate(([0], of_surge[come, _FIRST_VALUE + 1].cumsum()))
    delivered = amounts[_before(of_surge[come, _SECOND], when)]
    left = int(rules.spares[supply]) + delivered - _before(of_surge[used, _SECOND], when)
    if supply in (HOODS, TUBES):
        kits = situation.stock.kits + situation.timeline.kits_come
        left = left + kits - away - _on_kits(events, supply, when)
    elif supply == LARGE_HOODS:
        left = left - _on_kits(events, supply, when)
    return np.maximum(left, 0)


def _on_kits(events: Whole, supply: int, when: Whole) -> Whole:
    """Count the hoods or tubes that kits in use, or being cleaned, have on them."""
    kinds = (
        Kind.TAKES_KIT, Kind.TAKES_LARGE_HOOD, Kind.PART_THROWN_AWAY, Kind.KIT_MOVES
    )  # fmt: skip
    rows = events[np.isin(events[:, _KIND], kinds)]
    have: set[int] = set()
    count = np.zeros(len(when), dtype=np.int64)
    begun = 0
    for place, end in enumerate(_before(rows[:, _SECOND], when).tolist()):
        for row in rows[begun:end].tolist():
            kit, value = row[_KIT], row[_FIRST_VALUE]
            if row[_KIND] == Kind.TAKES_KIT and supply != LARGE_HOODS:
                have.add(kit)
            elif row[_KIND] == Kind.TAKES_LARGE_HOOD and supply != TUBES:
                # in the place of the kit's own
                (have.add if supply == LARGE_HOODS else have.discard)(kit)
            elif row[_KIND] == Kind.PART_THROWN_AWAY:
                if value == supply:
                    have.discard(kit)
            elif row[_FIRST_VALUE + 1] in (Use.KITS_READY, Use.KITS_OUT, Use.KITS_AWAY):
                have.discard(kit)
        begun = end
        count[place] = len(have)
    return count
