"""Text from files, names and the command line is shown as text, whatever is in it."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

#: no sign of a text, but an order to a terminal or an editor: control characters, separators of
#: lines, changes of the direction of writing, and halves of a character
_ORDERS = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
#: a longer line is shortened where it is shown
_LONGEST_LINE = 1_000
#: spreadsheets take a cell that begins with one of these for a formula
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def visible(text: str) -> str:
    r"""Return the text with orders to a terminal written out, as ``\x1b``; lines stay lines."""
    return _ORDERS.sub(lambda found: ascii(found[0])[1:-1], text)


def for_screen(text: str) -> str:
    """Return the text as a terminal may show it, without orders and without endless lines."""
    return "\n".join(map(_shortened, visible(text).split("\n")))


def _shortened(line: str) -> str:
    if len(line) <= _LONGEST_LINE:
        return line
    half = _LONGEST_LINE // 2
    left_out = len(line) - 2 * half
    return f"{line[:half]} ... [{left_out:,} characters left out] ... {line[-half:]}"


def json_text(answer: Mapping[str, Any]) -> str:
    """Return one JSON object; a number that JSON does not know (nan, infinity) is refused."""
    text = json.dumps(answer, indent=2, ensure_ascii=False, allow_nan=False)
    # only texts can hold them, and JSON has an escape for each
    return _ORDERS.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def csv_text(table: pd.DataFrame, header: bool = True, **how: Any) -> str:
    """Return a table as CSV text in which no cell is a formula.

    A text that a spreadsheet would take for a formula gets an apostrophe in front; numbers stay
    as they are, and missing ones are empty.

    Parameters
    ----------
    table : DataFrame
        Numbers and texts.
    header : bool
        Whether the names of the columns come first.
    **how
        Further arguments of ``DataFrame.to_csv``.
    """
    texts = table.select_dtypes(exclude="number").columns
    safe = table.assign(**{column: table[column].map(_cell) for column in texts})
    safe.columns = [_cell(column) for column in safe.columns]
    return str(safe.to_csv(index=False, header=header, lineterminator="\n", **how))


def _cell(value: object) -> object:
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value
