"""Plant random faults, one at a time, in a copy of the project, and see whether tests notice.

    python -m tests.mutation [--stage STAGE] [--count N] [--seed N] [--processes N] [--write FILE]
                             [--quick]

The faults of a stage are drawn from all that `changes.py` knows, each equally likely. A fault is
caught when a test of its stage fails or does not end; one that keeps the package from being
imported is invalid and does not count. Prints a line for each fault, then the share caught in
each stage with its 95 % limits. ``--write`` adds the outcomes to a file, one JSON object a line;
``python -m tests.mutation.table FILE`` enters them into the README beside this file.

With ``--quick`` the slow tests do not judge: all tests would catch as many faults or more.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from queue import Queue
from shutil import copy2

from tests.conftest import ROOT
from tests.mutation.changes import Change
from tests.mutation.forks import LONGEST_S, PASSED, QUICK_S, SOME_FAILED, run_tests
from tests.mutation.stages import JUDGES, runs_of, sample
from tests.mutation.table import CAUGHT, INVALID, SURVIVED, Outcome, summary

_FAILED = re.compile(r"^(?:FAILED|ERROR) (tests/.+?)(?: - .*)?$", re.MULTILINE)


def copy_project(place: Path) -> None:
    """Copy what git knows, as it is now, with its times: compiled code is kept by them."""
    names = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    for name in filter(None, names.split("\0")):
        if (ROOT / name).is_file():
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            copy2(ROOT / name, place / name)


@contextmanager
def planted(change: Change, place: Path) -> Iterator[None]:
    """Change the file in the copy, and change it back."""
    path = place / change.file
    kept, times = path.read_bytes(), path.stat()
    path.write_text(change.applied(kept.decode()), encoding="utf-8")
    try:
        yield
    finally:
        path.write_bytes(kept)
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
        for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
            compiled.unlink()


def judged(stage: str, place: Path, quick: bool, file: str = "") -> tuple[int, str]:
    """Run the tests of a stage in a copy; return pytest's exit code and words of the last run."""
    code, words = PASSED, ""
    runs = runs_of(stage, file, quick)
    for arguments in runs:
        code, words = run_tests(place, arguments, LONGEST_S if arguments is runs[-1] else QUICK_S)
        if code != PASSED:
            break
    return code, words


def judge(stage: str, change: Change, place: Path, quick: bool) -> Outcome:
    """Run the tests of the stage with the fault in place, until the first failure."""
    start = time.monotonic()
    with planted(change, place):
        code, words = judged(stage, place, quick, change.file)
    found = _FAILED.search(words)
    if code == PASSED:
        outcome, test = SURVIVED, ""
    elif code == SOME_FAILED and found:
        outcome, test = CAUGHT, found[1]
    else:
        outcome, test = INVALID, (words.strip().splitlines() or ["no words"])[-1][:200]
    return Outcome(stage, change.told(), outcome, test, round(time.monotonic() - start, 1))


def main() -> int:
    """Judge a sample of each stage, or of the one asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation")
    parser.add_argument("--stage", choices=tuple(JUDGES), action="append")
    parser.add_argument("--count", type=int, default=60, help="faults of each stage")
    parser.add_argument("--skip", type=int, default=0, help="leave out so many of the sample")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--quick", action="store_true", help="leave the slow tests out")
    parser.add_argument("--seconds", type=float, help="begin no fault after so many seconds")
    parser.add_argument("--write", type=Path, help="add the outcomes to this file")
    asked = parser.parse_args()
    ends = time.monotonic() + (asked.seconds or float("inf"))
    stages = asked.stage or list(JUDGES)
    drawn = {stage: sample(stage, asked.count, asked.seed)[asked.skip :] for stage in stages}
    # one of each stage in turn, so that a run that is cut short says something of all
    tasks = [
        (stage, changes[number])
        for number in range(asked.count - asked.skip)
        for stage, changes in drawn.items()
        if number < len(changes)
    ]
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory() as folder:
        places: Queue[Path] = Queue()
        for number in range(asked.processes):
            place = Path(folder) / f"copy{number}"
            copy_project(place)
            places.put(place)

        def sound(stage: str) -> str:
            place = places.get()
            try:
                code, words = judged(stage, place, asked.quick)
                return "" if code == PASSED else words
            finally:
                places.put(place)

        def task(stage_and_change: tuple[str, Change]) -> Outcome | None:
            if time.monotonic() > ends or stage_and_change[0] in unsound:
                return None
            place = places.get()
            try:
                return judge(*stage_and_change, place, asked.quick)
            finally:
                places.put(place)

        unsound: dict[str, str] = {}
        with ThreadPoolExecutor(asked.processes) as pool:
            for stage, words in zip(stages, pool.map(sound, stages), strict=True):
                if words:
                    unsound[stage] = words
                    print(f"without any fault the tests of {stage} fail:\n{words[-4000:]}")
            for outcome in pool.map(task, tasks):
                if outcome is None:
                    continue
                outcomes.append(outcome)
                print(outcome.line(), flush=True)
                if asked.write:
                    with asked.write.open("a", encoding="utf-8") as file:
                        file.write(json.dumps(outcome._asdict(), ensure_ascii=False) + "\n")
    print(summary(outcomes))
    return 2 if unsound else 0


if __name__ == "__main__":
    sys.exit(main())
