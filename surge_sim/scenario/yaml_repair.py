"""What is wrong with text that is no YAML, line by line, and how it was probably meant.

The parser stops at the first fault. To find the others as well, the text is read on as if that
fault had been put right.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import NamedTuple

from surge_sim.errors import echo, more_like_this

#: stands for a value that cannot be read; no file holds it
UNREAD = "\ue000"
#: patterns take time with the square of a line's length; beyond this no slip is guessed
_LONGEST_GUESSED = 2_000

_QUOTED = re.compile(r"""(?:(?<=[\s\[{,])|^)(?:"(?:[^"\\]|\\.)*"|'(?:[^']|'')*')""")
_NAMED = re.compile(r"^(\s*(?:- +)*)([^\s:#\[\]{},\"'&*!|>%@`-][^:#\[\]{}]*?) *:(?: +(.*?))?\s*$")
_PAIRS = {"{": "}", "[": "]"}


class Repair(NamedTuple):
    """One fault of form: at which line (from 0), what and what to do, and lines put right."""

    line: int
    found: str
    right: str
    lines: dict[int, str]


def repair(
    lines: list[str], at: int, context: tuple[int, int], tried: set[tuple[int, str]]
) -> Repair:
    """Find out what is wrong where the parser stopped.

    Parameters
    ----------
    lines : list of str
        The text.
    at : int
        Line [from 0] where the parser stopped.
    context : (int, int)
        Line and column [from 0] where what it was reading begins.
    tried : set of (int, str)
        Lines and repairs that did not help; the new one is added.
    """
    at = min(at, len(lines) - 1)
    before = _before(lines, at)
    begin, column = min(context[0], len(lines) - 1), context[1]
    opened = begin if lines[begin][column : column + 1] in ("{", "[", "'", '"') else None
    for number in dict.fromkeys([at, before, begin, *range(at, max(begin, at - 50), -1)]):
        readable = lines[number].strip() and len(lines[number]) <= _LONGEST_GUESSED
        for check in _CHECKS if readable else ():
            found = check(lines, number)
            if found is not None and (found.line, check.__name__) not in tried:
                tried.add((found.line, check.__name__))
                return found
    here = opened if opened is not None else at if lines[at].strip() else before
    below = {number: "" for number in range(here, at + 1)}
    below |= {number: "" for number in _block(lines, here)}
    named = _NAMED.match(lines[here])
    if named and (here, "named") not in tried:
        tried.add((here, "named"))
        below[here] = f"{named[1]}{named[2]}: {UNREAD}"
    right = "Write `name: value`, and text with other signs in quotes."
    return Repair(here, "cannot be read.", right, below)


def _before(lines: list[str], number: int) -> int:
    """Line above that is not empty and no comment; the line itself if there is none."""
    above = (one for one in range(number - 1, -1, -1) if _bare(lines[one]).strip())
    return next(above, number)


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip(" "))


def _margin(line: str) -> str:
    return line[: len(line) - len(line.lstrip())]


def _block(lines: list[str], number: int, indent: int | None = None) -> list[int]:
    """A line and those below that are indented deeper."""
    indent = _indent(lines[number]) if indent is None else indent
    block = [number]
    for one in range(number + 1, len(lines)):
        if lines[one].strip() and _indent(lines[one]) <= indent:
            break
        block.append(one)
    return block


def _bare(line: str) -> str:
    """Take the quoted parts and the comment out of a line, keeping the places of the others."""
    text = _QUOTED.sub(lambda one: "q" * len(one[0]), line)
    return re.sub(r"(^|\s)#.*", "", text).rstrip()


def _quoted(value: str) -> str:
    return "'" + value.strip().replace("'", "''") + "'"


def _in_quotes(lines: list[str], number: int, found: str) -> Repair | None:
    """Say that a value belongs in quotes."""
    named = _NAMED.match(lines[number])
    if named is None or not named[3]:
        return None
    line = f"{named[1]}{named[2]}: {_quoted(named[3])}"
    right = f"Put the value in quotes: `{echo(line.strip())}`."
    return Repair(number, found, right, {number: line})


def _tabs(lines: list[str], number: int) -> Repair | None:
    """Tabs at the beginning of lines, here and further on."""
    if "\t" not in _margin(lines[number]):
        return None
    spaces: dict[int, str] = {}
    depth = wanted = 0
    for one in range(number, len(lines)):
        if "\t" not in _margin(lines[one]) or not lines[one].strip():
            continue
        before = _before(lines, one)
        above = spaces.get(before, lines[before])
        if before in spaces:
            wanted = max(wanted + 2 * (_margin(lines[one]).count("\t") - depth), 0)
        else:
            wanted = _indent(above) + 2 * _bare(above).endswith(":")
        depth = _margin(lines[one]).count("\t")
        spaces[one] = " " * wanted + lines[one].lstrip()
    first, *others = spaces
    right = "Indent with spaces, two for each level."
    if others:
        right += more_like_this(len(others), (one + 1 for one in others))
    return Repair(first, "begins with a tab.", right, spaces)


def _open_quote(lines: list[str], number: int) -> Repair | None:
    line = _bare(lines[number])
    start = re.search(r"(?:^|[:,\[{-])\s*([\"'])", line)
    if start is None:
        return None
    found = "opens a quote and does not close it."
    return Repair(number, found, "Close it where the value ends.", {number: line + start[1]})


def _after_quote(lines: list[str], number: int) -> Repair | None:
    if not re.search(r":\s+q+\s*[^\s,\]}q]", _bare(lines[number]).replace(" q ", " x ")):
        return None
    named = _NAMED.match(lines[number])
    if named is None or (named[3] or "")[:1] not in "\"'":
        return None
    return _in_quotes(lines, number, "has text behind a closing quote.")


def _backslash(lines: list[str], number: int) -> Repair | None:
    named = _NAMED.match(lines[number])
    value = (named[3] or "") if named else ""
    if named is None or "\\" not in value or not (value[0] == value[-1] == '"'):
        return None
    line = f"{named[1]}{named[2]}: {_quoted(value[1:-1])}"
    right = f"Write it in single quotes: `{echo(line.strip())}`."
    return Repair(number, "has a backslash between double quotes.", right, {number: line})


def _brackets(lines: list[str], number: int) -> Repair | None:
    """Each bracket that opens closes, within the line or those below that belong to it."""
    named = _NAMED.match(lines[number])
    if named and named[3] and named[3][0] not in "{[":
        return None
    block = _block(lines, number)
    text = "\n".join(_bare(lines[one]) for one in block)
    open_ones: list[str] = []
    for place, sign in enumerate(text):
        if sign in _PAIRS:
            open_ones.append(sign)
        elif sign in "}]":
            below = text.count("\n", 0, place)
            if not open_ones or _PAIRS[open_ones[-1]] != sign:
                what = f"begins with '{open_ones[-1]}'" if open_ones else "was not opened"
                column = place - (text.rfind("\n", 0, place) + 1)
                line = lines[number + below]
                # it may close a bracket further out: then what is within lacks its own
                outer = sign in (_PAIRS[one] for one in open_ones)
                meant = _PAIRS[open_ones[-1]] if open_ones else ""
                line = line[:column] + meant + line[column + (not outer) :]
                right = "Every { needs its }, and every [ its ]."
                found = f"closes with '{sign}' what {what}."
                return Repair(number + below, found, right, {number + below: line})
            open_ones.pop()
            if not open_ones and text[place + 1 :].lstrip(" ")[:1] not in ("", "\n", "}", "]"):
                return _in_quotes(lines, number, "has text behind a closing bracket.")
    if not open_ones:
        return None
    closing = "".join(_PAIRS[one] for one in reversed(open_ones))
    last = max(one for one in block if lines[one].strip())
    found = f"opens '{open_ones[-1]}' and does not close it."
    right = f"Write `{echo(closing)}` at its end."
    return Repair(number, found, right, {last: _bare_end(lines[last]) + closing})


def _bare_end(line: str) -> str:
    """Take the comment off a line."""
    return line[: len(_bare(line))]


def _comma(lines: list[str], number: int) -> Repair | None:
    """Between brackets, a value, a name and a colon stand side by side."""
    line = lines[number]
    missing = re.search(r"[{\[,].*?: +[^,:{}\[\]]*?[^\s,:{}\[\]]( +)([\w-]+):(?: |$)", _bare(line))
    if missing is None:
        return None
    line = line[: missing.start(1)] + ", " + line[missing.end(1) :]
    right = f"Write a comma before `{missing[2]}`."
    return Repair(number, "has no comma between two values.", right, {number: line})


def _sign(lines: list[str], number: int) -> Repair | None:
    named = _NAMED.match(lines[number])
    if named is None or (named[3] or "x")[0] not in "@`%*&|>,!":
        return None
    found = f"has a value that begins with '{named[3][0]}'."
    line = f"{named[1]}{named[2]}: {UNREAD}"
    return Repair(number, found, "Put text with such a sign in quotes.", {number: line})


def _two_colons(lines: list[str], number: int) -> Repair | None:
    bare, line = _bare(lines[number]), lines[number]
    first = re.match(r"\s*(?:- +)*[^\s:{}\[\]\"'][^:{}\[\]]*:\s+(?=[^\s\[{])", bare)
    if first is None or not re.search(r":(?:\s|$)", bare[first.end() :]):
        return None
    value = line[first.end() : len(bare)]
    fixed = line[: first.end()] + _quoted(value)
    right = f"Put the value in quotes: `{echo(fixed.strip())}`."
    return Repair(number, "has a second colon in its value.", right, {number: fixed})


def _no_colon(lines: list[str], number: int) -> Repair | None:
    bare = _bare(lines[number])
    words = re.fullmatch(r"(\s*)([A-Za-z][\w-]*)([:= ]*)(.*)", bare)
    if words is None or re.search(r":(?:\s|$)", bare):
        return None
    space, name, between, _ = words.groups()
    rest = lines[number][words.start(4) : len(bare)]
    line = f"{space}{name}: {rest}".rstrip()
    found = "has no space behind its colon." if ":" in between else "has no colon."
    if not between and rest:
        return None
    return Repair(number, found, f"Write `{echo(line.strip())}`.", {number: line})


def _indents(lines: list[str], number: int) -> Repair | None:
    """A line begins in the column of a section that is open, or deeper below a bare name."""
    indent, first = _indent(lines[number]), next(n for n, one in enumerate(lines) if _bare(one))
    if number == _before(lines, number):
        return None
    if 0 < _indent(lines[first]) > indent:
        right = "Begin the names of sections at the beginning of the line."
        shifted = {
            one: lines[one].removeprefix(" " * _indent(lines[first])) for one in range(number)
        }
        return Repair(first, f"begins {_columns(_indent(lines[first]))}.", right, shifted)
    before = _before(lines, number)
    above = _NAMED.match(lines[before])
    if indent > _indent(lines[before]):
        if above is None or not above[3]:
            return None
        found = f"begins deeper than line {before + 1}, which has a value already."
        wanted = _indent(lines[before])
        if lines[number].rstrip().endswith(":"):
            right = f"Take the value on line {before + 1} away, or begin this line below its name."
            return Repair(number, found, right, {before: f"{above[1]}{above[2]}:"})
    else:
        columns, lowest = [], _indent(lines[before]) + 1
        for one in range(before, -1, -1):
            if _bare(lines[one]) and _indent(lines[one]) < lowest:
                lowest = _indent(lines[one])
                columns.append(lowest)
        if indent in columns:
            return None
        wanted = min(columns, key=lambda column: abs(column - indent))
        found = f"begins {_columns(indent)}, and the lines of its section {_columns(wanted)}."
    right = f"Begin it {_columns(wanted)}, like the lines of its section."
    # lines in the column where it is meant to be stand beside it
    block = _block(lines, number, max(indent, wanted))
    shifted = {one: " " * max(_indent(lines[one]) + wanted - indent, 0) + lines[one].lstrip(" ")
               for one in block if lines[one].strip()}  # fmt: skip
    return Repair(number, found, right, shifted)


def _columns(indent: int) -> str:
    return f"{indent} space{'s' * (indent > 1)} in" if indent else "at the left margin"


def _item(lines: list[str], number: int) -> Repair | None:
    """One line begins with a dash, and those beside it do not."""
    line = lines[number]
    beside = lines[_before(lines, number)]
    if not line.lstrip().startswith("- ") or beside.lstrip().startswith("- "):
        return None
    fixed = line.replace("- ", "", 1)
    right = f"Write `{echo(fixed.strip())}`."
    return Repair(
        number, "begins with '-', and the lines beside it do not.", right, {number: fixed}
    )


_CHECKS: tuple[Callable[[list[str], int], Repair | None], ...] = (
    _tabs, _open_quote, _after_quote, _backslash, _brackets, _comma, _sign, _two_colons, _no_colon,
    _indents, _item,
)  # fmt: skip


def names_on(line: str) -> set[str]:
    """Names that may stand on a line that cannot be read."""
    return set(re.findall(r"[\w-]+", line))
