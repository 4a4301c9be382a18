"""An answer as blocks of words and numbers; how they are laid out is each renderer's own.

A block holds plain text, whatever is in it: a renderer shows text as text and never takes it for
markup. Numbers come as they are to be read, from ``rounding``; a renderer rounds nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Heading:
    """What the blocks below it are about; level 1 is the title of the document."""

    text: str
    level: Literal[1, 2] = 2


@dataclass(frozen=True)
class Answer:
    """One or two sentences that answer the question, to be read aloud."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """Sentences that belong together."""

    text: str


@dataclass(frozen=True)
class Quote:
    """Words to be read aloud as they stand."""

    text: str


@dataclass(frozen=True)
class Sentences:
    """Statements that stand one by one, each on a line of its own."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class Rows:
    """Labels, each with what is said of it; an empty label goes on with the one above."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Column:
    """The head of a column; numbers stand at the right, words at the left.

    Parameters
    ----------
    header : str
        What its cells are; empty for the names of the rows.
    unit : str
        Unit of its numbers, ``"min"``; empty for words and counts.
    align : {"left", "right"}
        Where its cells stand.
    """

    header: str
    unit: str = ""
    align: Literal["left", "right"] = "right"

    @property
    def head(self) -> str:
        """Header and unit as they stand above the column: ``wait (min)``."""
        return f"{self.header} ({self.unit})" if self.unit else self.header


@dataclass(frozen=True)
class Table:
    """Rows of cells below the heads of their columns; the first column names the rows.

    Parameters
    ----------
    columns : tuple of Column
        Heads.
    rows : tuple of tuples of str
        One cell for each column.
    sums : tuple of int
        Rows that sum up those above them, from 0.
    strong : tuple of int
        Rows to look at first.
    groups : tuple of int
        Rows that name the rows below them; their other cells are empty.
    """

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    sums: tuple[int, ...] = ()
    strong: tuple[int, ...] = ()
    groups: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        """Refuse rows that have not one cell for each column."""
        if any(len(row) != len(self.columns) for row in self.rows):
            raise ValueError("each row of a table has one cell for each column")
        if any(cell for place in self.groups for cell in self.rows[place][1:]):
            raise ValueError("a row that names the rows below it has no other cells")


@dataclass(frozen=True)
class Figure:
    """A picture that lies in the results folder.

    Parameters
    ----------
    file : str
        Path of the picture in the folder, ``figures/wait_curve.png``.
    caption : str
        What it shows, in a sentence; it also stands for the picture where none can be shown.
    """

    file: str
    caption: str


@dataclass(frozen=True)
class Remark:
    """A note explains, a warning says what may be wrong, a caution says what is not claimed."""

    kind: Literal["note", "warning", "caution"]
    text: str


Block = Heading | Answer | Paragraph | Quote | Sentences | Rows | Table | Figure | Remark


@dataclass(frozen=True)
class Document:
    """Blocks in the order in which they are read; build it with :func:`document`."""

    blocks: tuple[Block, ...]


def document(*blocks: Block | None) -> Document:
    """Return a document of the blocks that say something: None and empty ones are left out."""
    return Document(tuple(block for block in blocks if block is not None and _says(block)))


def _says(block: Block) -> bool:
    match block:
        case Sentences(items):
            return bool(items)
        case Rows(rows) | Table(_, rows):
            return bool(rows)
        case Figure():
            return True
        case _:
            return bool(block.text)
