"""A document for the terminal: as wide as it is, with colours or without, in the same words."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from io import StringIO
from itertools import groupby, pairwise

from rich.cells import cell_len
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table as Grid
from rich.text import Text

from surge_sim.plain import for_screen
from surge_sim.report import document as doc
from surge_sim.report.phrases import folded

#: a narrower terminal gets lines of so many columns, a wider one too
NARROWEST, WIDEST = 40, 100

#: characters of a command that stands beside its label; a longer one stands below it, in lines
#: that a shell joins
_COMMAND_COLUMNS = 50

#: blanks between the columns of a table, and behind the labels of rows
_GAP = 2

_TITLE, _HEADING, _ANSWER, _HEADER, _WARNING, _CAUTION = (
    "bold", "bold cyan", "bold", "bold", "bold yellow", "dim",
)  # fmt: skip

#: a space between a number and its unit, where no line should end
_HELD = re.compile(
    r"(?<=\d) (?=(?:s|min|h|d|%|L/min|kits|per|of)(?:\W|$))|(?<=\bof) (?=\d)"
    r"|(?<=\d min) (?=\d+ s\b)|(?<=\d h) (?=\d+ min\b)|(?<=\d d) (?=\d+ h\b)"
)
#: stands for such a space while lines are broken: rich would break at any blank
_STAYS = "\ue000"


def render(document: doc.Document, columns: int = 80, colour: bool = False) -> str:
    """Return a document as text.

    Parameters
    ----------
    document : Document
        What is said.
    columns : int
        Width of the terminal; lines are from 40 to 100 columns long at most.
    colour : bool
        Whether the text has colours. The words and the lines are the same without.

    Returns
    -------
    str
        Lines without blanks at their ends; no line feed at the end of the last one.
    """
    paper = StringIO()
    console = Console(
        file=paper, width=min(max(columns, NARROWEST), WIDEST), force_terminal=colour,
        color_system="standard" if colour else None, no_color=not colour, legacy_windows=False,
        markup=False, emoji=False, highlight=False, _environ={},
    )  # fmt: skip
    blocks = document.blocks
    for before, block in pairwise((None, *blocks)):
        if before is not None and block is not None and _apart(before, block):
            console.print()
        if block is not None:
            # a command that is too long runs over: cut it would not run
            console.print(_shown(block, console), crop=False)
    lines = paper.getvalue().replace(_STAYS, " ").split("\n")
    return "\n".join(line.rstrip() for line in lines).rstrip("\n")


def _apart(before: doc.Block, block: doc.Block) -> bool:
    """Say whether an empty line stands between two blocks."""
    if isinstance(before, doc.Heading):
        return before.level == 1 and not isinstance(block, doc.Paragraph)
    return type(before) is not type(block) or not isinstance(block, doc.Remark | doc.Figure)


def _shown(block: doc.Block, console: Console) -> RenderableType:
    match block:
        case doc.Heading(text, level):
            return _text(text, _TITLE if level == 1 else _HEADING)
        case doc.Answer(text):
            return _text(text, _ANSWER)
        case doc.Paragraph(text):
            return _text(text)
        case doc.Quote(text):
            return Padding(_text(text), (0, 2, 0, 2))
        case doc.Sentences(items):
            return Group(*(_hanging(item) for item in items))
        case doc.Rows(rows):
            return _rows(rows, console)
        case doc.Table():
            return _table(block, console)
        case doc.Figure(file, caption):
            return _labelled("Figure: ", f"{caption} ({file})", "")
        case doc.Remark("caution", text):
            return _text(text, _CAUTION)
        case doc.Remark(kind, text):
            return _labelled(f"{kind.capitalize()}: ", text, _WARNING * (kind == "warning"))


def _rows(rows: tuple[tuple[str, str], ...], console: Console) -> RenderableType:
    """Return labels with their texts beside them; a long command stands below its label."""
    parts: list[RenderableType] = []
    for is_long, group in groupby(rows, lambda row: folded(row[1], _COMMAND_COLUMNS) != row[1]):
        if is_long:
            for label, text in group:
                parts += [_text(label, _HEADING)] if label else []
                command = textwrap.indent(folded(_plain(text), console.width - 4), "  ")
                parts.append(Text(command, no_wrap=True, overflow="ignore"))
            continue
        grid = Grid.grid(padding=(0, _GAP, 0, 0))
        grid.add_column(max_width=console.width // 3, overflow="fold")
        grid.add_column(overflow="fold")
        for label, text in group:
            grid.add_row(_text(label, _HEADING), _text(text))
        parts.append(grid)
    return Group(*parts)


def _text(text: str, style: str = "") -> Text:
    """Return a text as text: orders to the terminal written out, no markup, one blank each."""
    return Text(_HELD.sub(_STAYS, _plain(text)), style=style)


def _plain(text: str) -> str:
    return " ".join(for_screen(text).split())


def _labelled(label: str, text: str, style: str) -> Text:
    return Text.assemble((label, style), _text(text))


def _hanging(text: str) -> RenderableType:
    """Return a sentence whose further lines stand two columns further in."""
    grid = Grid.grid()
    grid.add_column(width=2)
    grid.add_column(overflow="fold")
    grid.add_row("-", _text(text))
    return grid


def _table(table: doc.Table, console: Console) -> RenderableType:
    """Return a table in columns, or, where these have no room, row below row."""
    widths = _widths(table, console.width)
    if widths is None:
        return Group(*_row_below_row(table))
    grid = Grid(box=None, padding=(0, _GAP, 0, 0), pad_edge=False, header_style=_HEADER)
    for column, width in zip(table.columns, widths, strict=True):
        grid.add_column(
            _text(column.head), justify=column.align, vertical="bottom", width=width,
            overflow="fold",
        )  # fmt: skip
    for place, row in enumerate(table.rows):
        style = _HEADING if place in table.groups else ""
        style = _TITLE if place in (*table.sums, *table.strong) else style
        grid.add_row(*(_text(cell, style) for cell in row))
    return grid


def _widths(table: doc.Table, width: int) -> list[int | None] | None:
    """Return the widths of the columns of numbers, whose cells stay whole, and None for words.

    Heads take up to three lines, then words less room than they ask for; None if that is not
    enough.
    """
    gaps = _GAP * (len(table.columns) - 1)
    rows = [row for place, row in enumerate(table.rows) if place not in table.groups]
    cells = zip(*rows, strict=True)
    needs = [max(map(cell_len, map(_plain, column))) for column in cells]
    words = sum(
        need for column, need in zip(table.columns, needs, strict=True) if column.align == "left"
    )
    for room in (words, min(words, 2 * width // 5), min(words, width // 4)):
        for lines in (1, 2, 3):
            widths = [
                max(need, _narrowest(column.head, lines)) if column.align == "right" else None
                for column, need in zip(table.columns, needs, strict=True)
            ]
            if room + gaps + sum(size or 0 for size in widths) <= width:
                return widths
    return None


def _narrowest(text: str, lines: int) -> int:
    """Return the least width at which a text takes so many lines."""
    longest = max(map(len, text.split()), default=0)
    wide_enough = (
        width
        for width in range(longest, len(text))
        if len(textwrap.wrap(text, max(width, 1))) <= lines
    )
    return next(wide_enough, len(text))


def _row_below_row(table: doc.Table) -> Iterator[RenderableType]:
    first, *others = table.columns
    for place, (name, *cells) in enumerate(table.rows):
        if place in table.groups:
            yield _text(name, _HEADING)
            continue
        yield _text(f"{first.header}: {name}" if first.header else name, _HEADER)
        said = [
            f"{column.head}: {cell}" for column, cell in zip(others, cells, strict=True) if cell
        ]
        yield Padding(_text("; ".join(said)), (0, 0, 0, 2))
