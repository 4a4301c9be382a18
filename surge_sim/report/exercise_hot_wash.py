"""The hot wash: what the choices came to, beside every other way, here and on other surges."""

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
from surge_sim.report.exercise_words import (
    decision_named,
    money,
    price_of,
    surge_words,
    way_named,
)
from surge_sim.report.rounding import NONE, interval_numbers, number, percent
from surge_sim.scenario.exercise import Choices
from surge_sim.units import duration_text

#: what the picture of a decision shows
LEGEND = (
    "Each dot is one other surge: how many entries fewer (left) or more (right) were late with the "
    "choice taken than with the other one. The bar below is their average with its 95 % interval. "
    "The diamond is the surge that you played."
)
#: how to read a hot wash
READING = (
    "What is computed allows nothing: a choice that the manufacturer's instructions, your "
    "respiratory protection program or local codes forbid is none, whatever it brings here.",
    "A way is named by the numbers of its choices, in order: 2-1-3 is choice 2, then 1, then 3.",
    "Late entries count visits that waited longer than the target or left the queue; visits that "
    "were bundled away are not counted at all, so look at the number of entries, too.",
    "The worth of a choice is its average over other surges. What is left of the difference on the "
    "played surge is random variation: it says nothing about the decision.",
    "Each average stands for the choice with all other choices as they were taken. Limits are for "
    "each number by itself.",
)
#: empty lines of a form
_LINES = 5


class Decision(NamedTuple):
    """One decision of a way: its name, what was chosen, a sentence and a picture."""

    name: str
    chosen: str
    sentence: str
    table: Table
    picture: str


def hot_wash(
    comparison: Comparison, choices: Choices, to_print: bool = False
) -> tuple[Document, dict[str, str]]:
    """Return the hot wash of one way, and its pictures by the names of their figures.

    Parameters
    ----------
    comparison : Comparison
        Every way on the played surge and on others.
    choices : Choices
        The way that was taken.
    to_print : bool
        With the pictures, and the form for the after-action report and the improvement plan.
    """
    exercise = comparison.exercise
    pictures: dict[str, str] = {}
    blocks: list[Block] = []
    for place, one in enumerate(decisions(comparison, choices)):
        file = f"decision {place + 1}"
        blocks += [Heading(one.name), Paragraph(one.sentence), one.table]
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
        Heading("Every way"),
        ways_table(comparison, choices),
        Sentences(READING),
        *(_form(comparison, choices) if to_print else ()),
        Remark("caution", CAUTION_IN_SHORT),
    )
    return told, pictures


def in_short(comparison: Comparison, choices: Choices) -> str:
    """Say what came of a way, here and on average."""
    hard = comparison.hardness(choices)
    average = _average(comparison, choices)
    return (
        f"With these choices {hard.late:,} of {hard.entries:,} entries were late on this surge. "
        f"Over {hard.others} other surges, with the same choices, {average} are late on average."
    )


def _average(comparison: Comparison, choices: Choices) -> str:
    """Write the late entries of a way over the others: ``76.6 (73.0 to 80.3)``."""
    middle, limits = interval_numbers(comparison.average_late(choices))
    return f"{middle} ({limits})" if limits else middle


def hardness_words(comparison: Comparison, choices: Choices) -> str:
    """Say how hard the surge was, beside others with the same choices."""
    hard = comparison.hardness(choices)
    share = percent(hard.late / hard.entries if hard.entries else 0.0)
    harder = hard.others - hard.easier - hard.alike
    alike = f", {hard.alike} alike" if hard.alike else ""
    return (
        f"{share} of the entries were late on this surge; with the same choices the middle of "
        f"{hard.others} others has {percent(hard.usual_share)}. {hard.easier} of them were "
        f"easier{alike} and {harder} harder."
    )


def decisions(comparison: Comparison, choices: Choices) -> Iterator[Decision]:
    """Yield each decision of a way beside the choices that were not taken."""
    exercise = comparison.exercise
    for place, (moment, chosen) in enumerate(zip(exercise.moments, choices, strict=True)):
        others = [one for one in range(len(moment.choices)) if one != chosen]
        rows = [
            Against(moment.choices[one].name, comparison.worth(choices, place, one))
            for one in others
        ]
        name = moment.choices[chosen].name
        yield Decision(
            decision_named(exercise, place),
            name,
            decision_sentence(name, rows),
            _worth_table(rows),
            decision_picture(rows),
        )


def decision_sentence(taken: str, rows: list[Against]) -> str:
    """Say what a choice was worth on average, what it came to here, and what was variation."""
    parts = [f"{_on_average(worth)} “{name}” (here {_here(worth)})" for name, worth in rows]
    variation = max(abs(worth.variation) for _, worth in rows)
    return (
        f"“{taken}” brought {' and '.join(parts)}; what differs from the average, up to "
        f"{variation:,.1f} entries, was random variation."
    )


def _on_average(worth: Worth) -> str:
    """Say an average difference: ``17.1 (15.5 to 18.9) fewer late entries on average than``."""
    estimate, low, high = worth.on_average
    if not estimate or (low is not None and high is not None and low <= 0.0 <= high):
        return "no clear difference on average from"
    limits = ""
    if low is not None and high is not None:
        limits = " ({:,.1f} to {:,.1f})".format(*sorted((abs(low), abs(high))))
    sort = "fewer" if estimate < 0 else "more"
    return f"{abs(estimate):,.1f}{limits} {sort} late entries on average than"


def _here(worth: Worth) -> str:
    if not worth.here:
        return "as many"
    return f"{abs(worth.here):,} {'fewer' if worth.here < 0 else 'more'}"


def _signed(value: float, digits: int = 1) -> str:
    shown = round(value, digits)
    return f"{shown:+,.{digits}f}".replace("-", "−") if shown else "0"


def _worth_table(rows: list[Against]) -> Table:
    columns = (
        Column("Late entries, instead of", align="left"),
        Column("here"),
        Column("on average"),
        Column("95 % interval"),
        Column("random variation"),
    )
    return Table(columns, tuple(_worth_row(*row) for row in rows))


def _worth_row(name: str, worth: Worth) -> tuple[str, ...]:
    estimate, low, high = worth.on_average
    return (
        name,
        _signed(worth.here, 0),
        _signed(estimate or 0.0),
        NONE if low is None or high is None else f"{_signed(low)} to {_signed(high)}",
        _signed(worth.variation),
    )


def ways_table(comparison: Comparison, choices: Choices | None) -> Table:
    """Return what came of every way, in the order of the choices; one that was taken is marked."""
    exercise = comparison.exercise
    priced = any(one.price for moment in exercise.moments for one in moment.choices)
    columns = (
        Column("Way", align="left"),
        Column("entries here"),
        Column("late here"),
        Column("unserved here"),
        Column("urgent late here"),
        Column("late on average"),
        *((Column("price"),) if priced else ()),
    )
    rows = []
    for place, way in enumerate(exercise.paths):
        here = comparison.here[place]
        taken = " (taken)" if way == choices else ""
        rows.append(
            (
                f"{way_named(way) or 'no decision'}{taken}",
                f"{column(here, 'entries'):,}",
                f"{column(here, 'late'):,}",
                f"{column(here, 'unserved'):,}",
                f"{column(here, 'urgent_late'):,}",
                _average(comparison, way),
                *((number(price_of(exercise, way)),) if priced else ()),
            )
        )
    return Table(columns, tuple(rows))


def _form(comparison: Comparison, choices: Choices) -> Iterator[Block]:
    """Yield the form for the after-action report and the improvement plan."""
    exercise = comparison.exercise
    cost = price_of(exercise, choices)
    empty = tuple(("", "", "", "") for _ in range(_LINES))
    yield Heading("After-action report")
    yield Rows(
        (
            ("Exercise", exercise.file.title),
            ("Length", f"{duration_text(exercise.file.length)} of a simulated surge"),
            ("Way taken", way_named(choices) or "no decision"),
            ("Cost of it", money(exercise, cost) if cost else "none"),
            ("Date", ""),
            ("Facilitator", ""),
            ("Players", ""),
        )
    )
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
