"""What the tool was checked against: the table that the tests write, read from the package."""

from __future__ import annotations

import json
import textwrap
from importlib.resources import files
from itertools import groupby

#: columns of the printed text
WIDTH = 80
_VALUE, _FOUND = 9, 19


def checks() -> list[dict[str, str]]:
    """Return every check against the outside world.

    Returns
    -------
    list of dict
        Keys ``id``, ``group``, ``quantity``, ``published`` (as printed in the source),
        ``computed`` (a simulated value with its standard error behind ``±``), ``computed_by``
        (``surge_sim``, or ``theory`` for a formula that judges it), ``source``, ``how_sure``.
        Written by ``python -m tests.validation.table``.
    """
    text = files("surge_sim.report").joinpath("sources.json").read_text(encoding="utf-8")
    table: list[dict[str, str]] = json.loads(text)["checks"]
    return table


def checks_with(words: tuple[str, ...]) -> list[dict[str, str]]:
    """Return the checks in which every word stands somewhere, whatever its case."""
    return [
        check
        for check in checks()
        if all(word.lower() in " ".join(check.values()).lower() for word in words)
    ]


def checks_text(table: list[dict[str, str]]) -> str:
    """Return the checks as plain text, by group and source, 80 columns wide."""
    sources = len({check["source"] for check in table})
    tool = sum(check["computed_by"] == "surge_sim" for check in table)
    lines = textwrap.wrap(
        f"{_many(len(table), 'check')} against {_many(sources, 'source')}: {tool} of surge_sim "
        f"itself, {len(table) - tool} of the formulas that judge it. ± is the standard error of "
        "a simulated value.",
        WIDTH,
    )
    for group, members in groupby(table, lambda check: check["group"]):
        lines += ["", group.upper()]
        kinds = groupby(members, lambda check: (check["source"], check["how_sure"]))
        for (source, sure), rows in kinds:
            lines += textwrap.wrap(f"{source} [{sure}]", WIDTH - 2, initial_indent="  ",
                                   subsequent_indent="  ")  # fmt: skip
            for check in rows:
                lines += _row(check)
    return "\n".join(lines)


def _many(number: int, what: str) -> str:
    return f"{number} {what}" + ("" if number == 1 else "s")


def _row(check: dict[str, str]) -> list[str]:
    """Lines of one check; the quantity is wrapped, the values stand on its last line."""
    room = WIDTH - 4 - 5 - _VALUE - _FOUND - 2
    *before, last = textwrap.wrap(check["quantity"], room) or [""]
    values = f"{check['published']:>{_VALUE}} {check['computed']:>{_FOUND}}"
    parts = [*before, f"{last:<{room}} {values}"]
    heads = [check["id"], *[""] * len(before)]
    return [f"    {head:<5}{part}".rstrip() for head, part in zip(heads, parts, strict=True)]
