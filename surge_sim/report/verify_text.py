"""The answer of a comparison of the engines on one screen."""

from __future__ import annotations

import textwrap
from collections import deque
from collections.abc import Iterator

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.engine.compare import Comparison, Parting
from surge_sim.engine.events import MEANINGS, Event, EventLog, events_of
from surge_sim.engine.verify import Verdict
from surge_sim.equipment.case import Case
from surge_sim.report.event_words import Sentence, sentences, words_of
from surge_sim.units import DAY_S, clock_text

#: sentences of the reference engine that are told before a difference
_SENTENCES = 8


def verify_text(verdict: Verdict) -> str:
    """Return what was compared and what came of it, in at most 80 columns."""
    stock, last = verdict.stock, verdict.surges[-1]
    lines = [
        f"Stock       {_counted(stock.kits, 'kit')}, "
        f"{_counted(stock.batteries, 'battery', 'batteries')}, "
        f"{_counted(stock.bays, 'charger bay')}",
        f"Compared    {_counted(len(verdict.surges), 'surge')} of seed {verdict.seed}, "
        f"{_counted(int(verdict.total('entries')), 'entry', 'entries')}",
        f"            {_counted(int(verdict.total('rows')), 'row')} (one for each need), "
        f"{_counted(int(verdict.total('values')), 'value')}",
        _times(verdict),
    ]
    if not last.differing:
        lines += [
            "Result      no difference: every value is the same in both engines",
            "            (two programs of one model; it does not test the scenario)",
        ]
    else:
        lines += _difference(verdict, last)
    return "\n".join([*lines, *textwrap.wrap(CAUTION_IN_SHORT, 80)])


def _counted(number: int, one: str, many: str = "") -> str:
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def _times(verdict: Verdict) -> str:
    slow, fast = verdict.total("reference_s"), verdict.total("compiled_s")
    text = f"Playing     reference engine {slow:.2f} s, compiled engine {fast:.3f} s"
    return text + (f" ({slow / fast:.0f} times as fast)" if fast > 0 else "")


def _difference(verdict: Verdict, comparison: Comparison) -> list[str]:
    names = ", ".join(comparison.differing[:5])
    more = len(comparison.differing) - 5
    lines = [
        f"Result      the engines differ in surge {len(verdict.surges) - 1}; that is an error of "
        "this program",
        "",
    ]
    case = verdict.case
    if comparison.parting is None:
        lines.append("First part  nowhere: all events are the same, but not what is made of them")
    else:
        lines += _wrapped(list(_parted(comparison.parting, case)))
    lines.append(f"In all      {names}" + (f" and {more} more" if more > 0 else ""))
    if comparison.parting is not None:
        lines += ["", "What the reference engine told until then"]
        lines += _wrapped([_told(one) for one in _before(comparison.parting, case)])
    return lines


def _parted(parting: Parting, case: Case) -> Iterator[str]:
    """Tell the first event that is not the same in both engines."""
    ours, theirs = (_event(log, parting.same) for log in (parting.reference, parting.compiled))
    first_s = min(event.second for event in (ours, theirs) if event is not None)
    yield f"First part  {_moment(first_s)}, after {_counted(parting.same, 'event')}"
    if ours is not None:
        for one in words_of(ours, case):
            yield f"  reference engine   {one.sort} {one.number} {one.said}"
    yield f"  reference engine   {_plain(ours)}"
    yield f"  compiled engine    {_plain(theirs)}"


def _event(log: EventLog, place: int) -> Event | None:
    return next(events_of(log[place : place + 1]), None)


def _plain(event: Event | None) -> str:
    """Say the numbers of an event, which may make no sense."""
    if event is None:
        return "no more events"
    things = {"entry": event.entry, "kit": event.kit, "battery": event.battery}
    said = [f"{name} {number}" for name, number in things.items() if number != -1]
    names = zip(MEANINGS[event.kind], event.values, strict=False)
    said += [f"{name} {value}" for name, value in names]
    return (
        f"{_moment(event.second)}: {event.kind.name.lower().replace('_', ' ')}, {', '.join(said)}"
    )


def _before(parting: Parting, case: Case) -> deque[Sentence]:
    """Return the last sentences before a difference that are about the same things."""
    there = [_event(log, parting.same) for log in (parting.reference, parting.compiled)]
    about = {
        (sort, getattr(event, sort))
        for event in there
        if event is not None
        for sort in ("entry", "kit", "battery")
    }
    anything = all(number < 0 for _, number in about)
    told = sentences(parting.reference[: parting.same], case)
    mine = (one for one in told if anything or (one.sort, one.number) in about)
    return deque(mine, _SENTENCES)


def _told(one: Sentence) -> str:
    return f"  {_moment(one.at_s):<18}  {one.sort} {one.number} {one.said}"


def _wrapped(lines: list[str]) -> list[str]:
    return [
        part
        for line in lines
        for part in textwrap.wrap(line, 80, subsequent_indent=" " * 22, break_on_hyphens=False)
    ]


def _moment(at_s: int) -> str:
    """Say a moment as the day of the surge, from 1, and the time since its beginning."""
    day, second = divmod(at_s, DAY_S)
    return f"day {day + 1}, {clock_text(second // 60 * 60)}:{second % 60:02d}"
