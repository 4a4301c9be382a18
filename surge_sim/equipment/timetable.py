"""What the scenario fixes over time: crews on duty, collection rounds, disruptions."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import SUPPLY_NAMES
from surge_sim.scenario.events import (
    BadFilters,
    CleanersAbsent,
    DeliveryMissed,
    KitsBorrowed,
    KitsWithdrawn,
    PowerCut,
)
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
        if isinstance(event, PowerCut) and what == "power cut":
            found.append(Window(event.at, end_s, 0))
        elif isinstance(event, DeliveryMissed) and what == "delivery missed":
            supply = -1 if event.supply == "all" else SUPPLY_NAMES.index(event.supply)
            found.append(Window(event.at, end_s, supply))
        elif isinstance(event, BadFilters) and what in _bad_filters(event):
            found.append(Window(event.at, end_s, round(event.life * 1_000_000)))
    found.sort()
    return _joined(found) if what == "power cut" else found


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


def _edges(events: Sequence[KitsWithdrawn | KitsBorrowed]) -> Iterator[int]:
    """Moments at which one begins or ends."""
    return (at_s for event in events for at_s in (event.at, event.at + event.lasts))


def _kits_at(events: Sequence[KitsWithdrawn | KitsBorrowed], at_s: int) -> int:
    return sum(event.kits for event in events if event.at <= at_s < event.at + event.lasts)


def _day_offsets(settings: Settings, closing_s: int) -> tuple[int, range]:
    """Second of the clock at second 0, and the days (from -1) that touch the play."""
    start = settings.start
    clock_s = start.hour * 3_600 + start.minute * 60 + start.second
    return clock_s, range(-1, (closing_s + clock_s) // DAY_S + 1)


def _absences(settings: Settings) -> list[CleanersAbsent]:
    return [event for event in settings.disruptions if isinstance(event, CleanersAbsent)]


def crew_steps(settings: Settings, stock: Stock, closing_s: int) -> tuple[list[int], list[int]]:
    """Steps of the number of kits that can be wiped at once."""
    cleaning = settings.cleaning
    if cleaning.by != "crew":
        limit = cleaning.places if cleaning.by == "wearer" else None
        return [0], [_NO_LIMIT if limit is None else limit]
    clock_s, days = _day_offsets(settings, closing_s)
    changes: dict[int, int] = {}
    for shift in cleaning.crew:
        cleaners = shift.cleaners + stock.extra_cleaners
        length_s = (shift.end - shift.start) % DAY_S or DAY_S
        for day in days:
            from_s = day * DAY_S + shift.start - clock_s
            for at_s, change in ((from_s, cleaners), (from_s + length_s, -cleaners)):
                changes[at_s] = changes.get(at_s, 0) + change
    times, values = _steps(changes)
    return _without_absent(times, values, _absences(settings))


def _without_absent(
    times: list[int], values: list[int], absences: list[CleanersAbsent]
) -> tuple[list[int], list[int]]:
    """Take the absent cleaners off; never below none."""
    if not absences:
        return times, [max(there, 0) for there in values]
    edges = {event.at for event in absences} | {event.at + event.lasts for event in absences}
    merged = sorted(set(times) | edges)
    result = []
    for at_s in merged:
        there = values[bisect_right(times, at_s) - 1]
        for event in absences:
            if event.at <= at_s < event.at + event.lasts:
                there -= there if event.cleaners is None else event.cleaners
        result.append(max(there, 0))
    return merged, result


def round_times(settings: Settings, closing_s: int) -> tuple[list[int], list[int]]:
    """Central wipe-down: moments of the rounds, and when what a round collects comes back.

    A round while cleaners are absent does not take place. What is collected comes back with the
    first round at or after the turnaround; kits collected too late for that stay away.
    """
    cleaning = settings.cleaning
    if cleaning.by != "central":
        return [], []
    clock_s, days = _day_offsets(settings, closing_s + cleaning.turnaround + 2 * DAY_S)
    times = sorted(day * DAY_S + at_s - clock_s for day in days for at_s in set(cleaning.rounds))
    times = [
        at_s
        for at_s in times
        if at_s >= 0
        and not any(event.at <= at_s < event.at + event.lasts for event in _absences(settings))
    ]
    never_s = times[-1] + DAY_S if times else 0
    places = (bisect_left(times, at_s + cleaning.turnaround) for at_s in times)
    returns = [times[place] if place < len(times) else never_s for place in places]
    return times, returns
