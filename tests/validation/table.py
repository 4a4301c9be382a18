"""Write the table of checks into tests/README.md: `python -m tests.validation.table`."""

from __future__ import annotations

from pathlib import Path

from tests.validation.catalogue import CHECKS

README = Path(__file__).parents[1] / "README.md"
START, END = "<!-- checks: begin -->", "<!-- checks: end -->"


def rows() -> list[str]:
    """Return the lines of the table, a check each."""
    lines = ["| id | quantity | value | source | how sure |", "| --- | --- | --- | --- | --- |"]
    for check in CHECKS:
        cells = (check.id, check.quantity, check.published, check.source, check.sure.value)
        lines.append("| " + " | ".join(str(cell).replace("|", "/") for cell in cells) + " |")
    return lines


def main() -> None:
    """Replace what stands between the two marks."""
    text = README.read_text(encoding="utf-8")
    before, rest = text.split(START)
    after = rest.split(END)[1]
    table = "\n".join(rows())
    README.write_text(f"{before}{START}\n\n{table}\n\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
