"""Approve texts anew: ``python -m tests.approved``.

Runs the commands of `cases.py`, shows what differs from the approved texts, and keeps the new ones
once that is answered with yes (``--yes`` keeps them without asking). Words narrow the cases:
``python -m tests.approved winter_wave/run help``.
"""

from __future__ import annotations

import argparse
import difflib
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from tests.approved.cases import CASES, TEXTS, Case, texts_of


def approved(case: Case, texts: Path = TEXTS) -> dict[str, str]:
    """Return the approved texts of a case, by their paths below `texts`."""
    paths = [texts / f"{case.name}.txt", *(texts / case.name).rglob("*")]
    return {
        path.relative_to(texts).as_posix(): path.read_bytes().decode()
        for path in paths
        if path.is_file()
    }


def differences(before: dict[str, str], after: dict[str, str]) -> Iterator[str]:
    """Yield the lines that tell two sets of texts apart, as a unified diff."""
    for name in sorted(before.keys() | after.keys()):
        old, new = (texts.get(name, "").splitlines() for texts in (before, after))
        heads = [name if name in texts else "(none)" for texts in (before, after)]
        yield from difflib.unified_diff(old, new, *heads, n=2, lineterm="")
        if old == new and before.get(name) != after.get(name):
            yield f"{name}: other line ends, or a file without lines"


def write(before: dict[str, str], after: dict[str, str], texts: Path = TEXTS) -> None:
    """Keep the new texts; those that are made no longer go."""
    for name in before.keys() - after.keys():
        (texts / name).unlink()
    for name, text in after.items():
        (texts / name).parent.mkdir(parents=True, exist_ok=True)
        (texts / name).write_bytes(text.encode())


def asked_for(names: Iterable[str]) -> list[Case]:
    """Return the cases with these names or below them; all of them where none is given."""
    wanted = [name.strip("/") for name in names]
    found = [
        case
        for case in CASES.values()
        if not wanted or any(f"{case.name}/".startswith(f"{name}/") for name in wanted)
    ]
    if not found:
        raise SystemExit(f"No case of these names. There are: {', '.join(CASES)}.")
    return found


def main(words: list[str]) -> int:
    """Run, show, ask, keep; 1 where something that differs is not approved."""
    parser = argparse.ArgumentParser("python -m tests.approved", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="a case, or a folder of them")
    parser.add_argument("--yes", action="store_true", help="approve without asking")
    asked = parser.parse_args(words)
    cases = asked_for(asked.names)
    before: dict[str, str] = {}
    after: dict[str, str] = {}
    for number, case in enumerate(cases, 1):
        print(f"{number} of {len(cases)}: {case.name}", file=sys.stderr)
        before |= approved(case)
        after |= texts_of(case)
    if not asked.names:
        # texts of cases that are gone
        before |= {
            path.relative_to(TEXTS).as_posix(): path.read_bytes().decode()
            for path in TEXTS.rglob("*")
            if path.is_file()
        }
    for line in differences(before, after):
        print(line)
    changed = sum(before.get(name) != after.get(name) for name in before.keys() | after.keys())
    if not changed:
        print("Nothing differs.")
        return 0
    print(f"{changed} texts differ. Read every line of them.")
    if not asked.yes and not (sys.stdin.isatty() and input("Approve? [y/N] ").lower() == "y"):
        print("Nothing is approved; the texts are as they were.")
        return 1
    write(before, after)
    print("Approved.")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
