"""The hot wash: what the choices came to, beside every other path, here and on other surges."""

from __future__ import annotations

from collections.abc import Collection, Iterator
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
from surge_sim.report.exercise_choices import price_of
from surge_sim.report.exercise_form import REPORT, report_facts, report_form
from surge_sim.report.exercise_picture import Against, decision_picture
from surge_sim.report.exercise_rules import permission_words
from surge_sim.report.exercise_words import OUTSIDE, decision_named, path_named, surge_words
from surge_sim.report.rounding import NONE, about, interval_numbers, number, percent
from surge_sim.scenario.exercise import Choices
from surge_sim.statistics.intervals import Interval
from surge_sim.units import share_text

#: what the picture of a decision shows
LEGEND = (
    "Each dot is one other surge: how many entries fewer (left) or more (right) were late with the "
    "choice taken than with the other one. The bar below is their average with its 95 % interval. "
    "The diamond is the surge that you played."
)
#: first of all
PERMITS_NOTHING = (
    "A result permits nothing. What the manufacturer's instructions, your respiratory protection "
    "program or local codes forbid stays forbidden, whatever it brings here. Every kit passes its "
    "pre-use check, flow check included, before every entry, whatever is decided."
)
#: how to read a hot wash
READING = (
    "A path is named by the numbers of its choices, in order: 2-1-3 is choice 2, then 1, then 3.",
    "Late entries count visits that waited longer than the target or left the queue; visits that "
    "were bundled away are not counted at all, so look at the number of entries, too.",
    f"Left the queue: also counted as late. {OUTSIDE}. Busy wearers: from the moment when an entry "
    "was due until its wearer was free, added up; it is no wait for a kit and no entry is late by "
    "it alone. A wearer who waits for a kit is busy, too.",
    "In the stretches between decisions somebody who waits across a decision is counted where they "
    "came, as far as it was known then; so stretches can add up to a few late entries less than "
    "the whole.",
    "The worth of a choice is its average over other surges. What is left of the difference on the "
    "played surge is random variation of this surge, not your decision.",
    "Each average stands for the choice with all other choices as they were taken. Limits are for "
    "each number by itself.",
)


class Decision(NamedTuple):
    """One decision of a path: its name, what was chosen, a sentence and a picture.

    Without other choices to compare with, the table and the picture are empty.
    """

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
        blocks += [Heading(one.name), *(Remark("caution", said) for said in one.permissions)]
        blocks += [Paragraph(one.sentence), one.table]
        if to_print:
            pictures[file] = one.picture
            blocks.append(Figure(file, LEGEND))
    told = document(
        Heading(f"Hot wash: {exercise.file.title}", 1),
        Remark("caution", PERMITS_NOTHING),
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
    target = comparison.exercise.scenario.settings.target
    share = (hard.entries - hard.late) / hard.entries if hard.entries else 1.0
    asked = "at least" if share >= target.service_level else "less than"
    return (
        f"With these choices {hard.late:,} of {hard.entries:,} entries were late on this surge: "
        f"{percent(share)} were in time, {asked} the {share_text(target.service_level)} that the "
        f"target asks for. Over {hard.others} other surges, with the same choices, "
        f"{_average(comparison, choices)} are late on average."
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
    average = comparison.average_late(choices).estimate or 0.0
    lifted = (
        " A few very hard surges lift the average above the median; so a surge can have fewer late "
        "entries than the average and still be harder than most."
        if hard.late < average and hard.easier > harder
        else ""
    )
    return (
        f"{share} of the entries were late on this surge; with the same choices the median of "
        f"{hard.others} others is {percent(hard.usual_share)}. {hard.easier} of them were "
        f"easier{alike} and {harder} harder.{lifted}"
    )


def decisions(comparison: Comparison, choices: Choices) -> Iterator[Decision]:
    """Yield each decision of a path beside the choices that were not taken."""
    for place in range(len(choices)):
        yield decision(comparison, choices, place)


def decision(
    comparison: Comparison, choices: Choices, place: int, struck: Collection[int] = ()
) -> Decision:
    """Return one decision of a path beside the choices that were not taken.

    Parameters
    ----------
    comparison : Comparison
        Every path on the played surge and on others.
    choices : Choices
        The path that was taken.
    place : int
        Which decision.
    struck : collection of int
        Choices that the group's own rules forbid: nothing is said of them.
    """
    exercise = comparison.exercise
    moment, chosen = exercise.moments[place], choices[place]
    left = [one for one in range(len(moment.choices)) if one not in struck]
    others = [one for one in left if one != chosen]
    rows, urgent = (
        [
            Against(moment.choices[one].name, comparison.worth(choices, place, one, of))
            for one in others
        ]
        for of in ("late", "urgent_late")
    )
    name = moment.choices[chosen].name
    return Decision(
        decision_named(exercise, place),
        name,
        decision_sentence(name, rows) if rows else f"All but “{name}” were struck out.",
        permission_words([moment.choices[one] for one in left]),
        _worth_table(rows, urgent),
        decision_picture(rows) if rows else "",
    )


def decision_sentence(taken: str, rows: list[Against]) -> str:
    """Say what a choice was worth on average, what it came to here, and what was variation."""
    parts = [f"{_on_average(worth)} “{name}” (here {_here(worth)})" for name, worth in rows]
    variation = max((_variation(worth) for _, worth in rows), key=_size)
    return (
        f"“{taken}” brought {' and '.join(parts)}. What differs from the average, up to "
        f"{variation.removeprefix('-')} entries, is random variation of this surge, not your "
        "decision."
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


def _fewer(shown: str) -> str:
    """Write a difference in words: ``22 fewer``, ``3 more``, ``as many``."""
    if shown == "0":
        return "as many"
    return f"{shown[1:]} fewer" if shown.startswith("-") else f"{shown} more"


def _worth_table(rows: list[Against], urgent: list[Against]) -> Table:
    """Return what a choice is worth: all late entries, and the urgent ones where any differ."""
    columns = (
        Column("Late entries", align="left"),
        Column("here"),
        Column("on average"),
        Column("95 % interval (−: fewer)"),
        Column("random variation"),
    )
    lines = []
    for (name, worth), (_, of_urgent) in zip(rows, urgent, strict=True):
        lines.append(_worth_row(f"than with “{name}”", worth))
        if of_urgent.here or of_urgent.differences.any():
            lines.append(_worth_row("- of these urgent", of_urgent))
    return Table(columns, tuple(lines))


def _worth_row(name: str, worth: Worth) -> tuple[str, ...]:
    middle, limits = interval_numbers(worth.on_average)
    return (
        name,
        _fewer(f"{worth.here:,}"),
        _fewer(middle),
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
        Column("of these: left the queue"),
        Column("urgent late here"),
        Column("busy wearers here"),
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
                about(int(column(here, "delayed_s")), longest="h"),
                _average(comparison, path),
                *((number(price_of(exercise, path)),) if priced else ()),
            )
        )
    return Table(columns, tuple(rows))
