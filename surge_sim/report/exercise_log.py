"""What was chosen in an exercise, and why, as one JSON object."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from surge_sim.drill.tree import Tree
from surge_sim.report.exercise_words import when
from surge_sim.scenario.exercise import Choices


def exercise_log(
    tree: Tree, choices: Choices, reasons: Sequence[Mapping[str, str]]
) -> dict[str, Any]:
    """Return the choices that were made, with the words that were given for them.

    Parameters
    ----------
    tree : Tree
        What was played.
    choices : Choices
        One a decision, from 0; written from 1. Fewer: the input ended before the others.
    reasons : sequence of mapping
        For each decision the words ``because`` and ``expected``.
    """
    exercise = tree.exercise
    moments = exercise.moments[: len(choices)]
    made = zip(moments, choices, reasons, strict=True)
    return {
        "exercise": exercise.file.title,
        "file": exercise.path.name,
        "sha256": exercise.sha256,
        "scenario_sha256": exercise.scenario.sha256,
        "seed": exercise.file.seed,
        "surge": tree.surge.number,
        "choices": ",".join(str(one + 1) for one in choices),
        "decisions": [
            {
                "at": when(exercise, moment.at),
                "name": moment.name,
                "choice": chosen + 1,
                "chosen": moment.choices[chosen].name,
                **words,
            }
            for moment, chosen, words in made
        ],
    }
