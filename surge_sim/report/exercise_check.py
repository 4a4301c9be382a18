"""What the author of an exercise reads when it has been checked."""

from __future__ import annotations

from collections.abc import Iterator

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.drill.compare import Comparison, alike, column
from surge_sim.report.document import (
    Answer,
    Block,
    Column,
    Document,
    Heading,
    Remark,
    Rows,
    Table,
    document,
)
from surge_sim.report.exercise_choices import choice_sentences
from surge_sim.report.exercise_words import decision_named, surge_words
from surge_sim.report.rounding import counted
from surge_sim.units import duration_text


def exercise_answer(comparison: Comparison) -> Document:
    """Return what an exercise is, and how much its decisions matter on the played surge."""
    exercise = comparison.exercise
    late = column(comparison.here, "late")
    entries = int(column(comparison.here, "entries").max())
    decisions = counted(len(exercise.moments), "decision")
    return document(
        Heading(exercise.file.title, 1),
        Answer(
            f"The exercise can be used: no faults. It has {decisions} and "
            f"{counted(len(exercise.paths), 'path')} through them; on the surge that is played, "
            f"from {late.min():,} to {late.max():,} of {entries:,} entries are late."
        ),
        Rows(
            (
                ("Scenario", exercise.scenario.settings.title),
                ("Surge", surge_words(exercise, comparison.number)),
                ("Length", duration_text(exercise.file.length)),
                ("Discussion", duration_text(sum(one.discuss for one in exercise.moments))),
            )
        ),
        *_decisions(comparison),
        *_doubts(comparison),
        Remark("caution", CAUTION_IN_SHORT),
    )


def _decisions(comparison: Comparison) -> Iterator[Block]:
    exercise = comparison.exercise
    late = column(comparison.here, "late")
    for number, moment in enumerate(exercise.moments):
        yield Heading(decision_named(exercise, number))
        rows = []
        for place, one in enumerate(moment.choices):
            found = [late[at] for at, path in enumerate(exercise.paths) if path[number] == place]
            said = f"{place + 1}. {one.name}: {choice_sentences(exercise, one)}"
            rows.append((said, f"{min(found):,} to {max(found):,}"))
        columns = Column("Choice", align="left"), Column("late here, by the other choices")
        yield Table(columns, tuple(rows))


def _doubts(comparison: Comparison) -> Iterator[Block]:
    """Yield what the author should look at."""
    exercise = comparison.exercise
    yield from (Remark("warning", text) for text in exercise.warnings)
    for number, first, second in alike(comparison, others_too=False):
        one, other = (exercise.moments[number].choices[place].name for place in (first, second))
        yield Remark(
            "warning",
            f"On the surge that is played, “{other}” comes to the same as “{one}”; on others it "
            "does not. The group would see no difference.",
        )
    if not exercise.moments:
        yield Remark("warning", "It has no decisions: the group watches a surge.")
