"""Cleaning: what the clock brings day after day, cleaners on duty and collection rounds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from itertools import accumulate, chain
from typing import NamedTuple

import numpy as np

from surge_sim.equipment.timeline import ChangeOfCrew, Whole, rows_of, rows_of_number
from surge_sim.scenario.schema import Cleaning, CrewShift, Settings
from surge_sim.scenario.timeline import CleanersAbsent, ExtraCleaners
from surge_sim.units import DAY_S, clock_at_start_s

#: numbers of the ways to wipe down
BY_WEARER, BY_CREW, CENTRAL = 0, 1, 2
WAYS = ("wearer", "crew", "central")


class Calendar(NamedTuple):
    """What the clock brings in a unit."""

    cleaning: Cleaning
    start: datetime
    #: seconds of a play: of the run-in, and until the closing with it
    run_in_s: int
    closing_s: int
    #: see `rows_of`, without absent or extra cleaners
    rows: Whole
    #: by how much the value of each row grows with one cleaner more on every shift
    more: Whole

    def rows_with(self, changes: Sequence[ChangeOfCrew], extra_cleaners: int) -> Whole:
        """Return the rows with cleaners absent or extra, and more of them on every shift."""
        if changes:
            later = [one.model_copy(update={"at": one.at + self.run_in_s}) for one in changes]
            return calendar_rows(self.cleaning, later, extra_cleaners, self.start, self.closing_s)
        if not extra_cleaners:
            return self.rows
        rows = self.rows.copy()
        rows[:, 2] += extra_cleaners * self.more
        return rows


def calendar_of(settings: Settings) -> Calendar:
    """Work out what the clock brings in the unit of a scenario."""
    # without what one wipe-down takes, which may be drawn for each surge
    by_the_clock = settings.cleaning.model_copy(
        update={"wipe_down": None, "contact_time": 0, "drying_time": 0}
    )
    # a run-in of whole days begins at the same clock time
    run_in_s = settings.run_in
    closing_s = run_in_s + settings.horizon + settings.run_out
    return _calendar(by_the_clock, settings.start, run_in_s, closing_s)


# the same in nearly all surges of a scenario, and of the alternatives to it
@lru_cache(maxsize=64)
def _calendar(cleaning: Cleaning, start: datetime, run_in_s: int, closing_s: int) -> Calendar:
    rows = calendar_rows(cleaning, (), 0, start, closing_s)
    more = np.zeros(len(rows), dtype=np.int64)
    if cleaning.by == "crew":
        more += calendar_rows(cleaning, (), 1, start, closing_s)[:, 2] - rows[:, 2]
    more.setflags(write=False)
    return Calendar(cleaning, start, run_in_s, closing_s, rows, more)


def calendar_rows(
    cleaning: Cleaning,
    changes: Sequence[ChangeOfCrew],
    extra_cleaners: int,
    start: datetime,
    closing_s: int,
) -> Whole:
    """Return rows, see `rows_of`: how many wipe-downs can go on at once, and collection rounds."""
    # as columns, not row by row: ten years may have millions of rounds or of changes of shift
    if cleaning.by == "central":
        at_s, back_s = _rounds(cleaning, changes, start, closing_s)
        both = (("round_s", at_s), ("round_back_s", back_s))
        columns = [rows_of_number(name, at_s, values) for name, values in both]
        rows = np.stack(columns, axis=1).reshape(-1, 3)
    elif cleaning.by == "crew":
        steps = _crew_steps(cleaning, changes, extra_cleaners, start, closing_s)
        moments = np.fromiter(chain.from_iterable(steps), np.int64).reshape(-1, 2)
        rows = rows_of_number("wipers", moments[:, 0], moments[:, 1])
    else:
        places = [] if cleaning.places is None else [(0, "wipers", cleaning.places)]
        rows = rows_of(places)
    rows.setflags(write=False)
    return rows


def _day_offsets(start: datetime, closing_s: int) -> tuple[int, range]:
    """Second of the clock at second 0, and the days (from -1) that touch the play."""
    clock_s = clock_at_start_s(start)
    return clock_s, range(-1, (closing_s + clock_s) // DAY_S + 1)


def _crew_steps(
    cleaning: Cleaning,
    changes: Sequence[ChangeOfCrew],
    extra_cleaners: int,
    start: datetime,
    closing_s: int,
) -> Iterator[tuple[int, int]]:
    """Steps of the number of kits that can be wiped at once.

    Absent cleaners of a shift are missing in its hours only, and never more than it has; those of
    no named shift are missing from all who are on duty. Extra cleaners come on top.
    """
    own: dict[int | None, list[ChangeOfCrew]] = {}
    for event in changes:
        # 24:00 is 00:00 of the next day
        begins_s = None if event.shift is None else event.shift % DAY_S
        own.setdefault(begins_s, []).append(event)
    # what each shift changes, at its own moments only: there may be a thousand shifts a day
    counts = dict.fromkeys((0, *(at_s for one in changes for at_s in (one.at, one.until))), 0)
    for shift in cleaning.crew:
        step_s, on = _on_duty(shift, start, closing_s)
        full, before = shift.cleaners + extra_cleaners, 0
        for at_s, now in _events_at(step_s, own.get(shift.start % DAY_S, [])):
            duty = on[bisect_right(step_s, at_s) - 1]
            there = _changed(full, now) if duty else 0
            counts[at_s] = counts.get(at_s, 0) + there - before
            before = there
    times = sorted(counts)
    there_at = accumulate(counts[at_s] for at_s in times)
    all_events = _events_at(times, own.get(None, []))
    for at_s, there, (_, now) in zip(times, there_at, all_events, strict=True):
        yield at_s, _changed(there, now) if now else there


def _events_at(
    times: Sequence[int], events: Sequence[ChangeOfCrew]
) -> Iterator[tuple[int, list[ChangeOfCrew]]]:
    """Each moment, and those at which an event begins or ends, with the events of then."""
    edges = {at_s for event in events for at_s in (event.at, event.until)}
    now: list[ChangeOfCrew] = []
    for at_s in sorted(edges.union(times)) if edges else times:
        if at_s in edges:
            now = [event for event in events if event.at <= at_s < event.until]
        yield at_s, now


def _on_duty(shift: CrewShift, start: datetime, closing_s: int) -> tuple[list[int], list[int]]:
    """Steps of whether a shift is on duty: 1, or 0."""
    clock_s, days = _day_offsets(start, closing_s)
    changes: dict[int, int] = {}
    for day in days:
        from_s = day * DAY_S + shift.start - clock_s
        for at_s, change in ((from_s, 1), (from_s + shift.length_s, -1)):
            changes[at_s] = changes.get(at_s, 0) + change
    level = sum(change for at_s, change in changes.items() if at_s <= 0)
    times, values = [0], [level]
    for at_s in sorted(at_s for at_s in changes if at_s > 0):
        level += changes[at_s]
        times.append(at_s)
        values.append(level)
    return times, values


def _changed(cleaners: int, events: Sequence[ChangeOfCrew]) -> int:
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
    changes: Sequence[ChangeOfCrew],
    start: datetime,
    closing_s: int,
) -> tuple[Whole, Whole]:
    """Central wipe-down: moments of the rounds, and when what a round collects comes back.

    A round while cleaners are absent does not take place. What is collected comes back with the
    first round at or after the turnaround; kits collected too late for that stay away.
    """
    # far enough behind the end of the play that what comes back then does not come back in it
    never_s = closing_s + cleaning.turnaround + 2 * DAY_S
    clock_s, days = _day_offsets(start, never_s)
    of_day_s = np.array(sorted(set(cleaning.rounds)), dtype=np.int64)
    times = (np.array(days, dtype=np.int64)[:, np.newaxis] * DAY_S + of_day_s - clock_s).ravel()
    times = times[times >= 0]
    for one in changes:
        if isinstance(one, CleanersAbsent):
            times = times[(times < one.at) | (times >= one.until)]
    place = times.searchsorted(times + cleaning.turnaround)
    return times, np.append(times, never_s)[place]
