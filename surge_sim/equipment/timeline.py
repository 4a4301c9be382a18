"""What changes at which second of a surge: one mechanism for everything that does.

A change takes one or several numbers of `InForce` to a value for some time, or for good. The
engines hold these numbers and do nothing but set them: **a change at second t holds before
anything else happens in that second.** What is in progress is not undone:

* kits and batteries that go wait until they are ready on the shelf; those on loan come full and
  with a hood and a tube each;
* a battery leaves a bay that fails, or goes back, with the charge that it has;
* a wipe-down that has begun is ended, also by a cleaner who goes;
* a filter keeps the life with which it was fitted.

Two of a kind at once add up, or, where a number is replaced, the one that began last holds.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import accumulate
from math import prod
from typing import Any, NamedTuple

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
NO_LIMIT = 2**40
#: in the place of a value: what holds without any change
AS_USUAL = -1
#: all of a filter's life [ppm]
WHOLE_LIFE = 1_000_000


class InForce(NamedTuple):
    """Numbers that change during a surge, with their values where nothing has changed."""

    reserved: int = 0
    held_kits: int = 0
    early_take: int = 0
    kits_recalled: int = 0
    kits_lent: int = 0
    batteries_lent: int = 0
    bays_lent: int = 0
    bays_out: int = 0
    has_power: int = 1
    #: share of its life [ppm] that a filter has which is fitted now
    prefilter_life_ppm: int = WHOLE_LIFE
    main_life_ppm: int = WHOLE_LIFE
    #: wipe-downs that can go on at once
    wipers: int = NO_LIMIT
    #: moment of the last collection round, and when what it collected comes back
    round_s: int = -1
    round_back_s: int = -1


def whole(values: Sequence[Any]) -> Whole:
    """Return read-only whole numbers."""
    array = np.array(values, dtype=np.int64)
    array.setflags(write=False)
    return array


def rows_of(found: Sequence[tuple[int, str, int]]) -> Whole:
    """Return changes as rows: moment, place in `InForce`, value; in order of time."""
    rows = sorted((at_s, InForce._fields.index(name), value) for at_s, name, value in found)
    return whole(rows) if rows else whole([]).reshape(0, 3)


class Window(NamedTuple):
    """From one moment until another [s], with a number that goes with it."""

    from_s: int
    to_s: int
    value: int


class Timeline(NamedTuple):
    """Changes during a surge."""

    changes: tuple[Disruption, ...]
    #: see `rows_of`; without those of the calendar
    rows: Whole
    # what must be known ahead: when a battery will be full, when a delivery comes
    cut_from_s: Whole
    cut_to_s: Whole
    missed_from_s: Whole
    missed_to_s: Whole
    missed_supply: Whole
    #: kits, and batteries beside theirs, that are ever on loan
    kits_come: int
    batteries_come: int
    #: whether kits or batteries come or go
    moves: int
    of_cleaners: tuple[CleanersAbsent | ExtraCleaners, ...]


def timeline_of(settings: Settings) -> Timeline:
    """Return the changes that a scenario names."""
    return timeline(settings.disruptions, settings.prices.bays_per_charger)


def timeline(changes: Sequence[Disruption], bays_per_charger: int = 1) -> Timeline:
    """Bring changes to numbers over time."""
    pieces: dict[str, list[Window]] = {}
    for change in changes:
        for name, value in _values(change, bays_per_charger):
            pieces.setdefault(name, []).append(Window(*_lasting(change), value))
    rows = [row for name, windows in pieces.items() for row in _steps(name, windows)]
    cuts, missed = _joined(pieces.get("has_power", [])), sorted(pieces.get("late", []))
    cut_from_s, cut_to_s, _ = _split(cuts)
    missed_from_s, missed_to_s, supply = _split(missed)
    return Timeline(
        changes=tuple(changes),
        rows=rows_of([row for row in rows if row[1] in InForce._fields]),
        cut_from_s=cut_from_s,
        cut_to_s=cut_to_s,
        missed_from_s=missed_from_s,
        missed_to_s=missed_to_s,
        missed_supply=supply,
        kits_come=_all_of(pieces, "kits_lent"),
        batteries_come=_all_of(pieces, "batteries_lent"),
        moves=int(not pieces.keys().isdisjoint(("kits_recalled", "kits_lent", "batteries_lent"))),
        of_cleaners=tuple(
            one for one in changes if isinstance(one, CleanersAbsent | ExtraCleaners)
        ),
    )


def _all_of(pieces: dict[str, list[Window]], name: str) -> int:
    return sum(window.value for window in pieces.get(name, []))


def _values(change: Disruption, bays_per_charger: int) -> Iterator[tuple[str, int]]:
    """Name the numbers that a change replaces, or adds to, and by how much."""
    match change:
        case BaysFail(bays=None, chargers=None):
            yield "has_power", 0
        case BaysFail():
            yield "bays_out", (change.chargers or 0) * bays_per_charger + (change.bays or 0)
        case KitsWithdrawn():
            yield "kits_recalled", change.kits
        case KitsBorrowed():
            yield "kits_lent", change.kits
        case DeliveryMissed():
            late = -1 if change.supply == "all" else SUPPLY_NAMES.index(change.supply)
            yield "late", late
        case BadFilters():
            life_ppm = round(change.life * WHOLE_LIFE)
            if change.filters != "main filters":
                yield "prefilter_life_ppm", life_ppm
            if change.filters != "prefilters":
                yield "main_life_ppm", life_ppm


def _last(values: Sequence[int]) -> int:
    return values[-1]


def _of_life(shares_ppm: Sequence[int]) -> int:
    return prod(shares_ppm) // WHOLE_LIFE ** (len(shares_ppm) - 1)


#: what several changes of one number make together, in the order in which they began
_TOGETHER: dict[str, Callable[[Sequence[int]], int]] = {
    "kits_recalled": sum,
    "kits_lent": sum,
    "batteries_lent": sum,
    "bays_lent": sum,
    "bays_out": sum,
    "prefilter_life_ppm": _of_life,
    "main_life_ppm": _of_life,
}


def _steps(name: str, windows: Sequence[Window]) -> Iterator[tuple[int, str, int]]:
    """Return the moments at which a number changes, and its value from then on."""
    together = _TOGETHER.get(name, _last)
    began = sorted(windows, key=lambda window: window.from_s)
    for at_s in sorted({edge for window in windows for edge in window[:2]}):
        now = [window.value for window in began if window.from_s <= at_s < window.to_s]
        yield at_s, name, together(now) if now else AS_USUAL


def _lasting(change: Disruption) -> tuple[int, int]:
    """First second of a change, and the first after it."""
    return change.at, change.at + change.lasts


def _split(runs: Sequence[Window]) -> tuple[Whole, Whole, Whole]:
    from_s, to_s, value = zip(*runs, strict=True) if runs else ((), (), ())
    return whole(from_s), whole(to_s), whole(value)


def _joined(found: Sequence[Window]) -> list[Window]:
    """Join windows that overlap or touch."""
    joined: list[Window] = []
    for window in sorted(found):
        if joined and window.from_s <= joined[-1].to_s:
            last = joined.pop()
            window = Window(last.from_s, max(last.to_s, window.to_s), 0)
        joined.append(window)
    return joined


# --- crews and rounds ------------------------------------------------------------------------


def calendar_rows(
    cleaning: Cleaning,
    changes: Sequence[CleanersAbsent | ExtraCleaners],
    extra_cleaners: int,
    start: datetime,
    closing_s: int,
) -> Whole:
    """Return what the clock brings day after day: cleaners on duty, collection rounds."""
    found: list[tuple[int, str, int]] = []
    if cleaning.by == "central":
        for at_s, back_s in _rounds(cleaning, changes, start, closing_s):
            found += [(at_s, "round_s", at_s), (at_s, "round_back_s", back_s)]
    elif cleaning.by == "crew":
        steps = _crew_steps(cleaning, changes, extra_cleaners, start, closing_s)
        found += [(at_s, "wipers", there) for at_s, there in steps]
    elif cleaning.places is not None:
        found.append((0, "wipers", cleaning.places))
    return rows_of(found)


def _day_offsets(start: datetime, closing_s: int) -> tuple[int, range]:
    """Second of the clock at second 0, and the days (from -1) that touch the play."""
    clock_s = start.hour * 3_600 + start.minute * 60 + start.second
    return clock_s, range(-1, (closing_s + clock_s) // DAY_S + 1)


def _crew_steps(
    cleaning: Cleaning,
    changes: Sequence[CleanersAbsent | ExtraCleaners],
    extra_cleaners: int,
    start: datetime,
    closing_s: int,
) -> Iterator[tuple[int, int]]:
    """Steps of the number of kits that can be wiped at once.

    Absent cleaners of a shift are missing in its hours only, and never more than it has; those of
    no named shift are missing from all who are on duty. Extra cleaners come on top.
    """
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
    for at_s, there, (_, now) in zip(times, there_at, all_events, strict=True):
        yield at_s, _changed(there, now) if now else there


def _edges(events: Sequence[Disruption]) -> Iterator[int]:
    """Moments at which one begins or ends."""
    return (at_s for event in events for at_s in _lasting(event))


def _events_at(
    times: Sequence[int], events: Sequence[CleanersAbsent | ExtraCleaners]
) -> Iterator[tuple[int, list[CleanersAbsent | ExtraCleaners]]]:
    """Each moment, and those at which an event begins or ends, with the events of then."""
    edges = set(_edges(events))
    now: list[CleanersAbsent | ExtraCleaners] = []
    for at_s in sorted(edges.union(times)) if edges else times:
        if at_s in edges:
            now = [event for event in events if event.at <= at_s < _lasting(event)[1]]
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
    level = sum(change for at_s, change in changes.items() if at_s <= 0)
    times, values = [0], [level]
    for at_s in sorted(at_s for at_s in changes if at_s > 0):
        level += changes[at_s]
        times.append(at_s)
        values.append(level)
    return times, values


def _changed(cleaners: int, events: Sequence[CleanersAbsent | ExtraCleaners]) -> int:
    """Take the absent off, an absence without a number takes all; then add the extra ones."""
    left, extra = cleaners, 0
    for event in events:
        if isinstance(event, ExtraCleaners):
            extra += event.cleaners
        else:
            left -= cleaners if event.cleaners is None else event.cleaners
    return max(left, 0) + extra


def _rounds(
    cleaning: Cleaning,
    changes: Sequence[CleanersAbsent | ExtraCleaners],
    start: datetime,
    closing_s: int,
) -> Iterator[tuple[int, int]]:
    """Central wipe-down: moments of the rounds, and when what a round collects comes back.

    A round while cleaners are absent does not take place. What is collected comes back with the
    first round at or after the turnaround; kits collected too late for that stay away.
    """
    absences = [_lasting(event) for event in changes if isinstance(event, CleanersAbsent)]
    # far enough behind the end of the play that what comes back then does not come back in it
    never_s = closing_s + cleaning.turnaround + 2 * DAY_S
    clock_s, days = _day_offsets(start, never_s)
    times = sorted(day * DAY_S + at_s - clock_s for day in days for at_s in set(cleaning.rounds))
    times = [
        at_s
        for at_s in times
        if at_s >= 0 and not any(from_s <= at_s < to_s for from_s, to_s in absences)
    ]
    for at_s in times:
        place = bisect_left(times, at_s + cleaning.turnaround)
        yield at_s, times[place] if place < len(times) else never_s


NOTHING_CHANGES = timeline(())
