"""The fuzzer: cases by number, their outcomes counted, failures made small and saved."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from tests.robustness.cases import RECIPES, SCENARIO, Case, Recipe
from tests.robustness.side_by_side import SideBySide
from tests.robustness.trial import Outcome, run_here

#: failures that look alike: so many are saved
_SAVED = 2
_DEADLY = ("hang", "died", "memory")
#: trials for making one failure smaller
_TRIALS = 150


def trial_of(kind: str, seed: int, number: int) -> Outcome:
    """Run the case of a number."""
    return run_here(RECIPES[kind](seed, number).case())


@dataclass
class Tally:
    """What came out of one kind of cases."""

    kind: str
    seed: int
    outcomes: Counter[str] = field(default_factory=Counter)
    #: numbers of the cases by what tells failures apart
    failures: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    texts: dict[tuple[str, str], str] = field(default_factory=dict)
    seconds: float = 0.0

    def add(self, number: int, outcome: Outcome) -> None:
        """Count one outcome."""
        self.outcomes[outcome.kind] += 1
        if not outcome.good:
            key = outcome.kind, outcome.sign
            self.failures.setdefault(key, []).append(number)
            self.texts.setdefault(key, outcome.text)

    @property
    def cases(self) -> int:
        """How many cases were run."""
        return sum(self.outcomes.values())


def fuzzed(
    kind: str, seed: int, numbers: Sequence[int], processes: int, say: bool = False
) -> Tally:
    """Run cases side by side and count how they ended."""
    tally, begin = Tally(kind, seed), time.monotonic()
    for number, outcome in SideBySide(partial(trial_of, kind, seed), processes).over(numbers):
        tally.add(number, outcome)
        if say and not outcome.good and len(tally.failures[outcome.kind, outcome.sign]) == 1:
            print(f"  {kind} {number}: {outcome.kind}: {outcome.sign}", flush=True)
    tally.seconds = time.monotonic() - begin
    return tally


def saved(tally: Tally, folder: Path) -> None:
    """Save the first cases of each failure, made small, with the command and what came out."""
    for place, ((kind, sign), numbers) in enumerate(sorted(tally.failures.items())):
        for number in numbers[:_SAVED]:
            recipe = RECIPES[tally.kind](tally.seed, number)
            case = smaller(recipe, kind, sign) if kind not in _DEADLY else recipe.case()
            here = folder / f"{tally.kind}_{place}_{kind.replace(' ', '_')}_{number}"
            here.mkdir(parents=True, exist_ok=True)
            case.written_to(here)
            words = " ".join(repr(word) for word in case.words)
            (here / "command.txt").write_text(f"surge-sim {words}\n", encoding="utf-8")
            text = f"{kind}: {sign} ({len(numbers)} cases)\n\n{tally.texts[kind, sign]}\n"
            (here / "outcome.txt").write_text(text, encoding="utf-8", errors="backslashreplace")


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
