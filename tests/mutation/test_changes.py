"""Faults are planted where they say, and the sample is what was stated."""

from __future__ import annotations

import ast

import pytest

from tests.conftest import ROOT
from tests.mutation.changes import Change, changes
from tests.mutation.stages import AIM, JUDGES, known_changes, runs_of, sample
from tests.mutation.table import CAUGHT, INVALID, SURVIVED, Outcome, summary, survivors

SOURCE = '''"""Doc."""
import os

def late(wait_s: int, target_s: int = 300) -> bool:
    """Whether a wait é is late."""
    return wait_s > target_s and not os.stat(str(wait_s), 1)
'''


def test_every_kind_of_change_is_known() -> None:
    """Comparison both ways, `and`, a condition left out, `not`, a default, arguments swapped."""
    told = {(one.kind, one.new) for one in changes("late.py", SOURCE)}
    assert told == {
        ("comparison", "wait_s >= target_s"),
        ("opposite comparison", "wait_s < target_s"),
        ("and for or", "(wait_s > target_s or not os.stat(str(wait_s), 1))"),
        ("condition left out", "(not os.stat(str(wait_s), 1))"),
        ("sign or not left out", "(os.stat(str(wait_s), 1))"),
        ("number", "301"),
        ("number", "2"),
        ("two values swapped", "os.stat(1, str(wait_s))"),
    }


@pytest.mark.parametrize(
    ("source", "kinds"),
    [
        ("a in (b, c)", {"comparison"}),
        ("a == (b, c)", {"comparison", "two values swapped"}),
        ("max(a, b)", {"another function"}),
        ("np.minimum(a, b)", {"another function"}),
        ("pow(a, b)", {"two values swapped"}),
        ("a + 0", {"number"}),
        ("a + 1", {"number", "arithmetic"}),
        ("zip(a, strict=True)", set()),
        ("sum(a, start=True)", {"yes for no"}),
    ],
)
def test_what_cannot_change_anything_is_not_planted(source: str, kinds: set[str]) -> None:
    assert {one.kind for one in changes("a.py", f"x = {source}\n")} == kinds


def test_a_change_is_made_in_its_place_only() -> None:
    (change,) = [one for one in changes("late.py", SOURCE) if one.kind == "comparison"]
    assert change.applied(SOURCE) == SOURCE.replace("wait_s > target_s", "wait_s >= target_s")


def test_a_change_that_no_longer_fits_is_refused() -> None:
    (change,) = [one for one in changes("late.py", SOURCE) if one.kind == "comparison"]
    with pytest.raises(ValueError, match="does not say"):
        change.applied("\n" + SOURCE)


@pytest.mark.slow
@pytest.mark.parametrize("stage", JUDGES)
def test_changes_of_a_stage_are_programs_that_differ(stage: str) -> None:
    """Each of a sample parses, and is another program than the one without it."""
    drawn = sample(stage, 25, seed=2)
    assert len(set(drawn)) == 25
    for change in drawn:
        source = (ROOT / change.file).read_text(encoding="utf-8")
        assert ast.dump(ast.parse(change.applied(source))) != ast.dump(ast.parse(source))


@pytest.mark.slow
def test_the_same_seed_draws_the_same_faults_in_the_same_order() -> None:
    ten = sample("equipment", 10, seed=3)
    assert ten == sample("equipment", 20, seed=3)[:10]
    assert ten != sample("equipment", 10, seed=4)
    assert set(ten) <= set(known_changes("equipment"))


def test_judges_and_aims_are_of_the_same_stages_and_exist() -> None:
    assert list(JUDGES) == list(AIM)
    for stage in JUDGES:
        for word in " ".join(runs_of(stage)).split():
            assert word.startswith(("-p", "--slow", "tests.")) or (ROOT / word).exists(), word


def test_quick_tests_judge_first_and_those_of_the_file_before_the_others() -> None:
    first, *others = runs_of("engine", "surge_sim/engine/verify.py")
    assert "tests.mutation.uncompiled" in first and "tests/engine/test_timelines.py" in first
    assert others == ["tests/engine/test_verify.py", f"{JUDGES['engine']} --slow"]
    assert runs_of("scenario") == [f"{JUDGES['scenario']} --slow"]


def test_a_quick_look_runs_the_same_tests_without_the_slow_ones() -> None:
    *first, last = runs_of("engine", "surge_sim/engine/verify.py")
    assert runs_of("engine", "surge_sim/engine/verify.py", quick=True) == [
        *first, last.removesuffix(" --slow")
    ]  # fmt: skip
    assert last.endswith(" --slow") and "--slow" not in " ".join(first)


def test_the_share_leaves_invalid_faults_out() -> None:
    """8 of 10 caught and one invalid: exact limits 44 to 97 % (Clopper-Pearson)."""
    rows = [Outcome("sizing", f"fault {n}", CAUGHT, "tests/x.py", 1.0) for n in range(8)]
    rows += [Outcome("sizing", f"fault {n}", SURVIVED, "", 1.0) for n in (8, 9)]
    rows.append(Outcome("sizing", "fault 10", INVALID, "no import", 1.0))
    assert summary(rows).splitlines()[-1] == "| sizing | 10 | 8 | 80% | 44% to 97% | 90% |"
    text = survivors(rows, {"fault 8": "the same program"})
    assert "| `fault 8` | the same program |" in text
    assert "| `fault 9` | not looked at yet |" in text
    assert "fault 10" not in text


def test_stages_that_were_not_judged_now_keep_their_rows() -> None:
    row, fault = (
        "| engine | 31 | 24 | 77% | 59% to 90% | 90% |",
        "| `surge_sim/engine/a.py:1 x` | y |",
    )
    gone, gone_fault = (
        "| sizing | 9 | 9 | 100% | 66% to 100% | 90% |",
        "| `surge_sim/sizing/a.py:1 x` | y |",
    )
    old = "\n".join((row, gone, fault, gone_fault))
    now = [Outcome("sizing", "fault 1", SURVIVED, "", 1.0)]
    assert summary(now, old).splitlines()[2:] == [
        row, "| sizing | 1 | 0 | 0% | 0% to 98% | 90% |"
    ]  # fmt: skip
    assert survivors(now, {}, old).splitlines()[2:] == ["| `fault 1` | not looked at yet |", fault]


def test_a_change_told_in_one_line_names_file_line_and_kind() -> None:
    change = Change("a.py", 3, 0, "x +\n  y", "(x - y)", "arithmetic")
    assert change.told() == "a.py:3 arithmetic: x + y → (x - y)"
