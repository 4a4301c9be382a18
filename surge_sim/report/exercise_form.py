"""The form for the after-action report and the improvement plan, on the page and on paper."""

from __future__ import annotations

from collections.abc import Iterator

from surge_sim.report.document import Column, Heading, Paragraph, Rows, Table
from surge_sim.report.exercise_choices import money, price_of
from surge_sim.report.exercise_words import path_named, when
from surge_sim.scenario.exercise import Choices, Exercise
from surge_sim.units import duration_text

REPORT = Heading("After-action report")
#: empty lines of a form
_LINES = 5


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
