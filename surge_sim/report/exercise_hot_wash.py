"""The hot wash: what the choices came to, beside every other path, here and on other surges."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from itertools import zip_longest

import numpy as np

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.drill.compare import Comparison, column
from surge_sim.drill.tree import Tree
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
from surge_sim.report.exercise_picture import decision_picture
from surge_sim.report.exercise_words import (
    BOARD,
    MARK,
    MARKED,
    OUTSIDE,
    PARTS,
    path_marked,
    surge_words,
    when,
)
from surge_sim.report.exercise_worth import decision
from surge_sim.report.rounding import interval_numbers, listed, number, percent
from surge_sim.scenario.exercise import Choices
from surge_sim.units import HOUR_S, share_text

#: what the picture of a decision shows
LEGEND = (
    "Each dot is one other surge: how many entries fewer (left) or more (right) were late with the "
    "choice taken than with the other one. The bar below is their average with its 95 % interval. "
    "The diamond is the surge that you played."
)
#: above the table of all paths
EVERY_PATH = "Every path: what came of it on this surge, and late entries on average"
#: first of all
PERMITS_NOTHING = (
    "A result permits nothing. What the manufacturer's instructions, your respiratory protection "
    "program or local codes forbid stays forbidden, whatever it brings here. Every kit passes its "
    "pre-use check, flow check included, before every entry, whatever is decided."
)
#: how to read a hot wash
READING = (
    "A path is named by the numbers of its choices, in order: 2-1-3 is choice 2, then 1, then 3.",
    MARKED,
    "Late: visits that missed the service target or were not served. Urgent late: urgent entries "
    "that missed their own target, where there is one. Visits made together with others are not "
    "counted at all, so look at the number of entries, too.",
    "Not served: left the queue, or still waited at the end; also counted as late. "
    f"{OUTSIDE}. Wearer hours: of all wearers together, from "
    "the moment when an entry was due until its wearer was free, added up over all wearers, and "
    "counted on the played surge alone. It is not a wait for a kit, and where the target counts "
    "waits it makes no entry late by itself. A wearer who waits for a kit is busy, too.",
    "Between two decisions a wait counts only as far as it was known at the second one, and "
    "somebody who waits across a decision counts where they came. So the stretches can add up to "
    "fewer late entries than the whole.",
    "The worth of a choice is its average over other surges. What is left of the difference on the "
    "played surge is random variation of this surge, not your decision.",
    "Each average stands for the choice with all other choices as they were taken. In brackets is "
    "its 95 % interval: another set of surges would give another average, and of 20 such "
    "intervals about one misses the true one.",
)


def hot_wash(
    comparison: Comparison,
    choices: Choices,
    to_print: bool = False,
    struck: Sequence[Collection[int]] = (),
    ran_out: Sequence[str] = (),
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
    struck : sequence of collection of int
        Of each decision the choices that the group's own rules forbid: nothing is said of them.
    ran_out : sequence of str
        What of the spare parts ran out, and when.
    """
    exercise = comparison.exercise
    struck = struck or [()] * len(choices)
    pictures: dict[str, str] = {}
    blocks: list[Block] = []
    for place, forbidden in enumerate(struck):
        one = decision(comparison, choices, place, forbidden)
        blocks += [Heading(one.name), *(Remark("caution", said) for said in one.conditions)]
        for said, table in zip_longest(one.sentences, one.tables):
            blocks += [Paragraph(said), *([table] if table else [])]
        blocks += map(Paragraph, one.struck)
        if to_print and one.against:
            file = f"decision {place + 1}"
            pictures[file] = decision_picture(one.against)
            blocks.append(Figure(file, LEGEND))
    paths = paths_table(comparison, choices, struck)
    marked = any(MARK in str(row[0]) for row in paths.rows)
    told = document(
        Heading(f"Hot wash: {exercise.file.title}", 1),
        Remark("caution", PERMITS_NOTHING),
        Answer(in_short(comparison, choices)),
        Rows((("Played", surge_words(exercise, comparison.number)),)),
        None if to_print else Heading("Objectives"),
        None if to_print else Sentences(exercise.file.objectives),
        Heading("How hard this surge was"),
        Paragraph(hardness_words(comparison, choices)),
        *map(Paragraph, ran_out),
        *blocks,
        Heading(EVERY_PATH),
        paths,
        Sentences(tuple(one for one in READING if marked or one is not MARKED)),
        *((REPORT, report_facts(exercise, choices), *report_form(exercise)) if to_print else ()),
        Remark("caution", CAUTION_IN_SHORT),
    )
    return told, pictures


def ran_out_words(tree: Tree, choices: Choices) -> tuple[str, ...]:
    """Say of the parts that can run out when the board of a path showed none of them."""
    exercise, said, lasted = tree.exercise, [], []
    branches = [tree.branch(choices[:made]) for made in range(len(choices) + 1)]
    for name, words in BOARD[PARTS].items():
        seen = {
            at_s: left
            for branch in branches
            for at_s, left in zip(branch.at_s, getattr(branch.seen, name).tolist(), strict=True)
        }
        if min(seen.values()) < 0:
            continue
        spells: list[list[int]] = []
        has_some = True
        for at_s, left in seen.items():
            if has_some and not left:
                spells.append([at_s])
            if not has_some:
                spells[-1][1:] = [at_s]
            has_some = left > 0
        told = [" until ".join(when(exercise, one) for one in spell) for spell in spells]
        name_of = f"{words[0].upper()}{words[1:]}"
        if told:
            said.append(f"{name_of} ran out: the board showed none from {'; from '.join(told)}.")
        else:
            lasted.append(words)
    if lasted:
        names = listed(lasted)
        said.append(f"{names[0].upper()}{names[1:]} did not run out.")
    return tuple(said)


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
    median = np.median(column(comparison.others[:, comparison.place_of(choices)], "late"))
    lifted = (
        " A few very hard surges lift the average above the median; so a surge can have fewer late "
        "entries than the average and still be harder than most."
        if median <= hard.late < average and hard.easier > harder
        else ""
    )
    return (
        f"{share} of the entries were late on this surge; with the same choices the median of "
        f"{hard.others} others is {percent(hard.usual_share)}. {hard.easier} of them were "
        f"easier{alike} and {harder} harder.{lifted}"
    )


def paths_table(
    comparison: Comparison, choices: Choices | None, struck: Sequence[Collection[int]] = ()
) -> Table:
    """Return what came of every path, in the order of the choices; one that was taken is marked.

    Paths with a choice that was struck out are left out.
    """
    exercise = comparison.exercise
    priced = any(one.price for moment in exercise.moments for one in moment.choices)
    columns = (
        Column("Path", align="left"),
        Column("entries"),
        Column("late"),
        Column("not served"),
        Column("urgent late"),
        Column("wearer hours"),
        Column("late on average"),
        *((Column("price"),) if priced else ()),
    )
    rows = []
    for place, path in enumerate(exercise.paths):
        if any(one in gone for one, gone in zip(path, struck)):  # noqa: B905  none struck: empty
            continue
        here = comparison.here[place]
        taken = " taken" if path == choices else ""
        rows.append(
            (
                f"{path_marked(exercise, path) or 'no decision'}{taken}",
                f"{column(here, 'entries'):,}",
                f"{column(here, 'late'):,}",
                f"{column(here, 'unserved'):,}",
                f"{column(here, 'urgent_late'):,}",
                f"{column(here, 'delayed_s') / HOUR_S:,.0f}",
                _average(comparison, path),
                *((number(price_of(exercise, path)),) if priced else ()),
            )
        )
    return Table(columns, tuple(rows))
