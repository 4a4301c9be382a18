"""What is told of unusual exercises is true: of their targets, dates, shifts and files."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import Comparison, compare
from surge_sim.drill.tree import Tree
from surge_sim.report.exercise_choices import choice_words
from surge_sim.report.exercise_hot_wash import hardness_words, hot_wash, paths_table
from surge_sim.report.exercise_log import exercise_log
from surge_sim.report.exercise_sheets import facilitator_sheet
from surge_sim.report.exercise_words import orders_words, stretch_words
from surge_sim.report.terminal import render
from surge_sim.scenario.exercise import load_exercise
from tests.drill.small import EXERCISE, SCENARIO, loaded, small
from tests.drill.test_compare import rows_of

TARGET = "target: {wait: 5 min, service_level: 95 %, share_of_surges: 90 %}"


def tree_of(folder: Path, *changes: tuple[str, str], scenario: str = SCENARIO) -> Tree:
    """Return the played surge of the exercise with some of its text replaced."""
    return Tree(Surges(load_exercise(small(folder, *changes, scenario=scenario))).surge(3))


def test_urgent_ones_that_are_late_by_their_own_target_alone_are_told(tmp_path: Path) -> None:
    urgent = "urgent: {wait: 1 min, service_level: 95 %}}"
    target = TARGET.replace("5 min", "20 min").replace("90 %}", f"90 %, {urgent}")
    many = SCENARIO.replace(TARGET, target).replace("1 per day, team", "6 per day, team")
    tree = tree_of(tmp_path, scenario=many)
    first = tree.branch(())
    assert (first.stretch.late, first.stretch.urgent_late) == (0, 2)
    said = stretch_words(tree.exercise, first)
    assert "Urgent entries late by their own target of 1 min: 2." in said and "Late: " not in said
    told = render(hot_wash(compare(tree.exercise, 3, 4, 1), (1, 1))[0])
    assert "urgent late" in told


def test_where_delays_are_judged_no_share_of_waits_stands_beside_the_target(
    tmp_path: Path,
) -> None:
    said = {}
    for late_by in ("wait", "delay"):
        target = TARGET.replace("{wait", f"{{late_by: {late_by}, wait")
        tree = tree_of(tmp_path, scenario=SCENARIO.replace(TARGET, target))
        branch = tree.branch((0, 0))
        assert branch.stretch.came > 20
        said[late_by] = stretch_words(tree.exercise, branch)
        told = " ".join(render(hot_wash(compare(tree.exercise, 3, 4, 1), (0, 0))[0]).split())
        # by delay visits can be late for no wait of their own
        assert "visits that missed the service target" in told
        assert "where the target counts waits it makes no entry late by itself" in told
    assert "the service target is 95 %" in said["wait"]
    assert "the service target" not in said["delay"]


def test_nobody_leaves_the_queue_where_there_is_no_maximum_wait(tmp_path: Path) -> None:
    policy = "policy: {maximum_wait: 60 min, urgent_maximum_wait: 10 min}\n"
    endless = SCENARIO.replace(policy, "").replace("run_out: 10 h", "run_out: 0 h")
    tree = tree_of(tmp_path, scenario=endless)
    comparison = compare(tree.exercise, 3, 4, 1)
    assert tree.in_all((0, 0)).unserved > tree.branch((0, 0)).stretch.unserved == 0
    heads = [one.head for one in paths_table(comparison, (0, 0)).columns]
    assert heads[3] == "not served"


@pytest.mark.parametrize(("late_here", "is_told"), [(20, False), (45, True), (90, False)])
def test_an_average_above_the_median_explains_only_what_lies_between_the_two(
    tmp_path: Path, late_here: int, is_told: bool
) -> None:
    """Of 20 others 18 have 40 late entries and two have 400; the played one has few entries."""
    exercise = loaded(tmp_path)
    here, others = rows_of([late_here] * 9), rows_of([[40] * 9] * 18 + [[400] * 9] * 2)
    others[..., 0] = 500
    comparison = Comparison(exercise, 3, here, others)
    hard = comparison.hardness((0, 0))
    assert hard.easier >= 18 and comparison.average_late((0, 0)).estimate == 76
    assert ("lift the average" in hardness_words(comparison, (0, 0))) is is_told


def test_an_order_that_comes_in_more_than_a_week_says_on_which_day(tmp_path: Path) -> None:
    slow = SCENARIO.replace("lead_time: 3 h", "lead_time: 9 d").replace("spare: 60", "spare: 41")
    slow = slow.replace("horizon: 10 h", "horizon: 30 d")
    later = ("length: 10 h", "length: 5 d"), ("day 1, 11:30", "day 3, 11:30")
    tree = tree_of(tmp_path, *later, scenario=slow)
    assert "due day 10, Wed " in orders_words(tree.exercise, tree.branch((0,)).orders[-1])


@pytest.mark.parametrize(("kits", "said"), [(0, "0 clean kits on"), (1, "1 clean kit on")])
def test_a_reserve_of_one_kit_or_none_is_told(tmp_path: Path, kits: int, said: str) -> None:
    reserve = "reserve for urgent entries, kits: "
    exercise = loaded(tmp_path, (f"{reserve}1", f"{reserve}{kits}"))
    words = choice_words(exercise, exercise.moments[1].choices[1])
    assert words == f"From 11:30, for good: {said} the shelf kept for urgent entries. No price."


@pytest.mark.parametrize("shift", ["00:00", "24:00"])
def test_a_shift_from_midnight_has_its_hours(tmp_path: Path, shift: str) -> None:
    two = "crew: [{start: 07:00, end: 24:00, cleaners: 1}, {start: 00:00, end: 07:00, cleaners: 1}]"
    scenario = SCENARIO.replace("crew: [{start: 07:00, end: 19:00, cleaners: 1}]", two)
    extra = f"extra cleaners, cleaners: 1, shift: '{shift}', lasts: 3 d"
    path = small(tmp_path, ("kits on loan, kits: 2, lasts: 6 h", extra), scenario=scenario)
    exercise = load_exercise(path)
    said = choice_words(exercise, exercise.moments[0].choices[1])
    assert "1 more cleaner on duty, from 00:00 to 07:00." in said


def test_a_sheet_without_decisions_names_a_command_that_can_be_given(tmp_path: Path) -> None:
    moments = EXERCISE[EXERCISE.index("moments:") :]
    tree = tree_of(tmp_path, (moments, "moments: []\n"))
    sheet = facilitator_sheet(tree, compare(tree.exercise, 3, 4, 1))
    assert 'hot-wash exercise.yaml --choices "": what' in " ".join(render(sheet).split())


def test_a_log_names_the_file_of_the_scenario_also_where_the_exercise_is_shorter(
    tmp_path: Path,
) -> None:
    tree = tree_of(tmp_path, ("length: 10 h", "length: 9 h"))
    log = exercise_log(tree, (0, 0), [{}, {}], [(), ()])
    file = (tmp_path / "ward.yaml").read_bytes()
    assert log["scenario_sha256"] == hashlib.sha256(file).hexdigest()
