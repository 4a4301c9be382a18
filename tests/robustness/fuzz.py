"""Parts of the attack: numbered tasks, their outcomes counted, failures made small and saved."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import NamedTuple

from tests.robustness.cases import RECIPES, SCENARIO, Case, Recipe
from tests.robustness.extremes import EXTREMES, extreme_of
from tests.robustness.hostile import hostile_case, hostile_trial
from tests.robustness.kills import kill_of
from tests.robustness.same_bytes import same_bytes
from tests.robustness.side_by_side import SideBySide
from tests.robustness.trial import LONGEST_S, Outcome, run_here

#: failures that look alike: so many are saved
_SAVED = 2
#: what would take this process with it, were it tried again here
_DEADLY = ("hang", "died", "memory")
#: trials for making one failure smaller
_TRIALS = 150
#: for tasks that start programs of their own and watch over them [s]
_LONG_S = 900.0


def check_trial(seed: int, number: int) -> Outcome:
    """Run a case of `check`."""
    return run_here(RECIPES["check"](seed, number).case())


def play_trial(seed: int, number: int) -> Outcome:
    """Run a case of a command that plays."""
    return run_here(RECIPES["play"](seed, number).case())


class Part(NamedTuple):
    """One part of the attack: what it is, and how many tasks stand for so many cases of `check`."""

    what: str
    trial: Callable[[int, int], Outcome]
    tasks: Callable[[int], int]
    limit_s: float = LONGEST_S


PARTS = {
    "check": Part("`check` of changed scenarios, tables and options", check_trial, lambda n: n),
    "play": Part(
        "`run`, `size`, `compare` and the other commands with such", play_trial, lambda n: n // 4
    ),
    "hostile": Part("hostile names and texts in `run`", hostile_trial, lambda n: n // 100),
    "extremes": Part("extremes", extreme_of, lambda n: len(EXTREMES), _LONG_S),
    "kills": Part("kills at random moments", kill_of, lambda n: n // 500, _LONG_S),
    "same": Part("1, 2 and 8 processes", same_bytes, lambda n: max(n // 10_000, 2), _LONG_S),
}


@dataclass
class Tally:
    """What came out of one part."""

    part: str
    seed: int
    outcomes: Counter[str] = field(default_factory=Counter)
    #: numbers of the tasks by what tells failures apart
    failures: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    texts: dict[tuple[str, str], str] = field(default_factory=dict)
    seconds: float = 0.0
    #: from the keyboard, before all tasks were done
    stopped: bool = False

    def add(self, number: int, outcome: Outcome) -> None:
        """Count one outcome."""
        self.outcomes[outcome.kind] += 1
        if not outcome.good:
            key = outcome.kind, outcome.sign
            self.failures.setdefault(key, []).append(number)
            self.texts.setdefault(key, outcome.text)

    @property
    def failed(self) -> int:
        """How many tasks failed."""
        return sum(len(numbers) for numbers in self.failures.values())


def attacked(
    part: str, seed: int, numbers: Sequence[int], processes: int, say: bool = False
) -> Tally:
    """Do the tasks of a part side by side and count how they ended, up to a stop."""
    tally, begin = Tally(part, seed), time.monotonic()
    todo = SideBySide(partial(PARTS[part].trial, seed), processes, PARTS[part].limit_s)
    try:
        for number, outcome in todo.over(numbers):
            tally.add(number, outcome)
            if say and not outcome.good and len(tally.failures[outcome.kind, outcome.sign]) == 1:
                print(f"  {part} {number}: {outcome.kind}: {outcome.sign!r}", flush=True)
    except KeyboardInterrupt:
        tally.stopped = True
    tally.seconds = time.monotonic() - begin
    return tally


def saved(tally: Tally, folder: Path) -> None:
    """Save the first cases of each failure, made small, with the command and what came out."""
    for place, ((kind, sign), numbers) in enumerate(sorted(tally.failures.items())):
        for number in numbers[:_SAVED]:
            here = folder / f"{tally.part}_{place}_{kind.replace(' ', '_')}_{number}"
            here.mkdir(parents=True, exist_ok=True)
            case = _case_of(tally, kind, sign, number)
            words = "" if case is None else " ".join(repr(word) for word in case.words)
            if case is not None:
                case.written_to(here)
            said = f"seed {tally.seed}, {tally.part} {number}\nsurge-sim {words}\n"
            (here / "command.txt").write_text(said, encoding="utf-8", errors="backslashreplace")
            text = f"{kind}: {sign} ({len(numbers)} cases)\n\n{tally.texts[kind, sign]}\n"
            (here / "outcome.txt").write_text(text, encoding="utf-8", errors="backslashreplace")


def _case_of(tally: Tally, kind: str, sign: str, number: int) -> Case | None:
    """Return the case behind a failure, as small as it can be made."""
    if tally.part == "hostile":
        return hostile_case(tally.seed, number)
    if tally.part not in RECIPES:
        return None
    recipe = RECIPES[tally.part](tally.seed, number)
    return recipe.case() if kind in _DEADLY else smaller(recipe, kind, sign)


def smaller(recipe: Recipe, kind: str, sign: str) -> Case:
    """Leave out changes, then lines, as long as the failure stays the same."""
    left = [_TRIALS]

    def fails(case: Case) -> bool:
        left[0] -= 1
        outcome = run_here(case)
        return (outcome.kind, outcome.sign) == (kind, sign)

    changes = list(recipe.changes)
    for change in recipe.changes:
        fewer = [one for one in changes if one is not change]
        if fails(recipe.case(fewer)):
            changes = fewer
    case = recipe.case(changes)
    size = max(len(case.files[SCENARIO].splitlines()) // 4, 1)
    while left[0] > 0 and size:
        lines, start = case.files[SCENARIO].splitlines(keepends=True), 0
        while start < len(lines) and left[0] > 0:
            fewer_lines = lines[:start] + lines[start + size :]
            tried = Case({**case.files, SCENARIO: b"".join(fewer_lines)}, case.words)
            if fails(tried):
                case, lines = tried, fewer_lines
            else:
                start += size
        size //= 2
    return case
