"""What a choice is worth, how hard the surge was and what was random variation."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import (
    Comparison,
    alike,
    chosen_surge,
    column,
    compare,
    faults_of_choices,
    other_numbers,
    played,
)
from surge_sim.drill.outcome import InAll, in_all
from surge_sim.engine.play import play
from surge_sim.scenario.exercise import load_exercise
from surge_sim.statistics.intervals import mean_interval
from surge_sim.statistics.target import as_judged
from tests.drill.small import EXERCISE, SCENARIO, SHIPPED, loaded, small


def rows_of(late):
    """Rows of `InAll` of 100 entries with these late ones, shape (..., fields)."""
    late = np.asarray(late)
    rows = np.zeros((*late.shape, len(InAll._fields)), dtype=np.int64)
    rows[..., InAll._fields.index("entries")] = 100
    rows[..., InAll._fields.index("late")] = late
    rows[..., InAll._fields.index("waits")] = late
    return rows


@pytest.fixture
def by_hand(tmp_path):
    """Nine paths; path (one, two) has 30 - 6 one - 2 two late entries here. On 40 other surges the
    first choice saves 4 in half of them and 8 in the others, the second nothing.
    """
    exercise = loaded(tmp_path)
    here = [30 - 6 * one - 2 * two for one, two in exercise.paths]
    others = [
        [20 + surge - (4 if surge % 2 else 8) * one for one, _ in exercise.paths]
        for surge in range(40)
    ]
    return Comparison(exercise, 3, rows_of(here), rows_of(others))


def test_the_worth_of_a_choice_is_the_mean_difference_with_its_limits(by_hand):
    worth = by_hand.worth((1, 2), 0, 0)
    assert worth.here == -6
    differences = [-8, -4] * 20
    assert worth.on_average == mean_interval(differences)
    assert worth.on_average.estimate == -6.0
    assert (worth.low, worth.high) == (-8, -4)
    assert (worth.fewer, worth.same, worth.more) == (40, 0, 0)
    assert worth.variation == 0.0


def test_what_is_not_average_is_random_variation(by_hand):
    worth = by_hand.worth((0, 2), 1, 0)
    assert (worth.here, worth.on_average.estimate) == (-4, 0.0)
    assert worth.variation == -4.0
    assert (worth.fewer, worth.same, worth.more) == (0, 40, 0)
    assert worth.on_average.low is None  # all are the same: no limits are made up


def test_the_hardness_of_a_surge_is_its_rank_among_others_with_the_same_choices(by_hand):
    """Others have 20 to 59 late; this one 30."""
    hard = by_hand.hardness((0, 0))
    assert (hard.late, hard.easier, hard.alike, hard.others) == (30, 10, 1, 40)
    assert hard.usual_share == pytest.approx(0.395)


@pytest.mark.parametrize("late_by", ["wait", "delay"])
def test_every_way_on_every_surge_is_played_as_it_is_alone(tmp_path, late_by):
    """Each with its log, its own entries, and a surge drawn anew; the comparison shares both."""
    target = SCENARIO.replace("target: {wait", f"target: {{late_by: {late_by}, wait")
    exercise = load_exercise(small(tmp_path, scenario=target))
    full, short = (compare(exercise, 3, 4, 1, in_full=in_full) for in_full in (True, False))
    assert full.others.shape == (4, 9, len(InAll._fields))
    assert short.others.shape == (4, 9, 3)
    numbers = [3, *other_numbers(exercise, 3, 4)]
    for place, number in enumerate(numbers):
        for path, choices in enumerate(exercise.paths):
            surge = Surges(exercise).surge(number)
            case, target = surge.situation(choices), surge.settings.target
            alone = in_all(case.demand, as_judged(case, play(*case), target), target)
            if place == 0:
                assert short.here[path].tolist() == full.here[path].tolist() == list(alone)
            else:
                assert full.others[place - 1, path].tolist() == list(alone)
                assert short.others[place - 1, path].tolist() == list(alone[:3])


def test_a_target_that_judges_by_delays_counts_other_entries_as_late(tmp_path):
    """Otherwise the test above could not fail for it."""
    found = []
    for late_by in ("wait", "delay"):
        target = SCENARIO.replace("target: {wait", f"target: {{late_by: {late_by}, wait")
        exercise = load_exercise(small(tmp_path, scenario=target))
        found.append(column(compare(exercise, 3, 4, 1).others, "late").sum())
    assert found[0] < found[1]


def test_the_answer_is_the_same_for_any_number_of_processes(tmp_path):
    exercise = loaded(tmp_path)
    one, two = (played(exercise, exercise.paths, range(6), count) for count in (1, 2))
    assert one.tolist() == two.tolist()


def test_others_are_neither_among_the_first_nor_the_played_one(tmp_path):
    exercise = loaded(tmp_path)
    assert other_numbers(exercise, 3) == list(range(20, 40))
    assert other_numbers(exercise, 25) == [*range(20, 25), *range(26, 41)]
    assert other_numbers(exercise, 25, 7) == [20, 21, 22, 23, 24, 26, 27]


def test_a_typical_surge_has_as_many_easier_as_harder_ones(tmp_path):
    ranks = {}
    for word in ("typical", "hard"):
        exercise = loaded(tmp_path, ("surge: 3", f"surge: {word}"))
        number = chosen_surge(exercise, processes=1)
        rows = played(exercise, ((),), range(20), 1)[:, 0]
        share = column(rows, "late") / column(rows, "entries")
        assert len(set(share.tolist())) > 10
        ranks[word] = int((share < share[number]).sum())
    # ties may make it one less
    assert 8 <= ranks["typical"] <= 9
    assert 16 <= ranks["hard"] <= 17


def test_a_number_is_the_surge_of_that_number(tmp_path):
    assert chosen_surge(loaded(tmp_path), processes=1) == 3


def test_choices_that_never_differ_are_refused_at_their_place(tmp_path):
    """Batteries must be full before reissue in this ward as it is."""
    exercise = loaded(
        tmp_path,
        (
            "{what: kits on loan, kits: 2, lasts: 6 h}",
            "{what: partial charge at reissue, allowed: no}",
        ),
    )
    comparison = compare(exercise, 3, count=3, processes=1, in_full=True)
    found = faults_of_choices(exercise, comparison)
    assert [fault.found for fault in found] == ["moments[1].choices[2] never differs from 'Wait'."]
    assert EXERCISE.splitlines()[found[0].line - 1].startswith("      - {name: Borrow two,")
    assert "on surge 3 and on 3 others" in found[0].right


def test_choices_that_differ_anywhere_are_not_refused(by_hand):
    assert alike(by_hand, others_too=True) == []
    same_here = Comparison(by_hand.exercise, 3, rows_of([30] * 9), by_hand.others)
    assert alike(same_here, others_too=False) == [(0, 0, 1), (0, 0, 2), (1, 0, 1), (1, 0, 2)]
    # elsewhere the first choices differ; the second ones differ nowhere
    assert alike(same_here, others_too=True) == [(1, 0, 1), (1, 0, 2)]


@pytest.mark.slow
@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_every_choice_of_a_shipped_exercise_differs_on_the_surge_that_is_played(path):
    exercise = load_exercise(path)
    comparison = compare(exercise, chosen_surge(exercise), count=2)
    assert alike(comparison, others_too=False) == []
