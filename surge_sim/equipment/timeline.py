"""What changes at which second of a surge: crews on duty, collection rounds, disruptions."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import accumulate
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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
from surge_sim.scenario.gear import Cleaning, CrewShift
from surge_sim.scenario.schema import Settings
from surge_sim.units import DAY_S

Whole = NDArray[np.int64]

#: so many can wipe at once where nothing limits it
_NO_LIMIT = 2**40


def whole(values: Sequence[int]) -> Whole:
    """Return read-only whole numbers."""
    array = np.array(values, dtype=np.int64)
    array.setflags(write=False)
    return array


class Window(NamedTuple):
    """From one moment until another [s], with a number that goes with it."""

    from_s: int
    to_s: int
    value: int


class Timeline(NamedTuple):
    """Changes during a surge, in their own order and as steps and windows over time."""

    changes: tuple[Disruption, ...]
    #: bays that do not work over time
    bays_out_s: Whole
    bays_out: Whole
    cut_from_s: Whole
    cut_to_s: Whole
    #: kits to be withdrawn over time, and those that are not on loan at that time
    away_s: Whole
    withdrawn: Whole
    away_not_lent: Whole
    missed_from_s: Whole
    missed_to_s: Whole
    missed_supply: Whole
    bad_prefilter_from_s: Whole
    bad_prefilter_to_s: Whole
    bad_prefilter_ppm: Whole
    bad_main_from_s: Whole
    bad_main_to_s: Whole
    bad_main_ppm: Whole
    #: moments at which one of these steps: settle then
    change_s: Whole
    #: how many kits can be borrowed in all
    can_come: int

    @property
    def of_cleaners(self) -> list[CleanersAbsent | ExtraCleaners]:
        """Changes of the number of cleaners."""
        return [one for one in self.changes if isinstance(one, CleanersAbsent | ExtraCleaners)]


def timeline_of(settings: Settings) -> Timeline:
    """Return the changes that a scenario names."""
    return timeline(settings.disruptions, settings.prices.bays_per_charger)


def timeline(changes: Sequence[Disruption], bays_per_charger: int = 1) -> Timeline:
    """Bring changes to steps and windows over time."""
    out_s, out = _bays_out_steps(changes, bays_per_charger)
    away = _away_steps(changes)
    cut_from, cut_to, _ = _split(windows(changes, "power cut"))
    ticks = {*out_s, *away.at_s, *cut_from.tolist(), *cut_to.tolist()}
    return Timeline(
        tuple(changes), whole(out_s), whole(out), cut_from, cut_to, whole(away.at_s),
        whole(away.withdrawn), whole(away.not_lent), *_split(windows(changes, "delivery missed")),
        *_split(windows(changes, "bad prefilters")), *_split(windows(changes, "bad main filters")),
        whole(sorted(ticks)), away.can_come,
    )  # fmt: skip


def _split(runs: Sequence[Window]) -> tuple[Whole, Whole, Whole]:
    from_s, to_s, value = zip(*runs, strict=True) if runs else ((), (), ())
    return whole(from_s), whole(to_s), whole(value)


def windows(changes: Sequence[Disruption], what: str) -> list[Window]:
    """List the disruptions of one sort, sorted by start; power cuts that touch are joined.

    ``value`` is the share of life [ppm] for bad filters and the supply's number (-1: all) for
    missed deliveries.
    """
    found = []
    for event in changes:
        end_s = event.at + event.lasts
        if isinstance(event, BaysFail) and what == "power cut":
            if event.bays is None and event.chargers is None:
                found.append(Window(event.at, end_s, 0))
        elif isinstance(event, DeliveryMissed) and what == "delivery missed":
            supply = -1 if event.supply == "all" else SUPPLY_NAMES.index(event.supply)
            found.append(Window(event.at, end_s, supply))
        elif isinstance(event, BadFilters) and what in _bad_filters(event):
            found.append(Window(event.at, end_s, round(event.life * 1_000_000)))
    found.sort()
    return _joined(found) if what == "power cut" else found


def _bays_out_steps(
    changes: Sequence[Disruption], bays_per_charger: int
) -> tuple[list[int], list[int]]:
    """Steps of the number of bays that do not work; those of several failures add up."""
    steps: dict[int, int] = {}
    for event in changes:
        if isinstance(event, BaysFail):
            chargers = event.chargers or 0
            bays = chargers * bays_per_charger + (event.bays or 0)
            for at_s, change in ((event.at, bays), (event.at + event.lasts, -bays)):
                if bays:
                    steps[at_s] = steps.get(at_s, 0) + change
    return _steps(steps)


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


class _AwaySteps(NamedTuple):
    at_s: list[int]
    withdrawn: list[int]
    not_lent: list[int]
    can_come: int


def _away_steps(changes: Sequence[Disruption]) -> _AwaySteps:
    """Steps of the kits that are to be withdrawn, and of those that are not on loan."""
    withdrawn = [event for event in changes if isinstance(event, KitsWithdrawn)]
    borrowed = [event for event in changes if isinstance(event, KitsBorrowed)]
    times = sorted({0, *_edges(withdrawn), *_edges(borrowed)})
    can_come = sum(event.kits for event in borrowed)
    return _AwaySteps(
        times,
        [_kits_at(withdrawn, at_s) for at_s in times],
        [can_come - _kits_at(borrowed, at_s) for at_s in times],
        can_come,
    )


def _edges(events: Sequence[Disruption]) -> Iterator[int]:
    """Moments at which one begins or ends."""
    return (at_s for event in events for at_s in (event.at, event.at + event.lasts))


def _kits_at(events: Sequence[KitsWithdrawn | KitsBorrowed], at_s: int) -> int:
    return sum(event.kits for event in events if event.at <= at_s < event.at + event.lasts)


def _day_offsets(start: datetime, closing_s: int) -> tuple[int, range]:
    """Second of the clock at second 0, and the days (from -1) that touch the play."""
    clock_s = start.hour * 3_600 + start.minute * 60 + start.second
    return clock_s, range(-1, (closing_s + clock_s) // DAY_S + 1)


def crew_steps(
    cleaning: Cleaning,
    changes: Sequence[CleanersAbsent | ExtraCleaners],
    extra_cleaners: int,
    start: datetime,
    closing_s: int,
) -> tuple[list[int], list[int]]:
    """Steps of the number of kits that can be wiped at once.

    Absent cleaners of a shift are missing in its hours only, and never more than it has; those of
    no named shift are missing from all who are on duty. Extra cleaners come on top.
    """
    if cleaning.by != "crew":
        limit = cleaning.places if cleaning.by == "wearer" else None
        return [0], [_NO_LIMIT if limit is None else limit]
    own: dict[int | None, list[CleanersAbsent | ExtraCleaners]] = {}
    for event in changes:
        own.setdefault(event.shift, []).append(event)
    # what each shift changes, at its own moments only: there may be a thousand shifts a day
    counts = dict.fromkeys((0, *_edges(changes)), 0)
    for shift in cleaning.crew:
        step_s, on = _on_duty(shift, start, closing_s)
        full, before = shift.cleaners + extra_cleaners, 0
        for at_s, now in _events_at(step_s, own.get(shift.start, [])):
            duty = on[bisect_right(step_s, at_s) - 1]
            there = _changed(full, now) if duty else 0
            counts[at_s] = counts.get(at_s, 0) + there - before
            before = there
    times = sorted(counts)
    there_at = accumulate(counts[at_s] for at_s in times)
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


def _on_duty(shift: CrewShift, start: datetime, closing_s: int) -> tuple[list[int], list[int]]:
    """Steps of whether a shift is on duty: 1, or 0."""
    clock_s, days = _day_offsets(start, closing_s)
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


def round_times(
    cleaning: Cleaning,
    changes: Sequence[CleanersAbsent | ExtraCleaners],
    start: datetime,
    closing_s: int,
) -> tuple[list[int], list[int]]:
    """Central wipe-down: moments of the rounds, and when what a round collects comes back.

    A round while cleaners are absent does not take place. What is collected comes back with the
    first round at or after the turnaround; kits collected too late for that stay away.
    """
    if cleaning.by != "central":
        return [], []
    absences = [event for event in changes if isinstance(event, CleanersAbsent)]
    # far enough behind the end of the play that what comes back then does not come back in it
    never_s = closing_s + cleaning.turnaround + 2 * DAY_S
    clock_s, days = _day_offsets(start, never_s)
    times = sorted(day * DAY_S + at_s - clock_s for day in days for at_s in set(cleaning.rounds))
    times = [
        at_s
        for at_s in times
        if at_s >= 0 and not any(event.at <= at_s < event.at + event.lasts for event in absences)
    ]
    places = (bisect_left(times, at_s + cleaning.turnaround) for at_s in times)
    returns = [times[place] if place < len(times) else never_s for place in places]
    return times, returns


NOTHING_CHANGES = timeline(())
