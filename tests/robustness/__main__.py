"""Attack the program with bad input, extremes, hostile text and kills.

``python -m tests.robustness --cases N`` runs N cases of `check` and a share of that of the other
parts; ``--processes P`` side by side; ``--seed S``; ``--save FOLDER`` for what failed, made small;
``--write FILE`` puts the table of figures into a file, between its marks where it has them. Names
of parts (check, play, hostile, extremes, kills, same) run only these; the others keep their rows.
Stopped from the keyboard it says what was found until then, and exits with 130.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from tests.robustness.fuzz import PARTS, Tally, attacked, saved

START, END = "<!-- robustness: begin -->", "<!-- robustness: end -->"


HEAD = "| what | seed | tasks | how they ended | failures |", "| --- | --- | --- | --- | --- |"


def as_markdown(tallies: list[Tally], old: str = "") -> str:
    """Write the figures as a table; parts that were not run now keep the row of an old one."""
    now = {tally.part: tally for tally in tallies}
    lines = list(HEAD)
    for name, part in PARTS.items():
        if name in now:
            tally = now[name]
            ended = ", ".join(f"{kind} {count:,}" for kind, count in tally.outcomes.most_common())
            tasks = sum(tally.outcomes.values())
            lines.append(f"| {part.what} | {tally.seed} | {tasks:,} | {ended} | {tally.failed:,} |")
        else:
            kept = [line for line in old.splitlines() if line.startswith(f"| {part.what} | ")]
            lines += kept or [f"| {part.what} | | 0 | not run yet | |"]
    return "\n".join(lines)


def written(tallies: list[Tally], path: Path) -> None:
    """Put the table into a file: between its marks, or as all of it."""
    old = path.read_text(encoding="utf-8") if path.is_file() else ""
    before, mark, rest = old.partition(START)
    inside, _, after = rest.partition(END)
    table = as_markdown(tallies, inside)
    text = f"{before}{START}\n\n{table}\n\n{END}{after}" if mark else f"{table}\n"
    path.write_text(text, encoding="utf-8")


def main(words: Sequence[str] | None = None) -> int:
    """Run what is asked for and print how it ended."""
    parser = argparse.ArgumentParser(prog="python -m tests.robustness")
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--cases", type=int, default=1_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--save", type=Path)
    parser.add_argument("--write", type=Path)
    asked = parser.parse_args(words)
    if unknown := set(asked.parts) - set(PARTS):
        parser.error(f"no part {', '.join(sorted(unknown))}; known: {', '.join(PARTS)}")
    tallies = []
    for name in asked.parts or PARTS:
        numbers = range(PARTS[name].tasks(asked.cases))
        tally = attacked(name, asked.seed, numbers, asked.processes, say=True)
        tallies.append(tally)
        print(f"{name}: {tally.seconds:.0f} s: {dict(tally.outcomes)}", flush=True)
        for (kind, sign), failed in sorted(tally.failures.items()):
            print(f"   {len(failed):5}  {kind}: {sign!r}  {failed[:5]}", flush=True)
        if asked.write is not None:
            written(tallies, asked.write)
        if asked.save is not None:
            saved(tally, asked.save)
        if tally.stopped:
            break
    print(f"\n{as_markdown(tallies)}")
    if tallies[-1].stopped:
        return 130
    return 1 if any(tally.failed for tally in tallies) else 0


if __name__ == "__main__":
    raise SystemExit(main())
