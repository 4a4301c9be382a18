"""Shares of random faults that are caught, by stage, and the faults that were not.

    python -m tests.mutation.table FILE

enters the outcomes of a run of ``python -m tests.mutation --write FILE`` into README.md beside
this file; stages without outcomes there keep their rows. What a reader found about a survivor
stands in `survivors.toml` and is kept.
"""

from __future__ import annotations

import json
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from scipy.stats import binomtest

from tests.mutation.stages import AIM

HERE = Path(__file__).parent
README, FOUND = HERE / "README.md", HERE / "survivors.toml"
BEGIN, END = "<!-- results: begin -->", "<!-- results: end -->"
CAUGHT, SURVIVED, INVALID = "caught", "survived", "invalid"


class Outcome(NamedTuple):
    """What became of one fault."""

    stage: str
    fault: str
    outcome: str
    #: first test that failed, or why the fault is invalid
    test: str
    seconds: float

    def line(self) -> str:
        """Return one line for the screen."""
        return f"{self.outcome:<9}{self.seconds:7.1f} s  {self.fault}  {self.test}"


def _kept(old: str, begin: str) -> list[str]:
    """Return the lines of an old text that begin so."""
    return [line for line in old.splitlines() if line.startswith(begin)]


def summary(outcomes: Sequence[Outcome], old: str = "") -> str:
    """Return a table: by stage the faults that count, those caught, share, limits and aim.

    A stage without outcomes keeps its row of an old table.
    """
    lines = [
        "| stage | faults | caught | share | 95 % limits | aim |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for stage, aim in AIM.items():
        of_stage = [one for one in outcomes if one.stage == stage and one.outcome != INVALID]
        if not of_stage:
            lines += _kept(old, f"| {stage} | ")
            continue
        caught = sum(one.outcome == CAUGHT for one in of_stage)
        limits = binomtest(caught, len(of_stage)).proportion_ci(0.95, "exact")
        lines.append(
            f"| {stage} | {len(of_stage)} | {caught} | {caught / len(of_stage):.0%} "
            f"| {limits.low:.0%} to {limits.high:.0%} | {aim:.0%} |"
        )
    return "\n".join(lines)


def survivors(outcomes: Sequence[Outcome], found: dict[str, str], old: str = "") -> str:
    """Return a table of the faults that no test noticed, with what was found about each.

    Stages without outcomes keep their rows of an old table.
    """
    lines = ["| fault that no test noticed | what was found |", "| --- | --- |"]
    for one in outcomes:
        if one.outcome == SURVIVED:
            fault = one.fault.replace("|", "\\|")
            lines.append(f"| `{fault}` | {found.get(one.fault, 'not looked at yet')} |")
    for stage in [stage for stage in AIM if stage not in {one.stage for one in outcomes}]:
        lines += _kept(old, f"| `surge_sim/{stage}/")
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> int:
    """Enter the outcomes of a file into README.md."""
    (name,) = arguments
    rows = Path(name).read_text(encoding="utf-8").splitlines()
    # a fault that was judged again counts as it was judged last
    outcomes = list({row["fault"]: Outcome(**row) for row in map(json.loads, rows)}.values())
    found = tomllib.loads(FOUND.read_text(encoding="utf-8"))
    text = README.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    old, _, after = rest.partition(END)
    body = f"{summary(outcomes, old)}\n\n{survivors(outcomes, found, old)}"
    README.write_text(f"{before}{BEGIN}\n\n{body}\n\n{END}{after}", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
