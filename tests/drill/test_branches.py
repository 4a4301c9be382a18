"""A path through an exercise is the surge that `run` plays with the same timeline."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from surge_sim.drill.branches import Surges
from surge_sim.drill.outcome import in_all
from surge_sim.drill.tree import Tree
from surge_sim.engine.log import RunLog
from surge_sim.engine.play import play
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.scenario.exercise import load_exercise
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.run import run
from tests.drill.small import SCENARIO, SHIPPED, loaded, small


def scenario_with(exercise, choices):
    """Scenario whose timeline has the injects and these choices."""
    timeline = exercise.timeline(exercise.scenario.settings, choices)
    written = [one.model_dump(by_alias=True, exclude_none=True) for one in timeline]
    return exercise.scenario.changed({"timeline": written})


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_each_way_is_what_a_scenario_with_the_same_timeline_plays(path):
    """Both draw the surge and bring it to numbers on roads of their own."""
    exercise = load_exercise(path)
    surge = Surges(exercise).surge(7)
    for choices in exercise.paths[:: len(exercise.paths) // 6]:
        scenario = scenario_with(exercise, choices)
        theirs = situation_of(
            scenario, stock_in_hand(scenario.settings), exercise.file.seed, surge=7
        )
        ours = surge.situation(choices)
        mine, other = play(*ours, events=True), play(*theirs, events=True)
        for name in RunLog.COLUMNS:
            assert_array_equal(getattr(mine, name), getattr(other, name), err_msg=name)
        assert_array_equal(mine.events, other.events)


def test_what_came_of_a_way_is_what_run_counts(tmp_path):
    exercise = loaded(tmp_path)
    for choices in ((0, 0), (1, 2), (2, 1)):
        result = run(scenario_with(exercise, choices), surges=4, seed=1, processes=1)
        rows = result.summary.rows
        for number in range(4):
            case = Surges(exercise).surge(number).situation(choices)
            mine = in_all(case.demand, play(*case), exercise.scenario.settings.target)
            row, everybody = rows[number], 0  # the first group holds all entries
            assert mine.entries == row["entries"][everybody]
            assert mine.late == row["entries"][everybody] - row["in_time"][everybody]
            assert mine.urgent_late == row["urgent_late"]
            assert mine.waited_s == row["wait_s"][everybody]
            assert mine.unserved == row["unserved"][everybody]


def test_an_exercise_without_moments_is_the_plain_surge(tmp_path):
    path = small(tmp_path)
    text = path.read_text()
    path.write_text(text[: text.index("moments:")])
    exercise = load_exercise(path)
    assert exercise.paths == ((),)
    scenario = load_scenario(tmp_path / "ward.yaml")
    plain = play(
        *situation_of(scenario, stock_in_hand(scenario.settings), seed=1, surge=3), events=True
    )
    mine = play(*Surges(exercise).surge(3).situation(()), events=True)
    assert_array_equal(mine.events, plain.events)
    assert_array_equal(mine.wait_s, plain.wait_s)


def test_the_scenario_may_have_a_timeline_of_its_own(tmp_path):
    """Of every sort that concerns entries, before, between and behind the decisions."""
    timeline = """\
timeline:
  - {what: care bundled, dropped: 20 %, at: 30 min}
  - {what: routine entries postponed, by: 40 min, share: 50 %, at: 1 h, lasts: 4 h}
  - {what: extra patients, arrivals: 300 %, at: 3 h, lasts: 3 h}
  - {what: maximum wait, wait: 20 min, at: 5 h}
  - {what: kits on loan, kits: 1, at: 6 h}
"""
    exercise = load_exercise(small(tmp_path, scenario=SCENARIO + timeline))
    surge = Surges(exercise).surge(5)
    for choices in exercise.paths:
        scenario = scenario_with(exercise, choices)
        theirs = situation_of(scenario, stock_in_hand(scenario.settings), seed=1, surge=5)
        mine, other = (play(*case, events=True) for case in (surge.situation(choices), theirs))
        assert_array_equal(mine.events, other.events)
        assert_array_equal(mine.wait_s, other.wait_s)


def test_ways_share_entries_only_where_no_choice_changes_them(tmp_path):
    """The first choice, and not the last, bundles visits."""
    bundle = "{name: Bundle, does: {what: care bundled, dropped: 30 %, lasts: 3 h}}"
    wait = "{name: Wait, does: nothing}"
    exercise = loaded(
        tmp_path,
        (bundle, "BUNDLE"),
        (f"{wait}\n      - {{name: Borrow two", f"{bundle}\n      - {{name: Borrow two"),
        ("BUNDLE", wait),
    )
    surge = Surges(exercise).surge(3)
    demands = {path: surge.situation(path).demand for path in exercise.paths}
    for (first, second), demand in demands.items():
        assert (demand.entries < surge.demand.entries) == (first == 0)
        assert demand is demands[first, (second + 1) % 3]


def test_ranges_are_drawn_for_each_surge_as_run_draws_them(tmp_path):
    scenario = SCENARIO.replace("pre_use_check: 1 min", "pre_use_check: {low: 1 min, high: 6 min}")
    exercise = load_exercise(small(tmp_path, scenario=scenario))
    surges = Surges(exercise)
    drawn = {surges.surge(number).settings.kit.pre_use_check for number in range(5)}
    assert len(drawn) > 2
    for number in (0, 4):
        theirs = scenario_with(exercise, (1, 1))
        case = situation_of(theirs, stock_in_hand(theirs.settings), seed=1, surge=number)
        mine = surges.surge(number).situation((1, 1))
        assert_array_equal(play(*mine).wait_s, play(*case).wait_s)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_what_is_seen_until_a_decision_is_the_same_whatever_is_decided(path):
    """Each branch is worked out anew from every path through it."""
    exercise = load_exercise(path)
    surge = Surges(exercise).surge(11)
    first = Tree(surge)
    first.whole()
    for choices in exercise.paths[1::5]:
        other = Tree(surge)
        other.in_all(choices)  # plays this path first, so that all its branches come of it
        for made in range(len(choices)):
            one, two = first.branch(choices[:made]), other.branch(choices[:made])
            assert (one.from_s, one.to_s, one.at_s) == (two.from_s, two.to_s, two.at_s)
            for name, column in one.seen._asdict().items():
                assert_array_equal(column, getattr(two.seen, name), err_msg=name)
            assert one.stretch == two.stretch
            assert (one.story is None) == (two.story is None)
            if one.story is not None and two.story is not None:
                assert one.story.entry == two.story.entry


def test_a_decision_is_seen_only_after_it(tmp_path):
    """A comparison of branches that could not fail would be no test: these two differ."""
    exercise = loaded(tmp_path)
    tree = Tree(Surges(exercise).surge(3))
    one, two = tree.branch((0,)), tree.branch((1,))
    assert one.seen.kits_ready[0] == two.seen.kits_ready[0]
    kits = [
        sum(getattr(branch.seen, name) for name in branch.seen._fields if name.startswith("kits"))
        for branch in (one, two)
    ]
    assert np.unique(kits[0]).tolist() == [4]
    assert np.unique(kits[1]).tolist() == [4, 6]
