"""The hot wash: what the choices came to, beside every other path, here and on other surges."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.drill.compare import Comparison, Worth, column
from surge_sim.report.document import (
    Answer,
    Block,
    Column,
    Document,
    Figure,
    Heading,
    Paragraph,
    Remark,
    Rows,
    Sentences,
    Table,
    document,
)
from surge_sim.report.exercise_picture import Against, decision_picture
from surge_sim.report.exercise_rules import permission_words
from surge_sim.report.exercise_words import (
    decision_named,
    money,
    path_named,
    price_of,
    surge_words,
    when,
)
from surge_sim.report.rounding import NONE, interval_numbers, number, percent
from surge_sim.scenario.exercise import Choices, Exercise
from surge_sim.statistics.intervals import Interval
from surge_sim.units import duration_text

#: what the picture of a decision shows
LEGEND = (
    "Each dot is one other surge: how many entries fewer (left) or more (right) were late with the "
    "choice taken than with the other one. The bar below is their average with its 95 % interval. "
    "The diamond is the surge that you played."
)
#: how to read a hot wash
READING = (
    "A result permits nothing. What the manufacturer's instructions, your respiratory protection "
    "program or local codes forbid stays forbidden, whatever it brings here. Every kit passes its "
    "pre-use check, flow check included, before every entry, whatever is decided.",
    "A path is named by the numbers of its choices, in order: 2-1-3 is choice 2, then 1, then 3.",
    "Late entries count visits that waited longer than the target or left the queue; visits that "
    "were bundled away are not counted at all, so look at the number of entries, too.",
    "The worth of a choice is its average over other surges. What is left of the difference on the "
    "played surge is random variation: it says nothing about the decision.",
    "Each average stands for the choice with all other choices as they were taken. Limits are for "
    "each number by itself.",
)
REPORT = Heading("After-action report")
#: empty lines of a form
_LINES = 5


class Decision(NamedTuple):
    """One decision of a path: its name, what was chosen, a sentence and a picture."""

    name: str
    chosen: str
    sentence: str
    #: of the choices of which some need one
    permissions: tuple[str, ...]
    table: Table
    picture: str


def hot_wash(
    comparison: Comparison, choices: Choices, to_print: bool = False
) -> tuple[Document, dict[str, str]]:
    """Return the hot wash of one path, and its pictures by the names of their figures.

    Parameters
    ----------
    comparison : Comparison
        Every path on the played surge and on others.
    choices : Choices
        The path that was taken.
    to_print : bool
        With the pictures, and the form for the after-action report and the improvement plan.
    """
    exercise = comparison.exercise
    pictures: dict[str, str] = {}
    blocks: list[Block] = []
    for place, one in enumerate(decisions(comparison, choices)):
        file = f"decision {place + 1}"
        blocks += [Heading(one.name), Paragraph(one.sentence)]
        blocks += [*map(Paragraph, one.permissions), one.table]
        if to_print:
            pictures[file] = one.picture
            blocks.append(Figure(file, LEGEND))
    told = document(
        Heading(f"Hot wash: {exercise.file.title}", 1),
        Answer(in_short(comparison, choices)),
        Rows((("Played", surge_words(exercise, comparison.number)),)),
        Heading("How hard this surge was"),
        Paragraph(hardness_words(comparison, choices)),
        *blocks,
        Heading("Every path"),
        paths_table(comparison, choices),
        Sentences(READING),
        *((REPORT, report_facts(exercise, choices), *report_form(exercise)) if to_print else ()),
        Remark("caution", CAUTION_IN_SHORT),
    )
    return told, pictures


def in_short(comparison: Comparison, choices: Choices) -> str:
    """Say what came of a path, here and on average."""
    hard = comparison.hardness(choices)
    average = _average(comparison, choices)
    return (
        f"With these choices {hard.late:,} of {hard.entries:,} entries were late on this surge. "
        f"Over {hard.others} other surges, with the same choices, {average} are late on average."
    )


def _average(comparison: Comparison, choices: Choices) -> str:
    """Write the late entries of a path over the others: ``76.6 (73.0 to 80.3)``."""
    middle, limits = interval_numbers(comparison.average_late(choices))
    return f"{middle} ({limits})" if limits else middle


def hardness_words(comparison: Comparison, choices: Choices) -> str:
    """Say how hard the surge was, beside others with the same choices."""
    hard = comparison.hardness(choices)
    share = percent(hard.late / hard.entries if hard.entries else 0.0)
    harder = hard.others - hard.easier - hard.alike
    alike = f", {hard.alike} alike" if hard.alike else ""
    return (
        f"{share} of the entries were late on this surge; with the same choices the median of "
        f"{hard.others} others is {percent(hard.usual_share)}. {hard.easier} of them were "
        f"easier{alike} and {harder} harder."
    )


def decisions(comparison: Comparison, choices: Choices) -> Iterator[Decision]:
    """Yield each decision of a path beside the choices that were not taken."""
    exercise = comparison.exercise
    for place, (moment, chosen) in enumerate(zip(exercise.moments, choices, strict=True)):
        others = [one for one in range(len(moment.choices)) if one != chosen]
        rows, urgent = (
            [
                Against(moment.choices[one].name, comparison.worth(choices, place, one, of))
                for one in others
            ]
            for of in ("late", "urgent_late")
        )
        name = moment.choices[chosen].name
        yield Decision(
            decision_named(exercise, place),
            name,
            decision_sentence(name, rows),
            permission_words(moment.choices),
            _worth_table(rows, urgent),
            decision_picture(rows),
        )


def decision_sentence(taken: str, rows: list[Against]) -> str:
    """Say what a choice was worth on average, what it came to here, and what was variation."""
    parts = [f"{_on_average(worth)} “{name}” (here {_here(worth)})" for name, worth in rows]
    variation = max((_variation(worth) for _, worth in rows), key=_size)
    return (
        f"“{taken}” brought {' and '.join(parts)}; what differs from the average, up to "
        f"{variation.removeprefix('-')} entries, was random variation."
    )


def _on_average(worth: Worth) -> str:
    """Say an average difference: ``17.1 (15.5 to 18.9) fewer late entries on average than``."""
    estimate, low, high = worth.on_average
    if not estimate or (low is not None and high is not None and low <= 0.0 <= high):
        return "no clear difference on average from"
    fewer = estimate < 0
    size = Interval(-estimate, _minus(high), _minus(low)) if fewer else worth.on_average
    middle, limits = interval_numbers(size)
    said = f"{middle} ({limits})" if limits else middle
    return f"{said} {'fewer' if fewer else 'more'} late entries on average than"


def _variation(worth: Worth) -> str:
    """Write what was random variation, with the decimals of the average."""
    middle, _ = interval_numbers(worth.on_average)
    digits = len(middle.partition(".")[2])
    shown = f"{worth.variation:,.{digits}f}"
    return shown if _size(shown) else "0"


def _size(shown: str) -> float:
    return abs(float(shown.replace(",", "")))


def _minus(limit: float | None) -> float | None:
    return None if limit is None else -limit


def _here(worth: Worth) -> str:
    if not worth.here:
        return "as many"
    return f"{abs(worth.here):,} {'fewer' if worth.here < 0 else 'more'}"


def _signed(shown: str) -> str:
    """Write a number with its sign: ``+1.24``, ``−12.4``, ``0``."""
    return shown if shown == "0" else f"+{shown}".replace("+-", "−")


def _worth_table(rows: list[Against], urgent: list[Against]) -> Table:
    """Return what a choice is worth: all late entries, and the urgent ones where any differ."""
    columns = (
        Column("Late entries, instead of", align="left"),
        Column("here"),
        Column("on average"),
        Column("95 % interval"),
        Column("random variation"),
    )
    lines = []
    for (name, worth), (_, of_urgent) in zip(rows, urgent, strict=True):
        lines.append(_worth_row(name, worth))
        if of_urgent.here or of_urgent.differences.any():
            lines.append(_worth_row("- of these urgent", of_urgent))
    return Table(columns, tuple(lines))


def _worth_row(name: str, worth: Worth) -> tuple[str, ...]:
    middle, limits = interval_numbers(worth.on_average)
    return (
        name,
        _signed(f"{worth.here:,}"),
        _signed(middle),
        " to ".join(map(_signed, limits.split(" to "))) if limits else NONE,
        _signed(_variation(worth)),
    )


def paths_table(comparison: Comparison, choices: Choices | None) -> Table:
    """Return what came of every path, in the order of the choices; one that was taken is marked."""
    exercise = comparison.exercise
    priced = any(one.price for moment in exercise.moments for one in moment.choices)
    columns = (
        Column("Path", align="left"),
        Column("entries here"),
        Column("late here"),
        Column("unserved here"),
        Column("urgent late here"),
        Column("late on average"),
        *((Column("price"),) if priced else ()),
    )
    rows = []
    for place, path in enumerate(exercise.paths):
        here = comparison.here[place]
        taken = " (taken)" if path == choices else ""
        rows.append(
            (
                f"{path_named(path) or 'no decision'}{taken}",
                f"{column(here, 'entries'):,}",
                f"{column(here, 'late'):,}",
                f"{column(here, 'unserved'):,}",
                f"{column(here, 'urgent_late'):,}",
                _average(comparison, path),
                *((number(price_of(exercise, path)),) if priced else ()),
            )
        )
    return Table(columns, tuple(rows))


def report_facts(exercise: Exercise, choices: Choices) -> Rows:
    """Return what an after-action report says first; what is empty is written in."""
    cost = price_of(exercise, choices)
    chosen = zip(exercise.moments, choices, strict=True)
    return Rows(
        (
            ("Exercise", exercise.file.title),
            ("Length", f"{duration_text(exercise.file.length)} of a simulated surge"),
            ("Path taken", path_named(choices) or "no decision"),
            *(("", f"{when(exercise, one.at)}: {one.choices[made].name}") for one, made in chosen),
            ("Price", money(exercise, cost) if cost else "none"),
            ("Date", ""),
            ("Facilitator", ""),
            ("Players", ""),
        )
    )


def report_form(exercise: Exercise) -> Iterator[Heading | Table | Paragraph]:
    """Yield the form for the after-action report and the improvement plan, below its facts."""
    empty = tuple(("", "", "", "") for _ in range(_LINES))
    yield Table(
        (Column("Objective", align="left"), Column("What was observed", align="left")),
        tuple((one, "") for one in exercise.file.objectives),
    )
    yield Table((Column("Strengths", align="left"),), (("",),) * _LINES)
    yield Table((Column("Areas to improve", align="left"),), (("",),) * _LINES)
    yield Heading("Improvement plan")
    heads = ("Area to improve", "What will be done", "Owner", "By (date)")
    yield Table(tuple(Column(head, align="left") for head in heads), empty)
    yield Paragraph(
        "This form is about equipment, rules and hand-overs. It is no record of how well anybody "
        "did."
    )
