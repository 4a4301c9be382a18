"""What was chosen in an exercise, and why, as one JSON object."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from surge_sim.drill.tree import Tree
from surge_sim.report.exercise_words import when
from surge_sim.scenario.exercise import Choices


def exercise_log(
    tree: Tree,
    choices: Choices,
    reasons: Sequence[Mapping[str, str]],
    struck: Sequence[Collection[int]],
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
    struck : sequence of collection of int
        For each decision the choices that the group's own rules forbid, from 0.
    """
    exercise = tree.exercise
    moments = exercise.moments[: len(choices)]
    made = zip(moments, choices, reasons, struck, strict=True)
    return {
        "exercise": exercise.file.title,
        "file": exercise.path.name,
        "sha256": exercise.sha256,
        "scenario_sha256": exercise.scenario.sha256,
        "seed": exercise.file.seed,
        "surge": tree.surge.number,
        # as `hot-wash --choices` takes them
        "choices": ",".join(
            "x".join(str(one + 1) for one in (chosen, *sorted(gone)))
            for chosen, gone in zip(choices, struck, strict=True)
        ),
        "decisions": [
            {
                "at": when(exercise, moment.at),
                "name": moment.name,
                "choice": chosen + 1,
                "chosen": moment.choices[chosen].name,
                "struck_out": [moment.choices[one].name for one in sorted(gone)],
                **words,
            }
            for moment, chosen, words, gone in made
        ],
    }
