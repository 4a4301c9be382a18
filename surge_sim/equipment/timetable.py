"""What the scenario fixes over time: crews on duty, collection rounds, disruptions."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import accumulate
from typing import NamedTuple

from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import SUPPLY_NAMES
from surge_sim.scenario.events import (
    BadFilters,
    BaysFail,
    CleanersAbsent,
    DeliveryMissed,
    Disruption,
    ExtraCleaners,
    KitsBorrowed,
    KitsWithdrawn,
)
from surge_sim.scenario.gear import CrewShift
from surge_sim.scenario.schema import Settings
from surge_sim.units import DAY_S

#: so many can wipe at once where nothing limits it
_NO_LIMIT = 2**40


class Window(NamedTuple):
    """From one moment until another [s], with a number that goes with it."""

    from_s: int
    to_s: int
    value: int


def windows(settings: Settings, what: str) -> list[Window]:
    """List the disruptions of one sort, sorted by start; power cuts that touch are joined.

    ``value`` is the share of life [ppm] for bad filters and the supply's number (-1: all) for
    missed deliveries.
    """
    found = []
    for event in settings.disruptions:
        end_s = event.at + event.lasts
        if isinstance(event, BaysFail) and what == "power cut":
            if bays_of(event, settings) is None:
                found.append(Window(event.at, end_s, 0))
        elif isinstance(event, DeliveryMissed) and what == "delivery missed":
            supply = -1 if event.supply == "all" else SUPPLY_NAMES.index(event.supply)
            found.append(Window(event.at, end_s, supply))
        elif isinstance(event, BadFilters) and what in _bad_filters(event):
            found.append(Window(event.at, end_s, round(event.life * 1_000_000)))
    found.sort()
    return _joined(found) if what == "power cut" else found


def bays_of(event: BaysFail, settings: Settings) -> int | None:
    """Return how many bays do not work; None: all are without power, and batteries stay in them."""
    if event.chargers is not None:
        return event.chargers * settings.prices.bays_per_charger
    return event.bays


def bays_out_steps(settings: Settings) -> tuple[list[int], list[int]]:
    """Steps of the number of bays that do not work; those of several failures add up."""
    changes: dict[int, int] = {}
    for event in settings.disruptions:
        bays = bays_of(event, settings) if isinstance(event, BaysFail) else None
        if bays is not None:
            for at_s, change in ((event.at, bays), (event.at + event.lasts, -bays)):
                changes[at_s] = changes.get(at_s, 0) + change
    return _steps(changes)


def _bad_filters(event: BadFilters) -> tuple[str, ...]:
    """Sorts of bad filters that a disruption brings."""
    if event.filters == "both":
        return ("bad prefilters", "bad main filters")
    return (f"bad {event.filters}",)


def _joined(found: list[Window]) -> list[Window]:
    joined: list[Window] = []
    for window in found:
        if joined and window.from_s <= joined[-1].to_s:
            last = joined.pop()
            window = Window(last.from_s, max(last.to_s, window.to_s), 0)
        joined.append(window)
    return joined


def _steps(changes: dict[int, int]) -> tuple[list[int], list[int]]:
    """Turn changes at moments into a step function that begins at second 0."""
    level = sum(change for at_s, change in changes.items() if at_s <= 0)
    times, values = [0], [level]
    for at_s in sorted(at_s for at_s in changes if at_s > 0):
        level += changes[at_s]
        times.append(at_s)
        values.append(level)
    return times, values


class AwaySteps(NamedTuple):
    """Steps of the number of kits that should be away."""

    at_s: list[int]
    #: all that should be away from each step on, and those among them that are not on loan then
    kits: list[int]
    not_lent: list[int]
    #: how many can be borrowed in all
    can_come: int


def kits_away_steps(settings: Settings, kits: int) -> AwaySteps:
    """Work out how many kits should be away over time.

    No more are withdrawn than the stock's own: those borrowed meanwhile come all the same.
    """
    withdrawn = [event for event in settings.disruptions if isinstance(event, KitsWithdrawn)]
    borrowed = [event for event in settings.disruptions if isinstance(event, KitsBorrowed)]
    times = sorted({0, *_edges(withdrawn), *_edges(borrowed)})
    can_come = sum(event.kits for event in borrowed)
    not_lent = [can_come - _kits_at(borrowed, at_s) for at_s in times]
    away = [
        min(_kits_at(withdrawn, at_s), kits) + absent
        for at_s, absent in zip(times, not_lent, strict=True)
    ]
    return AwaySteps(times, away, not_lent, can_come)


def _edges(events: Sequence[Disruption]) -> Iterator[int]:
    """Moments at which one begins or ends."""
    return (at_s for event in events for at_s in (event.at, event.at + event.lasts))


def _kits_at(events: Sequence[KitsWithdrawn | KitsBorrowed], at_s: int) -> int:
    return sum(event.kits for event in events if event.at <= at_s < event.at + event.lasts)


def _day_offsets(settings: Settings, closing_s: int) -> tuple[int, range]:
    """Second of the clock at second 0, and the days (from -1) that touch the play."""
    start = settings.start
    clock_s = start.hour * 3_600 + start.minute * 60 + start.second
    return clock_s, range(-1, (closing_s + clock_s) // DAY_S + 1)


def crew_steps(settings: Settings, stock: Stock, closing_s: int) -> tuple[list[int], list[int]]:
    """Steps of the number of kits that can be wiped at once.

    Absent cleaners of a shift are missing in its hours only, and never more than it has; those of
    no named shift are missing from all who are on duty. Extra cleaners come on top.
    """
    cleaning = settings.cleaning
    if cleaning.by != "crew":
        limit = cleaning.places if cleaning.by == "wearer" else None
        return [0], [_NO_LIMIT if limit is None else limit]
    events = [e for e in settings.disruptions if isinstance(e, CleanersAbsent | ExtraCleaners)]
    own: dict[int | None, list[CleanersAbsent | ExtraCleaners]] = {}
    for event in events:
        own.setdefault(event.shift, []).append(event)
    # what each shift changes, at its own moments only: there may be a thousand shifts a day
    changes = dict.fromkeys((0, *_edges(events)), 0)
    for shift in cleaning.crew:
        step_s, on = _on_duty(shift, settings, closing_s)
        full, before = shift.cleaners + stock.extra_cleaners, 0
        for at_s, now in _events_at(step_s, own.get(shift.start, [])):
            duty = on[bisect_right(step_s, at_s) - 1]
            there = _changed(full, now) if duty else 0
            changes[at_s] = changes.get(at_s, 0) + there - before
            before = there
    times = sorted(changes)
    there_at = accumulate(changes[at_s] for at_s in times)
    all_events = _events_at(times, own.get(None, []))
    return times, [
        _changed(there, now) if now else there
        for there, (_, now) in zip(there_at, all_events, strict=True)
    ]


def _events_at(
    times: Sequence[int], events: Sequence[CleanersAbsent | ExtraCleaners]
) -> Iterator[tuple[int, list[CleanersAbsent | ExtraCleaners]]]:
    """Each moment, and those at which an event begins or ends, with the events of then."""
    edges = set(_edges(events))
    now: list[CleanersAbsent | ExtraCleaners] = []
    for at_s in sorted(edges.union(times)) if edges else times:
        if at_s in edges:
            now = [event for event in events if event.at <= at_s < event.at + event.lasts]
        yield at_s, now


def _on_duty(shift: CrewShift, settings: Settings, closing_s: int) -> tuple[list[int], list[int]]:
    """Steps of whether a shift is on duty: 1, or 0."""
    clock_s, days = _day_offsets(settings, closing_s)
    length_s = (shift.end - shift.start) % DAY_S or DAY_S
    changes: dict[int, int] = {}
    for day in days:
        from_s = day * DAY_S + shift.start - clock_s
        for at_s, change in ((from_s, 1), (from_s + length_s, -1)):
            changes[at_s] = changes.get(at_s, 0) + change
    return _steps(changes)


def _changed(cleaners: int, events: Sequence[CleanersAbsent | ExtraCleaners]) -> int:
    """Take the absent off, an absence without a number takes all; then add the extra ones."""
    left, extra = cleaners, 0
    for event in events:
        if isinstance(event, ExtraCleaners):
            extra += event.cleaners
        else:
            left -= cleaners if event.cleaners is None else event.cleaners
    return max(left, 0) + extra


def round_times(settings: Settings, closing_s: int) -> tuple[list[int], list[int]]:
    """Central wipe-down: moments of the rounds, and when what a round collects comes back.

    A round while cleaners are absent does not take place. What is collected comes back with the
    first round at or after the turnaround; kits collected too late for that stay away.
    """
    cleaning = settings.cleaning
    if cleaning.by != "central":
        return [], []
    absences = [event for event in settings.disruptions if isinstance(event, CleanersAbsent)]
    clock_s, days = _day_offsets(settings, closing_s + cleaning.turnaround + 2 * DAY_S)
    times = sorted(day * DAY_S + at_s - clock_s for day in days for at_s in set(cleaning.rounds))
    times = [
        at_s
        for at_s in times
        if at_s >= 0 and not any(event.at <= at_s < event.at + event.lasts for event in absences)
    ]
    never_s = times[-1] + DAY_S if times else 0
    places = (bisect_left(times, at_s + cleaning.turnaround) for at_s in times)
    returns = [times[place] if place < len(times) else never_s for place in places]
    return times, returns
