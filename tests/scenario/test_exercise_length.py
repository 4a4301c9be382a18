"""An exercise may be shorter than the surge of its scenario: what begins later is left out."""

from __future__ import annotations

from pathlib import Path

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.exercise import load_exercise
from tests.drill.small import SCENARIO, small

TIMELINE = """\
timeline:
- {what: power outage, at: WHEN, lasts: 1 h}
- {what: kits on loan, at: 1 h, kits: 1}
"""
CLUSTERS = (
    "baseline: 2 per day",
    "baseline: 2 per day, clusters: [{patients: 2, at: 6 h}, {patients: 3, at: 2 h}]",
)
SHORT = ("length: 10 h", "length: 5 h")


def scenario(when: str) -> str:
    return SCENARIO.replace(*CLUSTERS) + TIMELINE.replace("WHEN", when)


def test_what_begins_at_its_end_or_later_is_left_out(tmp_path: Path) -> None:
    """It ends at 5 h: the change at 1 h and the cluster at 2 h stay, those at 5 h and 6 h go."""
    exercise = load_exercise(small(tmp_path, SHORT, scenario=scenario("5 h")))
    settings = exercise.scenario.settings
    assert [text.partition(" is 5 h: ")[2] for text in exercise.warnings] == [
        "of the changes and clusters in the scenario, those that begin then or later are left out "
        "(2)."
    ]
    assert settings.horizon == 5 * 3_600
    assert [one.what for one in settings.timeline] == ["kits on loan"]
    assert settings.arrivals is not None
    assert [one.patients for one in settings.arrivals.clusters] == [3]


def test_what_begins_before_its_end_stays(tmp_path: Path) -> None:
    loaded = load_exercise(small(tmp_path, SHORT, scenario=scenario("299 min")))
    assert [one.at for one in loaded.scenario.settings.timeline] == [299 * 60, 3_600]


def test_a_change_that_may_begin_before_or_after_its_end_is_told_at_the_length(
    tmp_path: Path,
) -> None:
    path = small(tmp_path, SHORT, scenario=scenario("{low: 4 h, high: 5 h}"))
    with pytest.raises(ScenarioError) as error:
        load_exercise(path)
    (fault,) = error.value.faults
    assert (fault.file, fault.line) == (str(path), 3)
    assert fault.found == (
        "length is 5 h, and the scenario cannot end then: timeline.0.at is not inside the horizon."
    )
