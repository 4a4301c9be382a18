"""Text for the terminal at hand: answers are 80 columns wide, a narrower screen gets less."""

from __future__ import annotations

import os
import re
import shutil
import sys
import textwrap
from collections.abc import Sequence

import click

from surge_sim.plain import for_screen
from surge_sim.report.document import Document
from surge_sim.report.lines import held_together

#: width of the answers as they are made
WIDTH = 80
#: no narrower than this
_LEAST = 40
#: a row of a table or of an evidence: two gaps and more between its cells
_TABLE_ROW = re.compile(r"\S {2,}\S.*\S {2,}\S|^ {20,}\S")

#: a label in front of a sentence, with its gap
_LABEL = re.compile(r" *\S+(?: \S+)* {2,}")


def show(answer: Document | str) -> None:
    """Print an answer as wide as the terminal, with colours where it shows them."""
    columns = shutil.get_terminal_size((WIDTH, 24)).columns
    if isinstance(answer, Document):
        from surge_sim.report.terminal import render

        click.echo(render(answer, columns, has_colours()))
    else:
        click.echo(narrowed(for_screen(answer), columns))


def has_colours() -> bool:
    """Say whether standard output is a terminal that shows colours, and nobody refused them."""
    refused = os.environ.get("NO_COLOR") or os.environ.get("TERM") in ("dumb", "unknown")
    return sys.stdout.isatty() and not refused


def narrowed(text: str, columns: int) -> str:
    """Return the text with its sentences wrapped to so many columns; rows of tables stay whole."""
    if columns >= WIDTH:
        return text
    blocks: list[list[str]] = []
    for line in text.split("\n"):
        if blocks and _goes_on(blocks[-1][-1], line):
            blocks[-1].append(line)
        else:
            blocks.append([line])
    return "\n".join(line for block in blocks for line in _wrapped(block, max(columns, _LEAST)))


def _goes_on(before: str, line: str) -> bool:
    """Say whether the line before was broken because this one's first word had no room."""
    if not before.strip() or not line.strip() or _indent(line) < _indent(before):
        return False
    # what goes on behind a label stands further in
    level = _indent(line) == _indent(before)
    if _TABLE_ROW.search(line) or (level and _LABEL.match(before)):
        return False
    return len(before) + 1 + len(held_together(line.strip()).split(" ")[0]) > WIDTH


def _wrapped(block: Sequence[str], columns: int) -> list[str]:
    first = block[0]
    if len(block) == 1 and (len(first) <= columns or _TABLE_ROW.search(first)):
        return [first]
    hang = _indent(block[1]) if len(block) > 1 else _indent(first)
    if len(block) == 1:
        label = _LABEL.match(first)
        hang = label.end() if label else hang
    # a label in front stays in front, with its gap
    head = first[:hang] if first[:hang].endswith(" ") else first[: _indent(first)]
    words = " ".join([first[len(head) :], *(line.strip() for line in block[1:])])
    lines = textwrap.wrap(
        held_together(words), columns, initial_indent=head,
        subsequent_indent=" " * hang, break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))
