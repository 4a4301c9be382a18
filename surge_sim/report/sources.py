"""What the tool was checked against: the table that the tests write, read from the package."""

from __future__ import annotations

import json
import textwrap
from importlib.resources import files
from itertools import groupby

from surge_sim.cautions import CAUTION
from surge_sim.report.rounding import counted

#: columns of the printed text
WIDTH = 80
_ID, _VALUE, _FOUND, _OFF = 5, 9, 19, 5
_QUANTITY = WIDTH - 4 - _ID - _VALUE - _FOUND - _OFF - 2


def checks() -> list[dict[str, str]]:
    """Return every check against the outside world.

    Returns
    -------
    list of dict
        Keys ``id``, ``group``, ``quantity``, ``reference_value`` (as its source has it),
        ``computed`` (a simulated value with its standard error behind ``±``), ``computed_by``
        (``surge_sim``, or ``theory`` for a formula that judges it), ``source``, ``kind``
        (of reference value: published, recomputed, other software, from memory, own derivation),
        ``would_not_notice`` (faults that would leave the value as it is). Written by
        ``python -m tests.validation.table``.
    """
    text = files("surge_sim.report").joinpath("sources.json").read_text(encoding="utf-8")
    table: list[dict[str, str]] = json.loads(text)["checks"]
    return table


def checks_with(words: tuple[str, ...]) -> list[dict[str, str]]:
    """Return the checks in which every word stands somewhere, whatever its case.

    What a check would not notice is left out: the word names something else there.
    """
    return [
        check
        for check in checks()
        if all(
            word.lower() in " ".join({**check, "would_not_notice": ""}.values()).lower()
            for word in words
        )
    ]


def checks_text(table: list[dict[str, str]]) -> str:
    """Return the checks as plain text, by group and source; the caution at both ends."""
    sources = len({check["source"] for check in table})
    tool = sum(check["computed_by"] == "surge_sim" for check in table)
    lines = textwrap.wrap(
        f"{counted(len(table), 'check')} against {counted(sources, 'source')}: {tool} of surge_sim "
        f"itself, {len(table) - tool} of the formulas that judge it. All of them agree: a computed "
        "value differs by at most half a unit of the last digit of the reference value. A "
        "simulated one (± its standard error) may lie further off, by as much as a right program "
        "exceeds 3 times in 1,000,000: 4.7 standard errors, more where few runs tell the error. "
        "The last column says how many it is; by chance one in twenty is above 2. No check "
        "notices a smaller error "
        "than that; what else it would not notice stands above it.",
        WIDTH,
    )
    for group, members in groupby(table, lambda check: check["group"]):
        lines += ["", group.upper(), _line("id", "quantity", "reference", "computed", "off")]
        for hidden, rows in groupby(members, lambda check: check["would_not_notice"]):
            lines += _block("  Would not notice: ", hidden)
            kinds = groupby(rows, lambda check: (check["source"], check["kind"]))
            for (source, kind), alike in kinds:
                lines += _block("  ", f"{source} [{kind}]")
                for check in alike:
                    lines += _row(check)
    # at both ends: of so long a text some read one only
    caution = textwrap.wrap(CAUTION, WIDTH)
    return "\n".join([*caution, "", *lines, "", *caution])


def _block(label: str, text: str) -> list[str]:
    return textwrap.wrap(text, WIDTH - 2, initial_indent=label, subsequent_indent="  ")


def _row(check: dict[str, str]) -> list[str]:
    """Lines of one check; the quantity is wrapped, the values stand on its last line."""
    *before, last = textwrap.wrap(check["quantity"], _QUANTITY) or [""]
    heads = [check["id"], *[""] * len(before)]
    lines = [_line(head, part) for head, part in zip(heads, before, strict=False)]
    return [
        *lines,
        _line(heads[-1], last, check["reference_value"], check["computed"], _off(check)),
    ]


def _line(head: str, quantity: str, reference: str = "", computed: str = "", off: str = "") -> str:
    values = f"{reference:>{_VALUE}} {computed:>{_FOUND}}{off:>{_OFF}}"
    return f"    {head:<{_ID}}{quantity:<{_QUANTITY}} {values}".rstrip()


def _off(check: dict[str, str]) -> str:
    """How many standard errors a simulated value lies from the reference value."""
    value, sign, error = check["computed"].partition(" ± ")
    if not sign or not float(error):
        return ""
    reference = float(check["reference_value"].replace(",", ""))
    return f"{abs(float(value) - reference) / float(error):.1f}"
