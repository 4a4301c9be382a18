"""The table of results in README.md beside this file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.faults.catalogue import FAULTS
from tests.faults.fault import WIDER

README = Path(__file__).with_name("README.md")
BEGIN, END = "<!-- results: begin -->", "<!-- results: end -->"
CAUGHT, SURVIVED, INVALID = "caught", "survived", "invalid"
#: least share of the faults that tests must catch
ENOUGH = 0.95


@dataclass(frozen=True)
class Result:
    """What became of one fault."""

    name: str
    domain: str
    outcome: str
    #: first test that failed
    caught_by: str
    seconds: float


def show(result: Result) -> str:
    """Return one line for the screen."""
    return f"{result.outcome:<9}{result.seconds:6.1f} s  {result.name}  {result.caught_by}"


def rows(text: str) -> dict[str, tuple[str, str]]:
    """Read the table: from a fault's name to its outcome and the test that caught it."""
    body = text.partition(BEGIN)[2].partition(END)[0]
    found = {}
    for line in body.splitlines():
        cells = [cell.strip().strip("`") for cell in line.strip("|").split(" | ")]
        if line.startswith("| ") and len(cells) == 3 and cells[1] in (CAUGHT, SURVIVED, INVALID):
            found[cells[0].strip()] = (cells[1], cells[2].strip(" |`"))
    return found


def with_rows(text: str, known: dict[str, tuple[str, str]]) -> str:
    """Write the table of all faults of the catalogue with what is known of them."""
    lines = []
    judged = [known[fault.name] for fault in FAULTS if fault.name in known]
    caught = sum(outcome == CAUGHT for outcome, _ in judged)
    share = 100 * caught / max(len(judged), 1)
    left = len(FAULTS) - len(judged)
    rest_words = f" Another {left} were not put in yet." if left else ""
    lines.append(f"{caught} of {len(judged)} faults are caught: {share:.1f} %.{rest_words}\n")
    for domain in WIDER:
        lines.append(f"### {domain.capitalize()}\n")
        lines.append("| fault | outcome | caught by |\n| --- | --- | --- |")
        for fault in FAULTS:
            if fault.domain == domain and fault.name in known:
                outcome, caught_by = known[fault.name]
                test = f"`{caught_by}`" if caught_by else "see below"
                lines.append(f"| {fault.name} | {outcome} | {test} |")
        lines.append("")
    before, _, rest = text.partition(BEGIN)
    after = rest.partition(END)[2]
    return f"{before}{BEGIN}\n\n" + "\n".join(lines) + f"\n{END}{after}"


def write(results: Sequence[Result]) -> None:
    """Enter results; rows of other faults stay as they are."""
    text = README.read_text(encoding="utf-8")
    known = rows(text) | {one.name: (one.outcome, one.caught_by) for one in results}
    README.write_text(with_rows(text, known), encoding="utf-8")
