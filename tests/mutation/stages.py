"""Which tests judge a fault of each stage, and how many faults of it are planted."""

from __future__ import annotations

import ast
from pathlib import Path

import numpy as np

from tests.conftest import ROOT
from tests.mutation.changes import Change, changes

#: tests of each stage, the quick ones first; a fault is caught when one of them fails
JUDGES = {
    "demand": "tests/demand tests/demand_words tests/test_randomness.py"
    " tests/whatif/test_same_patients.py",
    "equipment": "tests/equipment tests/engine",
    "engine": "tests/engine tests/everything",
    "statistics": "tests/statistics tests/shadow/test_run_accounts.py"
    " tests/shadow/test_log_accounts.py",
    "sizing": "tests/sizing",
    # an exercise is read by the stage scenario; exercises, comparisons and cases are put into words
    # by the stage report: their tests stand in folders of their own
    "scenario": "tests/scenario tests/report/test_check_answer.py tests/approved tests/drill",
    "report": "tests/report tests/shadow tests/everything tests/cli/test_outputs.py"
    " tests/test_plain.py tests/drill tests/whatif tests/purchase",
    # the newest last: a sample is drawn by the place of its stage
    "drill": "tests/drill",
    "whatif": "tests/whatif",
    "purchase": "tests/purchase",
}
#: what judges first: hand-worked and a few random plays, with the compiled engine as plain Python,
#: for compiling takes longer than all of these; only what they do not notice is compiled
_TIMELINES = (
    "timelines", "more_timelines", "finer_points", "bays_and_crews", "causes", "kits_away",
    "score",
)  # fmt: skip
_PLAIN = " ".join(
    (
        "-p tests.mutation.uncompiled",
        *(f"tests/engine/test_{name}.py" for name in _TIMELINES),
        "tests/equipment tests/mutation/few_plays.py",
    )
)
FIRST = {"equipment": _PLAIN, "engine": _PLAIN, "report": "tests/approved"}
#: least share of the faults that the tests of a stage must catch
AIM = {
    "demand": 0.9, "equipment": 0.9, "engine": 0.9, "statistics": 0.9, "sizing": 0.9,
    "scenario": 0.8, "report": 0.8, "drill": 0.9, "whatif": 0.9, "purchase": 0.9,
}  # fmt: skip


def runs_of(stage: str, file: str = "", quick: bool = False) -> list[str]:
    """Return pytest's arguments for each run of tests, the quick ones first.

    The last run is of all tests of the stage, the slow ones too unless it shall be ``quick``;
    before it those named like the file with the fault.
    """
    name = Path(file).stem
    own = sorted(ROOT.glob(f"tests/{stage}/test_{name}*.py")) if name else []
    named = " ".join(path.relative_to(ROOT).as_posix() for path in own)
    last = JUDGES[stage] if quick else f"{JUDGES[stage]} --slow"
    return [*filter(None, [FIRST.get(stage), named]), last]


def files_of(stage: str) -> list[Path]:
    """Modules of a stage, in the order of their names."""
    return sorted((ROOT / "surge_sim" / stage).rglob("*.py"))


def known_changes(stage: str) -> list[Change]:
    """Every change of every module of a stage."""
    found = []
    for path in files_of(stage):
        name = path.relative_to(ROOT).as_posix()
        found += changes(name, path.read_text(encoding="utf-8"))
    return found


def sample(stage: str, count: int, seed: int) -> list[Change]:
    """Draw ``count`` changes of a stage without repetition, each equally likely."""
    every = known_changes(stage)
    # one stream for each stage, so that the sample of one does not move that of another
    rng = np.random.default_rng([seed, list(JUDGES).index(stage)])
    found: list[Change] = []
    for number in rng.permutation(len(every)):
        if len(found) == count:
            break
        if is_program(every[number]):
            found.append(every[number])
    return found


def is_program(change: Change) -> bool:
    """Whether the changed file is still Python: two parts swapped need not be."""
    source = (ROOT / change.file).read_text(encoding="utf-8")
    try:
        ast.parse(change.applied(source))
    except SyntaxError:
        return False
    return True
