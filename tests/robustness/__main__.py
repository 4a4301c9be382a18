"""Attack the program with bad input, kills and extremes: ``python -m tests.robustness``.

``--cases N`` cases of `check`, and a tenth as many of the commands that play; ``--processes P``;
``--seed S``; ``--save FOLDER`` for what failed, made small; names of parts (check, play) run only
these.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from tests.robustness.fuzz import fuzzed, saved


def main() -> int:
    """Run what is asked for and print how it ended."""
    parser = argparse.ArgumentParser(prog="python -m tests.robustness")
    parser.add_argument("parts", nargs="*", default=["check", "play"])
    parser.add_argument("--cases", type=int, default=1_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--save", type=Path, default=None)
    asked = parser.parse_args()
    failed = 0
    for kind in asked.parts:
        cases = asked.cases if kind == "check" else asked.cases // 10
        tally = fuzzed(kind, asked.seed, range(cases), asked.processes, say=True)
        print(f"{kind}: {tally.cases} cases in {tally.seconds:.0f} s: {dict(tally.outcomes)}")
        for (sort, sign), numbers in sorted(tally.failures.items()):
            print(f"   {len(numbers):5}  {sort}: {sign}  {numbers[:5]}")
        failed += len(tally.failures)
        if asked.save is not None:
            saved(tally, asked.save)
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
