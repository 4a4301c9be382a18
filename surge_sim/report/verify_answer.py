"""The answer of a comparison of the engines."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.engine.log import MEANINGS, Event, EventLog, events_of
from surge_sim.engine.verify import Comparison, Parting, Verdict
from surge_sim.equipment.situation import Situation
from surge_sim.report.document import Answer, Block, Document, Heading, Remark, Rows, document
from surge_sim.report.event_words import Sentence, sentences, words_of
from surge_sim.report.phrases import stock_in_words
from surge_sim.report.rounding import counted, number
from surge_sim.units import DAY_S, clock_text

#: sentences of the reference engine that are told before a difference
_SENTENCES = 8


def verify_answer(verdict: Verdict) -> Document:
    """Return what was compared and what came of it."""
    last = verdict.surges[-1]
    surges = counted(len(verdict.surges), "simulated surge")
    if not last.differing:
        answer = f"Both engines give the same result: every value of {surges} is equal."
        found: Iterator[Block] = iter(())
    else:
        answer = (
            f"The engines differ in simulated surge {len(verdict.surges) - 1}. This is an error of "
            "the program: please report it."
        )
        found = _difference(verdict, last)
    return document(
        Heading(f"Comparison of the engines on {verdict.name}", 1),
        Answer(answer),
        Rows(
            (
                ("Stock", stock_in_words(verdict.stock)),
                ("Compared", _compared(verdict)),
                ("Time", _times(verdict)),
                (
                    "Confidence",
                    "two programs of one model; this tests neither the model nor the file",
                ),
            )
        ),
        *found,
        Remark("caution", CAUTION_IN_SHORT),
    )


def _compared(verdict: Verdict) -> str:
    said = [
        counted(int(verdict.total(what)), one, many)
        for what, one, many in (
            ("entries", "entry", "entries"), ("rows", "request", ""), ("values", "value", ""),
        )
    ]  # fmt: skip
    return f"seed {verdict.seed}: {', '.join(said)}"


def _times(verdict: Verdict) -> str:
    slow, fast = verdict.total("reference_s"), verdict.total("compiled_s")
    return f"reference engine {number(slow)} s, compiled engine {number(fast)} s"


def _difference(verdict: Verdict, comparison: Comparison) -> Iterator[Block]:
    """Yield the first event where the engines part, and what led to it."""
    names = ", ".join(comparison.differing[:5])
    more = len(comparison.differing) - 5
    differs = ("All that differs", names + (f" and {more} more" if more > 0 else ""))
    parting, situation = comparison.parting, verdict.situation
    yield Heading("First difference")
    if parting is None:
        same = "nowhere: all events are the same, but not what is made of them"
        yield Rows((("Where", same), differs))
        return
    yield Rows((*_parted(parting, situation), differs))
    yield Heading("Events in the reference engine until then")
    yield Rows(
        tuple(
            (_moment(one.at_s), f"{one.sort} {one.number} {one.said}")
            for one in _before(parting, situation)
        )
    )


def _parted(parting: Parting, situation: Situation) -> Iterator[tuple[str, str]]:
    """Tell the first event that is not the same in both engines."""
    ours, theirs = (_event(log, parting.same) for log in (parting.reference, parting.compiled))
    first_s = min(event.second for event in (ours, theirs) if event is not None)
    yield "Where", f"{_moment(first_s)}, after {counted(parting.same, 'event')}"
    if ours is not None:
        for one in words_of(ours, situation):
            yield "Reference engine", f"{one.sort} {one.number} {one.said}"
    yield "Reference engine", _plain(ours)
    yield "Compiled engine", _plain(theirs)


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


def _before(parting: Parting, situation: Situation) -> deque[Sentence]:
    """Return the last sentences before a difference that are about the same things."""
    there = [_event(log, parting.same) for log in (parting.reference, parting.compiled)]
    about = {
        (sort, getattr(event, sort))
        for event in there
        if event is not None
        for sort in ("entry", "kit", "battery")
    }
    anything = all(number < 0 for _, number in about)
    told = sentences(parting.reference[: parting.same], situation)
    mine = (one for one in told if anything or (one.sort, one.number) in about)
    return deque(mine, _SENTENCES)


def _moment(at_s: int) -> str:
    """Say a moment as the day of the surge, from 1, and the time since its beginning."""
    day, second = divmod(at_s, DAY_S)
    return f"day {day + 1}, {clock_text(second // 60 * 60)}:{second % 60:02d}"
