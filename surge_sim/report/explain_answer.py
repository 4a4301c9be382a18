"""The story of one entry, kit or battery, with how it ended first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.engine.log import ALARM_WORDS, Alarm, Kind, Outcome, events_of
from surge_sim.engine.story import Story
from surge_sim.equipment.causes import FIRST_CAUSE
from surge_sim.report.document import (
    Answer,
    Block,
    Document,
    Heading,
    Paragraph,
    Remark,
    Rows,
    document,
)
from surge_sim.report.event_words import Sentence, sentences
from surge_sim.report.phrases import change_named, stock_in_words
from surge_sim.report.rounding import about, counted, date_of_day
from surge_sim.scenario.timeline import Change
from surge_sim.statistics.target import as_judged
from surge_sim.units import DAY_S, duration_text, share_text

#: requests of one entry that are told one by one in its outcome
_MOST_REQUESTS = 3
#: what a request waits for, in the order of `FIRST_CAUSE`
_KINDS = ("kit", "hood", "tube", "battery")


def explain_answer(story: Story, day: int | None = None, most: int | None = None) -> Document:
    """Return the story with its outcome first.

    Parameters
    ----------
    story : Story
        From ``tell_story``.
    day : int, optional
        Only what happened on this day of the surge, from 1.
    most : int, optional
        Only so many sentences, from the beginning; what is left out is said.
    """
    settings = story.settings
    log = as_judged(story.situation, story.log, settings.target, "reference")
    story = replace(story, log=log)
    shown, left_out = _shown(told(story), settings.start, day, most)
    return document(
        Heading(settings.title, 1),
        Answer(_outcome(story)),
        Rows(tuple(_rows(story))),
        *(_by_day(story, shown) if shown else [Paragraph("Nothing is told of it in that time.")]),
        Remark("note", left_out),
        Remark("caution", CAUTION_IN_SHORT),
    )


def told(story: Story) -> list[Sentence]:
    """Tell what happened to the thing, and to the whole unit meanwhile, in order of time."""
    assert story.log.events is not None
    own = [
        one
        for one in sentences(story.log.events, story.situation)
        if (one.sort, one.number) == (story.sort, story.number)
    ]
    # nothing of the unit before or after an entry's own story
    first_s, last_s = 0, story.trace.closing_s
    if story.sort == "entry" and own:
        first_s, last_s = own[0].at_s, own[-1].at_s
        own += _entering(story)
    changes = _of_unit(story.situation.timeline.changes)
    unit = [one for one in changes if first_s <= one.at_s <= last_s]
    return sorted([*unit, *own], key=lambda one: one.at_s)


def _entering(story: Story) -> Iterator[Sentence]:
    """Tell when the wearer enters the room, unless an alarm comes before."""
    assert story.log.events is not None
    entry, enters_s = story.number, -1
    mine = story.log.events[story.log.events[:, 2] == entry]
    for event in events_of(mine):
        if event.kind == Kind.PUTS_ON:
            enters_s = event.second + int(story.trace.don_s[entry])
        elif event.kind == Kind.TAKES_OFF and (
            not event.value("alarm") or event.value("rest_s") < event.value("room_s")
        ):
            yield Sentence(enters_s, "entry", entry, "enters the room")


def _of_unit(changes: Sequence[Change]) -> Iterator[Sentence]:
    """Tell when each change begins and ends."""
    for event in changes:
        yield Sentence(event.at, "unit", 0, f"{change_named(event)}: begins")
        if event.lasts is not None:
            yield Sentence(event.until, "unit", 0, f"{change_named(event)}: ends")


def _shown(
    sentences: Sequence[Sentence], start: datetime, day: int | None, most: int | None
) -> tuple[Sequence[Sentence], str]:
    """Cut the story to a day and a number of sentences, and say what is left out."""
    chosen = [one for one in sentences if day is None or _day(one) == day]
    kept = chosen if most is None else chosen[:most]
    if len(kept) == len(sentences):
        return kept, ""
    # by their places: several sentences may be of one second
    earlier = 0 if day is None else sum(_day(one) < day for one in sentences)
    later = len(sentences) - earlier - len(kept)
    words = f"Shown are {len(kept):,} of {len(sentences):,} sentences"
    if earlier:
        words += f"; {_come(earlier)} earlier, the last on {_dated(start, sentences[earlier - 1])}"
    if later:
        following = sentences[earlier + len(kept)]
        words += f"; {_come(later)} later, the next on {_dated(start, following)}"
    hints = []
    if len(kept) < len(chosen):
        hints.append("--lines N shows more lines")
    if len(chosen) < len(sentences):
        hints.append("--day N shows another day")
    elif _day(sentences[-1]) > _day(sentences[0]):
        hints.append("--day N shows one day")
    return kept, f"{words}. {', '.join(hints)}."


def _day(sentence: Sentence) -> int:
    """Day of the surge, from 1."""
    return sentence.at_s // DAY_S + 1


def _dated(start: datetime, sentence: Sentence) -> str:
    """Say the day of a sentence, and the date on which that day begins."""
    return f"day {_day(sentence)} ({date_of_day(start, _day(sentence))})"


def _come(count: int) -> str:
    return f"{count:,} come{'s' if count == 1 else ''}"


def _rows(story: Story) -> Iterator[tuple[str, str]]:
    trace = story.trace
    if story.sort == "entry":
        yield "Entry", _who(story)
    start = trace.start
    yield (
        "Simulated surge",
        f"{trace.surge} of seed {trace.seed}, from {start:%A %Y-%m-%d %H:%M}; surges, entries, "
        "kits and batteries are numbered from 0",
    )
    yield "Stock", stock_in_words(story.stock)


def _outcome(story: Story) -> str:
    words = {"entry": _entry_words, "kit": _kit_words, "battery": _battery_words}[story.sort]
    return f"{story.sort.capitalize()} {story.number}{words(story)}"


def _who(story: Story) -> str:
    trace, entry = story.trace, story.number
    role = trace.role_names[trace.role[entry]] if trace.role_names else "entry"
    klass = int(trace.patient_class[entry])
    patient = f", patient {trace.patient[entry]}" if trace.patient[entry] >= 0 else ""
    of_class = f" of class {trace.class_names[klass]}" if klass >= 0 else ""
    urgent = ", urgent" if trace.urgent[entry] else ""
    room = duration_text(int(trace.room_s[entry]))
    return f"{role}{patient}{of_class}{urgent}, {room} planned in room"


def _entry_words(story: Story) -> str:
    log, entry = story.log, story.number
    longest = f" (longest wait in simulated surge {story.trace.surge})"
    longest = longest if story.waited_longest else ""
    if story.waited_longest and not log.wait_s.any():
        longest = " (nobody waited)"
    rows = np.flatnonzero(log.entry == entry)
    if len(rows) > _MOST_REQUESTS:
        return f"{longest} {_many_requests_words(story, rows)}."
    requests = "; then it ".join(_request_words(story, int(row)) for row in rows)
    return f"{longest} {requests}."


def _many_requests_words(story: Story, rows: np.ndarray) -> str:
    """Sum up an entry of many requests: alarms and postponements make more of them."""
    log = story.log
    ends = [
        f"{words} {counted(count, 'time')}"
        for outcome, words in (
            (Outcome.SERVED, "served"),
            (Outcome.RENEGED, "unserved after its maximum wait"),
            (Outcome.WAITING_AT_END, "unserved at the end"),
        )
        if (count := int((log.outcome[rows] == outcome).sum()))
    ]
    waited = duration_text(int(log.wait_s[rows].sum()))
    return f"had {len(rows)} requests and waited {waited} in all: {', '.join(ends)}"


def _request_words(story: Story, row: int) -> str:
    """How one request of an entry ended, against the target."""
    log, target = story.log, story.settings.target
    urgent = bool(story.trace.urgent[story.number]) and target.urgent is not None
    limit_s = target.urgent.wait if urgent and target.urgent is not None else target.wait
    wait_s = int(log.wait_s[row])
    waited = "did not wait"
    if wait_s:
        waited = f"waited {duration_text(wait_s)}{_for_what(log.waited_s[row])}"
    outcome = int(log.outcome[row])
    if outcome == Outcome.RENEGED:
        return f"{waited}, its maximum wait, and left the queue, no kit taken: late"
    if outcome == Outcome.WAITING_AT_END:
        return f"{waited} and was not served by the end: late"
    judged_s = wait_s if log.delay_s is None else int(log.delay_s[row])
    judged = "in time" if judged_s <= limit_s else "late"
    if judged_s != wait_s:
        later = f"{duration_text(judged_s)} later" if judged_s else "no later"
        judged += f", served {later} than with ample stock"
    said = f"{waited} (target {duration_text(limit_s)}: {judged}) and took kit "
    said += f"{log.blower[row]} with battery {log.battery[row]}"
    due_s = int(story.trace.due_s[story.number])
    # a later request of an entry follows an alarm or a postponement, not a busy wearer
    if not log.part[row] and log.need_s[row] > due_s:
        said += f", {about(int(log.need_s[row]) + wait_s - due_s)} after it was due"
    if log.failed_checks[row]:
        said += f" after {counted(int(log.failed_checks[row]), 'kit')} failed the check"
    if log.alarm[row]:
        said += f", alarm: {ALARM_WORDS[Alarm(int(log.alarm[row]))]}"
    return said


def _for_what(waited_s: np.ndarray) -> str:
    """Say for what a request waited in line, where that was one kind of thing."""
    ends = pairwise(FIRST_CAUSE)
    kinds = [name for name, (first, end) in zip(_KINDS, ends, strict=True)
             if waited_s[first:end].any()]  # fmt: skip
    return f" for a {kinds[0]}" if len(kinds) == 1 else ""


def _kit_words(story: Story) -> str:
    log = story.log
    return _use_words(story, log.blower == story.number)


def _battery_words(story: Story) -> str:
    log = story.log
    healths = story.settings.batteries.state_of_health
    health = share_text(round(healths[story.number % len(healths)], 4))
    has_age = story.settings.batteries.age is not None
    known = "" if has_age else f" (state of health {health})"
    return known + _use_words(story, log.battery == story.number)


def _use_words(story: Story, mine: np.ndarray) -> str:
    log = story.log
    run_s = int(log.worn_s[mine].sum())
    alarms = [
        f"{counted(count, 'alarm')} ({words})"
        for alarm, words in ALARM_WORDS.items()
        if (count := int((log.alarm[mine] == alarm).sum()))
    ]
    said = f" had {counted(int(mine.sum()), 'use')}, {run_s / 3_600:.1f} h of running, "
    return said + (", ".join(alarms) or "no alarm") + "."


def _by_day(story: Story, shown: Sequence[Sentence]) -> Iterator[Block]:
    """Yield the sentences day by day, each with its time."""
    start = story.settings.start
    for day in dict.fromkeys(map(_day, shown)):
        yield Heading(f"Day {day}, from {start + timedelta(days=day - 1):%A %Y-%m-%d %H:%M}")
        yield Rows(
            tuple(
                (
                    f"{start + timedelta(seconds=one.at_s):%H:%M:%S}",
                    f"The unit: {one.said}" if one.sort == "unit" else one.said,
                )
                for one in shown
                if _day(one) == day
            )
        )
