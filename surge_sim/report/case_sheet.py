"""A sheet of a workbook: heads that stay, typed numbers, and text that is never a formula."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.cautions import CAUTION_ON_PAPER
from surge_sim.plain import visible

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.workbook import Workbook

#: characters that a cell may hold
_LONGEST = 32_000
_WIDTH = 18
_FOOT = f"{CAUTION_ON_PAPER} In full: sheet 'Read me'"


@dataclass(frozen=True)
class Formula:
    """A formula of the tool's own, without its equals sign; nothing else becomes one."""

    text: str


def add_sheet(
    book: Workbook,
    name: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[Any]],
    widths: Sequence[int] = (),
) -> None:
    """Add a sheet with a row of heads that stays in sight, and the caution on each printed page.

    Parameters
    ----------
    book : Workbook
        Gets the sheet.
    name : str
        Of the sheet.
    heads : sequence of str
        With the units of the numbers below.
    rows : iterable of sequences
        Numbers, texts, truth values, None, `Formula`.
    widths : sequence of int
        Of the columns, in characters; missing: the same for all.
    """
    from openpyxl.styles import Alignment, Font, PatternFill
    from openpyxl.utils import get_column_letter

    sheet = book.create_sheet(name)
    for place, head in enumerate(heads, 1):
        cell = sheet.cell(1, place)
        put(cell, head)
        cell.font, cell.fill = Font(bold=True), PatternFill("solid", fgColor="DDE6F0")
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        width = widths[place - 1] if widths else 32 if place == 1 else _WIDTH
        sheet.column_dimensions[get_column_letter(place)].width = width
    for number, row in enumerate(rows, 2):
        for place, value in enumerate(row, 1):
            cell = sheet.cell(number, place)
            put(cell, value)
            if widths and isinstance(value, str):
                cell.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.freeze_panes = "B2"
    sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"
    # a sheet is printed and passed on without the others
    sheet.oddFooter.left.text, sheet.oddFooter.left.size = _FOOT, 7


def put(cell: Cell, value: Any) -> None:
    """Write a value into a cell: a number as a number, a text as text whatever it begins with."""
    if isinstance(value, Formula):
        cell.value = f"={value.text}"
        return
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return
    if isinstance(value, str):
        cell.value = visible(value)[:_LONGEST]
        # also of what begins with an equals sign, or reads like an error
        cell.data_type = "s"
        cell.style = cell.style
        cell.quotePrefix = value[:1] in tuple("=+-@\t\r")
        return
    value = value.item() if hasattr(value, "item") else value
    cell.value = ("yes" if value else "no") if isinstance(value, bool) else value


def letter(columns: Sequence[str], name: str) -> str:
    """Return the letter of a column of a sheet of data."""
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(list(columns).index(name) + 1))
