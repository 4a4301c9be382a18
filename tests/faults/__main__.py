"""Put each fault in, one at a time, into a copy of the project, and see which test notices.

    python -m tests.faults [--only WORDS] [--domain DOMAIN] [--processes N] [--write] [--named]

First the tests named by the faults must pass without any fault. Then, for each fault, they run
until the first failure; if none fails, the wider tests of the domain run too. A fault that
only keeps a module from being imported is invalid, not caught. Ends with 1 when less than 95 %
are caught. ``--named`` leaves the wider tests out; ``--write`` enters the results into README.md
beside this file.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from queue import Queue

from tests.conftest import ROOT
from tests.faults.catalogue import FAULTS
from tests.faults.fault import WIDER, Fault
from tests.faults.forks import PASSED, SOME_FAILED, run_tests
from tests.faults.table import CAUGHT, ENOUGH, INVALID, README, SURVIVED, Result, rows, show, write

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
            shutil.copy2(ROOT / name, place / name)


@contextmanager
def put_in(fault: Fault, place: Path) -> Iterator[None]:
    """Change the file of a fault in the copy, and change it back."""
    path = fault.path(place)
    kept, times = path.read_bytes(), path.stat()
    path.write_text(fault.applied(kept.decode()), encoding="utf-8")
    try:
        yield
    finally:
        path.write_bytes(kept)
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
        for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*"):
            compiled.unlink()


def judge(fault: Fault, place: Path, named_only: bool) -> Result:
    """Run the tests that should notice the fault, then those that could."""
    start = time.monotonic()
    outcome, caught_by = SURVIVED, ""
    with put_in(fault, place):
        for arguments in (fault.tests, *([] if named_only else [WIDER[fault.domain]])):
            code, words = run_tests(place, arguments)
            found = _FAILED.search(words)
            if code == SOME_FAILED and found:
                outcome, caught_by = CAUGHT, found[1].removeprefix("tests/")
                break
            if code != PASSED:
                outcome, caught_by = INVALID, words.strip().splitlines()[-1]
                break
    return Result(fault.name, fault.domain, outcome, caught_by, time.monotonic() - start)


def sound(place: Path, faults: Sequence[Fault]) -> bool:
    """Whether the tests pass without a fault; says which do not."""
    good = True
    for arguments in dict.fromkeys(fault.tests for fault in faults):
        code, words = run_tests(place, arguments)
        if code != PASSED:
            print(f"without any fault {arguments} does not pass:\n{words[-2000:]}")
            good = False
    return good


def main() -> int:
    """Judge all faults, or those asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults")
    parser.add_argument("--only", default="", help="faults with these words in their name")
    parser.add_argument("--domain", default="", help=f"one of {', '.join(WIDER)}")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--named", action="store_true", help="only the tests that faults name")
    parser.add_argument("--missed", action="store_true", help="only those not caught in the table")
    parser.add_argument("--write", action="store_true", help="enter the results into the table")
    asked = parser.parse_args()
    known = rows(README.read_text(encoding="utf-8"))
    faults = [
        fault
        for fault in FAULTS
        if asked.only in fault.name
        and asked.domain in ("", fault.domain)
        and not (asked.missed and known.get(fault.name, ("", ""))[0] == CAUGHT)
    ]
    results: list[Result] = []
    with tempfile.TemporaryDirectory() as folder:
        places: Queue[Path] = Queue()
        for number in range(asked.processes):
            place = Path(folder) / f"copy{number}"
            copy_project(place)
            places.put(place)
        if not sound(places.queue[0], faults):
            return 2

        def task(fault: Fault) -> Result:
            place = places.get()
            try:
                return judge(fault, place, asked.named)
            finally:
                places.put(place)

        with ThreadPoolExecutor(asked.processes) as pool:
            for result in pool.map(task, faults):
                results.append(result)
                print(show(result), flush=True)
    if asked.write:
        write(results)
    caught = sum(result.outcome == CAUGHT for result in results)
    judged = sum(result.outcome != INVALID for result in results)
    print(f"{caught} of {judged} faults caught, {len(results) - judged} invalid")
    return 0 if judged and caught >= ENOUGH * judged and judged == len(results) else 1


if __name__ == "__main__":
    sys.exit(main())
