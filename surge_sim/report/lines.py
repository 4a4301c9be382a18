"""Sentences broken into lines; a number stays on one line with its unit."""

from __future__ import annotations

import re
import textwrap

#: a space between a number and its unit, or between a name and the share that goes with it
_HELD = re.compile(
    r"(?<=\d) (?=(?:s|min|h|d|%|L/min|kits|per)(?:\W|$))"
    r"|(?<=[a-z]) (?=[\d.]+ %(?:[,;)]|$))"
)
_HARD = "\N{NO-BREAK SPACE}"


def held_together(text: str) -> str:
    """Return the text with no-break spaces where no line should end."""
    return _HELD.sub(_HARD, text)


def broken(
    text: str, columns: int, first: str = "", rest: str = "", most: int | None = None
) -> list[str]:
    """Return a sentence in lines of so many columns.

    Parameters
    ----------
    text : str
        The sentence; cells that are set apart by blanks stay so.
    columns : int
        Longest line.
    first, rest : str
        What the first line and the others begin with.
    most : int, optional
        Number of lines; what has no room is left out, with dots.

    Returns
    -------
    list of str
        None for an empty text.
    """
    lines = textwrap.wrap(
        held_together(text), columns, initial_indent=first,
        subsequent_indent=rest, break_on_hyphens=False, max_lines=most, placeholder=" ...",
    )  # fmt: skip
    return [line.replace(_HARD, " ") for line in lines]
