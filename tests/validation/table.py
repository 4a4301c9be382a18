"""Write the table of checks: ``python -m tests.validation.table``.

Every check is computed; the table goes into tests/README.md and, for ``surge-sim sources``, into
the package. A few minutes; nothing is written when a check does not hold. With ``--exact`` the
simulated values stay as they are written, and only exact ones are computed.
"""

from __future__ import annotations

import json
import sys
from itertools import groupby
from pathlib import Path
from typing import Any

from tests.validation.catalogue import CHECKS
from tests.validation.check import Check

ROOT = Path(__file__).parents[2]
README = ROOT / "tests" / "README.md"
SHIPPED = ROOT / "surge_sim" / "report" / "sources.json"
START, END = "<!-- checks: begin -->", "<!-- checks: end -->"


def row(check: Check, computed: str) -> dict[str, str]:
    """One check as it is shipped."""
    return {
        "id": check.id,
        "group": check.group,
        "quantity": check.quantity,
        "reference_value": check.reference,
        "computed": computed,
        "computed_by": check.by.value,
        "source": check.source,
        "kind": check.kind.value,
        "would_not_notice": check.unnoticed,
    }


def rows(keep: dict[str, str]) -> list[dict[str, str]]:
    """Compute every check but those whose value is kept, by id."""
    made = []
    for number, check in enumerate(CHECKS, 1):
        print(f"\r{number} of {len(CHECKS)}: {check.id} ", end="", file=sys.stderr)
        made.append(row(check, keep.get(check.id) or check.found.text))
    print(file=sys.stderr)
    return made


def shipped() -> list[dict[str, str]]:
    """Rows that are committed in the package."""
    content: dict[str, Any] = json.loads(SHIPPED.read_text(encoding="utf-8"))
    return list(content["checks"])


def as_json(table: list[dict[str, str]]) -> str:
    """Text of the file in the package."""
    return json.dumps({"checks": table}, indent=1, ensure_ascii=False) + "\n"


def as_markdown(table: list[dict[str, str]]) -> str:
    """Text between the two marks: one table per group."""
    lines = [
        f"{len(table)} checks against {len({one['source'] for one in table})} sources.",
        "`±` is the standard error of a simulated value. No check notices an error of less than",
        "half a unit of the last digit of the reference value, for a simulated value with 4.7",
        "standard errors on top; what else it would not notice stands above its table.",
    ]
    for group, members in groupby(table, lambda one: one["group"]):
        rows = list(members)
        lines += ["", f"### {group[0].upper()}{group[1:]}", "", "Would not notice:", ""]
        for hidden in dict.fromkeys(one["would_not_notice"] for one in rows):
            ids = id_ranges(rows, {one["id"] for one in rows if one["would_not_notice"] == hidden})
            lines.append(f"* {ids}: {hidden}.")
        lines += [
            "",
            "| id | quantity | reference value | computed | source | kind |",
            "| --- | --- | --- | --- | --- | --- |",
        ]
        for one in rows:
            names = ("id", "quantity", "reference_value", "computed", "source", "kind")
            lines.append("| " + " | ".join(one[name].replace("|", "/") for name in names) + " |")
    return "\n".join(lines)


def id_ranges(rows: list[dict[str, str]], chosen: set[str]) -> str:
    """Name the chosen ids, those that follow each other as from A1 to A3."""
    runs = [
        [one["id"] for one in run]
        for member, run in groupby(rows, lambda one: one["id"] in chosen)
        if member
    ]
    return ", ".join(f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(run) for run in runs)


def with_table(text: str, table: list[dict[str, str]]) -> str:
    """Replace what stands between the two marks."""
    before, rest = text.split(START)
    after = rest.split(END)[1]
    return f"{before}{START}\n\n{as_markdown(table)}\n\n{END}{after}"


def main(exact: bool = False) -> int:
    """Compute, judge, write."""
    old = shipped() if exact else []
    keep = {one["id"]: one["computed"] for one in old if " ± " in one["computed"]}
    table = rows(keep)
    judged = [check for check in CHECKS if check.id not in keep]
    trouble = [found for check in judged if (found := check.trouble())]
    for line in trouble:
        print(line, file=sys.stderr)
    if trouble:
        return 1
    SHIPPED.write_text(as_json(table), encoding="utf-8")
    README.write_text(with_table(README.read_text(encoding="utf-8"), table), encoding="utf-8")
    print(f"{len(table)} checks hold and are written down")
    return 0


if __name__ == "__main__":
    raise SystemExit(main("--exact" in sys.argv[1:]))
