"""Measure, print the table of figures, and write it down: ``python -m tests.benchmarks``.

``--quick`` takes a minute or two and says little; ``--write`` puts the table into
tests/README.md; names of parts (memory, start, speed, growth, run, size, page, scaling) measure
only these, and do not go with ``--write``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator

from tests.benchmarks.memory import peaks
from tests.benchmarks.row import Row
from tests.benchmarks.scaling import scaling
from tests.benchmarks.speed import ROOT, growth, shipped
from tests.benchmarks.start import starts
from tests.benchmarks.whole import pages, runs, sizings

PARTS: dict[str, Callable[[bool], Iterator[Row]]] = {
    "memory": peaks,
    "start": starts,
    "speed": shipped,
    "growth": growth,
    "run": runs,
    "size": sizings,
    "page": pages,
    "scaling": scaling,
}
README = ROOT / "tests" / "README.md"
START, END = "<!-- figures: begin -->", "<!-- figures: end -->"


def as_markdown(rows: list[Row]) -> str:
    """The table of figures."""
    said = {None: "", True: "met", False: "**not met**"}
    lines = ["| what | found | aim | |", "| --- | --- | --- | --- |"]
    lines += [f"| {row.what} | {row.found} | {row.aim} | {said[row.met]} |" for row in rows]
    return "\n".join(lines)


def main(words: list[str]) -> int:
    """Measure what is asked for."""
    quick, write = "--quick" in words, "--write" in words
    asked = [word for word in words if not word.startswith("--")] or list(PARTS)
    if unknown := set(asked) - set(PARTS):
        print(f"no part {', '.join(sorted(unknown))}; known: {', '.join(PARTS)}", file=sys.stderr)
        return 2
    if write and set(asked) != set(PARTS):
        print("--write puts the whole table down: it goes with all parts only", file=sys.stderr)
        return 2
    rows: list[Row] = []
    for part in asked:
        for row in PARTS[part](quick):
            rows.append(row)
            mark = {None: "", True: f"(aim: {row.aim}: met)", False: f"(aim: {row.aim}: NOT MET)"}
            print(f"{row.what:<75} {row.found}  {mark[row.met]}", flush=True)
    if write:
        before, rest = README.read_text(encoding="utf-8").split(START)
        after = rest.split(END)[1]
        table = f"{before}{START}\n\n{as_markdown(rows)}\n\n{END}{after}"
        README.write_text(table, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
