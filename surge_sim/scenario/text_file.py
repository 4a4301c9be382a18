"""Text and CSV from files: ordinary files only, in UTF-8; every row keeps its line."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from array import array
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from surge_sim.errors import MOST_ALIKE, Fault, echo, more_like_this
from surge_sim.scenario.former_names import FORMER_NAMES

#: control characters, invisible ones, those that turn the direction of text, other line ends
_HIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e"
    "\u2060-\u206f\ud800-\uf8ff\ufeff\ufff9-\uffff\U000e0000-\U000e0fff\U000f0000-\U0010ffff]"
)
#: with more of them, it is no text
_MOST_HIDDEN = 100
_UTF_8 = "Save the file as plain text in UTF-8; in a spreadsheet, choose CSV in UTF-8."


def read_bytes(path: Path, most: int) -> bytes:
    """Read an ordinary file of at most `most` bytes.

    Raises
    ------
    OSError
        If it cannot be read; ``strerror`` says why, in words that go on a sentence.
    """
    try:
        size = path.stat().st_size
    except FileNotFoundError:
        raise OSError(0, "there is no such file") from None
    except ValueError:
        raise OSError(0, "its name cannot be that of a file") from None
    if path.is_dir():
        raise OSError(0, "it is a folder")
    if not path.is_file():  # reading a pipe would wait for whoever writes to it
        raise OSError(0, "it is not an ordinary file")
    if size > most:
        raise OSError(0, f"it is larger than {most:,} bytes")
    with path.open("rb") as stream:
        return stream.read(most)


def why_unreadable(error: OSError) -> str:
    """Say why a file cannot be read, to go on a sentence."""
    return (error.strerror or "the system refuses").lower()


def text_of(data: bytes, file: str) -> tuple[str | None, list[Fault]]:
    """Decode a file.

    Parameters
    ----------
    data : bytes
        What is in the file.
    file : str
        Its name, for messages.

    Returns
    -------
    text : str or None
        With every line end as a line feed, and without what does not print; None if it is no text
        in UTF-8.
    faults : list of Fault
        With their lines.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = 0 if b"\0" in data else data.count(b"\n", 0, error.start) + 1
        return None, [Fault(file, line, "is not plain text in UTF-8.", _UTF_8)]
    return cleaned_text(text, file)


def cleaned_text(text: str, file: str) -> tuple[str | None, list[Fault]]:
    """Do the same as :func:`text_of` for text that is decoded already."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    hidden = list(_HIDDEN.finditer(text))
    if len(hidden) > _MOST_HIDDEN:
        found = f"is not plain text: {len(hidden):,} of its characters do not print."
        return None, [Fault(file, 0, found, _UTF_8)]
    faults = [
        Fault(file, text.count("\n", 0, one.start()) + 1, *hidden_character(one[0]))
        for one in hidden
    ]
    return (_HIDDEN.sub("", text) if hidden else text), faults


def hidden_in(text: str) -> str | None:
    """Return the first character of a text that does not print; line feeds and tabs do."""
    found = _HIDDEN.search(text)
    return found[0] if found else None


def hidden_character(one: str) -> tuple[str, str]:
    """Say that a character does not print, and what to do."""
    name = unicodedata.name(one, "a control character").lower()
    found = f"holds a character that does not print: U+{ord(one):04X} ({name})."
    return found, "Delete it, or type the text here anew."


Value = TypeVar("Value")

_MOST_KNOWN = 10_000
_HEADER = "Write a header line with the names of the columns, then rows."
_SEPARATORS = {";": "semicolons", "\t": "tabs", "|": "bars"}


@dataclass
class Table:
    """A CSV file: the columns that are asked for, and the line of each row."""

    name: str
    header: list[str]
    columns: dict[str, list[str]]
    faults: list[Fault]
    lines: array[int] = field(default_factory=lambda: array("q"))
    #: what a planner should look at
    warnings: list[str] = field(default_factory=list)

    def fault(self, line: int, found: str, right: str) -> None:
        """Note one fault."""
        self.faults.append(Fault(self.name, line, found, right))

    def column(self, name: object) -> list[str] | None:
        """Take a column, or note that it is not there."""
        if isinstance(name, str) and name in self.columns:
            return self.columns[name]
        former = [one for one in self.columns if FORMER_NAMES.get(one) == name]
        if former:
            right = f"It is called `{name}` now."
            self.fault(1, f"has a column '{echo(former[0])}', a former name.", right)
        else:
            listed = ", ".join(echo(one) for one in self.header[:12])
            self.fault(1, f"has no column '{echo(name)}'.", f"Columns found: {listed}.")
        return None

    def rows_wrong(self, rows: Sequence[int], what: str, cells: list[str], right: str) -> None:
        """Note that cells of a column are wrong; many of them as one fault."""
        more = ""
        if len(rows) > MOST_ALIKE:
            more = more_like_this(len(rows) - 1, (self.lines[one] for one in rows[1:7]))
        for row in rows[:1] if more else rows:
            self.fault(self.lines[row], f"{what} is '{echo(cells[row])}'.", right + more)

    def read(
        self, name: str, cells: list[str], parse: Callable[[str], Value | None], right: str
    ) -> list[Value] | None:
        """Read each cell of a column; None (and faults by line) if one is wrong."""
        values = [parse(cell) for cell in cells]
        wrong = [row for row, value in enumerate(values) if value is None]
        self.rows_wrong(wrong, name, cells, right)
        return None if wrong else [value for value in values if value is not None]

    def numbers(self, name: str, cells: list[str], most: float) -> list[float] | None:
        """Read a column of numbers from 0 to `most`."""

        def parse(cell: str) -> float | None:
            number = number_in(cell)
            return number if number is not None and 0 <= number <= most else None

        right = f"Write a number from 0 to {most:,.0f}, with a point for decimals."
        return self.read(name, cells, parse, right)


def number_in(cell: str) -> float | None:
    """Read a number; None for what is none."""
    try:
        return float(cell) if "_" not in cell else None
    except ValueError:
        return None


def read_table(
    text: str, name: str, wanted: Callable[[list[str]], list[str]], faults: list[Fault]
) -> Table | None:
    """Split CSV text into columns.

    Parameters
    ----------
    text : str
        With line feeds at the ends of lines.
    name : str
        Name of the file, for messages.
    wanted : callable
        Names the columns to keep, given the header.
    faults : list of Fault
        What is wrong is added to it.

    Returns
    -------
    Table or None
        Rows that are broken are left out; None where columns cannot be told apart.
    """
    table = Table(name, [], {}, faults)
    first = text[:100_000].partition("\n")[0]
    found = [one for one in _SEPARATORS if "," not in first and one in first]
    if found:
        right = "Save it as CSV with commas between columns and points for decimals."
        table.fault(1, f"has {_SEPARATORS[found[0]]} between columns.", right)
        return None
    told, rows = len(faults), _rows(text, table)
    _, header = next(rows, (1, []))
    table.header = [word.strip() for word in header]
    if not header:
        if len(faults) == told:
            table.fault(1, "has no header line.", _HEADER)
        return None
    for one, count in Counter(table.header).items():
        if one and count > 1:
            table.fault(1, f"has {count:,} columns named '{echo(one)}'.", "Keep one of them.")
    told = len(faults)
    keep = {one: table.header.index(one) for one in wanted(table.header) if one in table.header}
    table.columns = {one: [] for one in keep}
    width, empty = len(header), array("q")
    known: dict[str, str] = {}  # names that come again and again are kept once
    for line, row in rows:
        if not any(row):
            empty.append(line)
        elif len(row) != width:
            right = "Keep as many values in a row as there are columns"
            right += "; a decimal comma parts a number in two: write a point."
            table.fault(line, f"has {len(row):,} values for {width:,} columns.", right)
        else:
            table.lines.append(line)
            for one, number in keep.items():
                cell = " ".join(row[number].split())  # a line break within quotes is a space
                table.columns[one].append(known.get(cell, cell))
                if len(known) < _MOST_KNOWN:
                    known.setdefault(cell, cell)
    if not table.lines and len(faults) == told:
        table.fault(1, "has no rows.", _HEADER)
    for line in empty:
        # what comes after the last row is no row
        if table.lines and line < table.lines[-1]:
            table.fault(line, "is an empty row.", "Delete it.")
    return table


def _rows(text: str, table: Table) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line where it begins, up to one that is broken."""
    reader = csv.reader(io.StringIO(text, newline="\n"), strict=True)
    line = 1
    try:
        for row in reader:
            yield line, row
            line = reader.line_num + 1
    except csv.Error as error:
        if "limit" in str(error):
            found = f"has a value of more than {csv.field_size_limit():,} characters."
            table.fault(line, found, "Look for a quote left open.")
        else:
            right = "Close it where the value ends; a quote inside a value is written twice."
            table.fault(line, "has a quote that is not closed, or closed too early.", right)
