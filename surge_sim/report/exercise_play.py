"""An exercise on the terminal: what is seen, what is told, what came of each decision."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.drill.tree import Tree
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.report.document import (
    Answer,
    Block,
    Document,
    Heading,
    Paragraph,
    Quote,
    Remark,
    Rows,
    Sentences,
    document,
)
from surge_sim.report.exercise_choices import choice_sentences
from surge_sim.report.exercise_rules import result_words, rules_words, without_timeline
from surge_sim.report.exercise_words import (
    BEFORE_NEWS,
    board_rows,
    decision_named,
    story_words,
    stretch_words,
    when,
)
from surge_sim.report.phrases import stock_in_words
from surge_sim.report.rounding import counted
from surge_sim.scenario.exercise import Choices, Exercise


def opening(tree: Tree) -> Document:
    """Return what a learner reads first."""
    exercise = tree.exercise
    settings = without_timeline(exercise.scenario.settings)
    decisions = counted(len(exercise.moments), "decision")
    return document(
        Heading(exercise.file.title, 1),
        Quote(exercise.file.situation) if exercise.file.situation else None,
        Heading("What you have"),
        Rows((("Stock", stock_in_words(stock_in_hand(settings))),)),
        Heading("Rules"),
        Sentences(tuple(rules_words(settings))),
        Remark(
            "note",
            f"There are {decisions}. Each choice has a number: type it. A choice that your own "
            "rules forbid is struck out by x and its number, x2; the hot wash says nothing of it. "
            "Then say why and what you expect, or press Enter.",
        ),
        Remark("caution", CAUTION_IN_SHORT),
    )


def at_decision(tree: Tree, choices: Choices) -> Document:
    """Return what came since the last decision, what is seen, what is told, and the choices."""
    exercise, number = tree.exercise, len(choices)
    moment = exercise.moments[number]
    return document(
        *since(tree, choices),
        Heading(decision_named(exercise, number)),
        Paragraph(BEFORE_NEWS),
        Rows(board_rows(exercise, tree.branch(choices), -1)),
        Quote(moment.read_aloud),
        Rows(choice_rows(exercise, number)),
    )


def choice_rows(exercise: Exercise, number: int) -> tuple[tuple[str, str], ...]:
    """Return the choices of a moment, by their numbers."""
    return tuple(
        (str(place), f"{one.name}: {choice_sentences(exercise, one)}")
        for place, one in enumerate(exercise.moments[number].choices, start=1)
    )


def at_end(tree: Tree, choices: Choices) -> Document:
    """Return what came since the last decision, when the exercise is over."""
    return document(*since(tree, choices))


def expectations(
    tree: Tree, choices: Choices, reasons: Sequence[Mapping[str, str]]
) -> Document | None:
    """Return what was expected of each choice, to be held against what came; None: nothing said."""
    exercise = tree.exercise
    rows: list[tuple[str, str]] = []
    for moment, chosen, words in zip(exercise.moments, choices, reasons, strict=True):
        named = f"{when(exercise, moment.at)}: {moment.choices[chosen].name}"
        said = (("because", words["because"]), ("you expected", words["expected"]))
        told = "; ".join(f"{label}: {one}" for label, one in said if one)
        rows += [(named, told)] if told else []
    return document(Heading("What you expected"), Rows(tuple(rows))) if rows else None


def since(tree: Tree, choices: Choices) -> Iterator[Block]:
    """Yield what came of a stretch, in numbers and in the story of one entry."""
    exercise, branch = tree.exercise, tree.branch(choices)
    from_when = when(exercise, branch.from_s)
    is_last = len(choices) == len(exercise.moments)
    until = "the end" if is_last else when(exercise, branch.to_s)
    yield Heading(f"From {from_when} until {until}")
    if choices:
        chosen = exercise.moments[len(choices) - 1].choices[choices[-1]]
        yield Paragraph(f"You chose: {chosen.name}.")
        if said := result_words(chosen):
            yield Remark("caution", said)
    yield Answer(stretch_words(exercise, branch))
    if branch.story is not None:
        yield Rows(tuple(story_words(exercise, branch.story)))
