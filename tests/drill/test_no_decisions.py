"""An exercise in which something happens and nothing is decided."""

from __future__ import annotations

from pathlib import Path

from surge_sim.scenario.exercise import load_exercise
from tests.conftest import Program
from tests.drill.small import EXERCISE, small


def test_the_hot_wash_of_an_exercise_without_decisions_takes_no_choices(
    tmp_path: Path, program: Program
) -> None:
    moments = EXERCISE[EXERCISE.index("moments:") :]
    path = small(tmp_path, (moments, "moments: []\n"))
    assert load_exercise(path).paths == ((),)
    wash = program("exercise", "hot-wash", "exercise.yaml", "--choices", "", "--processes", "1")
    assert wash.returncode == 0, wash.stderr
    refused = program("exercise", "hot-wash", "exercise.yaml", "--choices", ",")
    assert refused.returncode == 2
