"""Changes to a text that a slip, a damaged disk or ill will could make; each seeded."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

#: scalars of a scenario file: what stands after a colon, a comma, a bracket or a dash
_SCALAR = re.compile(r"(?<=[:,\[{-] )[^,\[\]{}\n#]+|(?<=\[)[^,\[\]{}\n#]+")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_UNIT = re.compile(r"(?<=\d )(?:s|min|h|d|weeks|%|L/min|per day|per h)(?![\w/])")
_KEY = re.compile(r"[\w-]+(?=:(?:\s|$))")

NUMBERS = (
    "0", "1", "-1", "0.5", "1e9", "1e308", "1e400", "1000000000", "1000000001", "100000", "100001",
    "99999999999999999999", "9" * 310, "-0", "+3", ".5", "5.", "007", "0x10", "1_000", "1,000",
    "nan", "inf", "-inf", "١٢", "²", "1e-9", "0.0000000001", "3.999999999999999999",
)  # fmt: skip

TIMES = (
    "0 s", "1 s", "0 min", "0.4 s", "0.6 s", "1 min", "-5 min", "1 h 1 h", "1 min 1 h", "3653 d",
    "3653 d 1 s", "10 years", "520 weeks", "99999999999999999999 s", "1 h 30", "h", "5min", "5 Min",
    "1e3 s", "90000000 s", "24:00", "24:01", "07:35+1", "00:00", "today", "now", "2031",
    "2031-02-30", "1899-12-31", "2200-01-01 00:00", "2031-01-06T07:00Z", "2031-01-06 07:00:00.9",
    "9999-12-31 23:59",
)  # fmt: skip

RATES = (
    "0 per day", "1000000 per day", "1000001 per day", "1000 per h", "-1 per day", "1 per s",
    "1e9 per day", "0.0000001 per week", "1 per", "per day", "1/day", "3 per day per day",
)  # fmt: skip

SHARES = (
    "0 %", "100 %", "100.0000001 %", "-1 %", "100000 %", "1e2 %", "0.0000001 %", "99.99999999 %",
    "%", "50%", "50 percent", "nan %",
)  # fmt: skip

SPREADS = (
    "{shape: lognormal, median: 1 s, p99: 3653 d}", "{shape: gamma, mean: 1 s, cv: 1000 %}",
    "{shape: weibull, median: 5 min, p51: 5 min}", "{shape: weibull, median: 1 min, p99: 61 s}",
    "{shape: exponential, mean: 3653 d}", "{values: [0 s]}", "{values: []}", "{shape: fixed}",
    "{values: [1 s, 3653 d]}", "{shape: gamma, p1: 1 s, p2: 2 s}", "{file: log.csv, column: need}",
    "{shape: gamma, p1: 1 s, p99: 3653 d}", "{shape: lognormal, mean: 3653 d, cv: 1000 %}",
    "{shape: empirical}", "{file: missing.csv}", "{file: stays.csv, unit: s}", "{file: .}",
    "{file: /dev/zero}", "{file: stays.csv, column: nothing}", "{shape: beta, mean: 5 min}",
)  # fmt: skip

RANGES = (
    "{low: 1, high: 2}", "{low: 2, high: 1}", "{low: 0, likely: 0, high: 0}", "{low: 1 h, high: 2}",
    "{low: 0 min, high: 3653 d}", "{low: 0 per day, high: 1000000 per day}", "{low: 1, high: nan}",
    "{low: 0 %, likely: 50 %, high: 100 %}", "{low: [1], high: {}}", "{low: 1 h, high: 1 h}",
    "{low: , high: }", "{low: 0, high: 1000000000}", "{low: -1, high: 1}", "{high: 3 h}",
)  # fmt: skip

FORMS = (
    "", "~", "null", "none", "yes", "no", "true", "[]", "{}", "[[[[]]]]", "{a: b}", "[1, 2]",
    "&a 1", "*a", "!!python/object/apply:os.system [exit]", "!!int 3", "|", ">", "'", '"', "---",
    "...", "%YAML 1.1", "? x", "@x", "`x`", "#", "x" * 5000, "[" * 60, "{a: " * 40, "- - -",
    "nurse", "low", "rule-out", "crew", "central", "wearer", "postponed", "divert", "power outage",
    "held for a shift", "per round", "36 h", "kits on loan", "..", "/", "con", "a\\b", "2 5",
)  # fmt: skip

#: text that means something to a spreadsheet, a figure, a browser or a shell
TEXTS = (
    "$x$", "$\\frac{1}{", "$", "$$", "=1+1", "+1", "-cmd", "@SUM(A1)", "\U0001f637", "e\u0301",
    "<b>x</b>", "%s%n", "{0}", "${HOME}", "'; --", "\\x1b[2J", "A" * 300, "a\\nb", "_^~#&", "[1m",
)  # fmt: skip
#: text of which something does not print
HIDDEN = (
    "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\u202eabc", "\u200b", "\u2028", "\x85", "\x00",
    "\x07", "\x7f", "\ufeff", "\ufffe", "\t", "\r",
)  # fmt: skip

VALUES = (NUMBERS, TIMES, RATES, SHARES, SPREADS, RANGES, FORMS, TEXTS, HIDDEN)
_BYTES = (
    b"\x00", b"\xff", b"\xc3", b"\r", b"\r\n", b"\t", b'"', b"'", b"\xe2\x80\xa8", b"\xc2\x85",
    b"\x1b", b"\x1a", b"\xef\xbb\xbf", b",", b";", b":", b"{", b"[", b"\n", b" ", b"-", b"#", b"&",
)  # fmt: skip

Mutation = Callable[[bytes, random.Random], bytes]


def hostile_value(chance: random.Random) -> str:
    """Return a value that some field does not expect."""
    return chance.choice(chance.choice(VALUES))


def _in_text(change: Callable[[str, random.Random], str]) -> Mutation:
    """Bring a change of text to bytes; what is no text is passed on."""

    def changed(data: bytes, chance: random.Random) -> bytes:
        text = data.decode("utf-8", "surrogateescape")
        return change(text, chance).encode("utf-8", "surrogateescape")

    changed.__name__ = change.__name__
    return changed


def _swap(text: str, found: re.Match[str], new: str) -> str:
    return text[: found.start()] + new + text[found.end() :]


def _pick(pattern: re.Pattern[str], text: str, chance: random.Random) -> re.Match[str] | None:
    found = list(pattern.finditer(text))
    return chance.choice(found) if found else None


def value_replaced(text: str, chance: random.Random) -> str:
    """Put a hostile value in the place of a scalar."""
    found = _pick(_SCALAR, text, chance)
    return text if found is None else _swap(text, found, hostile_value(chance))


def value_of_its_kind(text: str, chance: random.Random) -> str:
    """Put an edge of the same kind (time, rate, share, number) in the place of a scalar."""
    found = _pick(_SCALAR, text, chance)
    if found is None:
        return text
    old = found[0]
    kind = RATES if "per" in old else SHARES if "%" in old else NUMBERS
    if (kind is NUMBERS and _UNIT.search(old)) or ":" in old:
        kind = TIMES
    return _swap(text, found, chance.choice((*kind, *SPREADS) if kind is TIMES else kind))


def number_scaled(text: str, chance: random.Random) -> str:
    """Make a number much larger or smaller."""
    found = _pick(_NUMBER, text, chance)
    if found is None:
        return text
    factor = chance.choice((0, 0.001, 0.1, 0.5, 2, 10, 1_000, 10**6, 10**9, 10**20))
    return _swap(text, found, f"{float(found[0]) * factor:.10g}" if factor < 10**9
                 else str(int(float(found[0]) * factor)))  # fmt: skip


def unit_replaced(text: str, chance: random.Random) -> str:
    """Give a number another unit, or none."""
    found = _pick(_UNIT, text, chance)
    units = ("s", "min", "h", "d", "weeks", "%", "L/min", "per day", "per h", "", "years")
    return text if found is None else _swap(text, found, chance.choice(units))


def values_swapped(text: str, chance: random.Random) -> str:
    """Put the value of one field into another."""
    found, other = _pick(_SCALAR, text, chance), _pick(_SCALAR, text, chance)
    return text if found is None or other is None else _swap(text, found, other[0])


def key_replaced(text: str, chance: random.Random) -> str:
    """Give a field the name of another one, or a wrong one."""
    found, other = _pick(_KEY, text, chance), _pick(_KEY, text, chance)
    if found is None or other is None:
        return text
    wrong = (
        other[0],
        found[0][:-1],
        found[0] + "s",
        found[0].upper(),
        "low",
        "file",
        hostile_value(chance),
    )
    return _swap(text, found, chance.choice(wrong))


def line_deleted(text: str, chance: random.Random) -> str:
    """Leave a line out."""
    lines = text.splitlines(keepends=True)
    if lines:
        del lines[chance.randrange(len(lines))]
    return "".join(lines)


def line_repeated(text: str, chance: random.Random) -> str:
    """Write a line again, once or many times."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return text
    place = chance.randrange(len(lines))
    lines[place : place + 1] = [lines[place]] * chance.choice((2, 2, 3, 50, 2_000))
    return "".join(lines)


def lines_swapped(text: str, chance: random.Random) -> str:
    """Change the places of two lines."""
    lines = text.splitlines(keepends=True)
    if len(lines) > 1:
        first, second = chance.sample(range(len(lines)), 2)
        lines[first], lines[second] = lines[second], lines[first]
    return "".join(lines)


def indent_changed(text: str, chance: random.Random) -> str:
    """Move a line to the left or right."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return text
    place = chance.randrange(len(lines))
    lines[place] = chance.choice(("  ", " ", "\t", "")) + lines[place].lstrip(" ")
    return "".join(lines)


def item_repeated(text: str, chance: random.Random) -> str:
    """Make a list in brackets longer."""
    found = _pick(re.compile(r"\[[^\[\]]+\]"), text, chance)
    if found is None:
        return text
    inner = found[0][1:-1]
    return _swap(text, found, "[" + ", ".join([inner] * chance.choice((2, 10, 300))) + "]")


def bytes_changed(data: bytes, chance: random.Random) -> bytes:
    """Change, add or drop some bytes."""
    for _ in range(chance.choice((1, 1, 2, 8))):
        place = chance.randrange(len(data) + 1)
        drop = chance.choice((0, 0, 1, 1, 5))
        new = b"" if chance.random() < 0.2 else chance.choice(_BYTES)
        if chance.random() < 0.2:
            new = bytes([chance.randrange(256)])
        data = data[:place] + new + data[place + drop :]
    return data


def cut_off(data: bytes, chance: random.Random) -> bytes:
    """Lose the end, or all."""
    return data[: chance.randrange(len(data) + 1)] if chance.random() < 0.9 else b""


def recoded(data: bytes, chance: random.Random) -> bytes:
    """Write the text in another encoding, or with other line ends."""
    text = data.decode("utf-8", "replace")
    ways: list[Callable[[], bytes]] = [
        lambda: text.encode("utf-16"),
        lambda: text.encode("utf-8-sig"),
        lambda: text.encode("latin-1", "replace"),
        lambda: data.replace(b"\n", b"\r\n"),
        lambda: data.replace(b"\n", b"\r"),
        lambda: data.replace(b"\n", b"\xe2\x80\xa8"),
        lambda: data + b"\x00" * 1_000,
    ]
    return chance.choice(ways)()


OF_SCENARIOS: tuple[Mutation, ...] = (
    *[_in_text(value_replaced)] * 6,
    *[_in_text(value_of_its_kind)] * 8,
    *[_in_text(number_scaled)] * 4,
    *[_in_text(unit_replaced)] * 2,
    *[_in_text(values_swapped)] * 2,
    *[_in_text(key_replaced)] * 2,
    *[_in_text(line_deleted)] * 2,
    _in_text(line_repeated),
    _in_text(lines_swapped),
    _in_text(indent_changed),
    _in_text(item_repeated),
    bytes_changed,
    cut_off,
    recoded,
)


def cell_replaced(text: str, chance: random.Random) -> str:
    """Put a hostile value into a cell of a table."""
    lines = text.splitlines(keepends=True)
    if not lines:
        return text
    place = chance.randrange(len(lines))
    cells = lines[place].rstrip("\r\n").split(",")
    cells[chance.randrange(len(cells))] = hostile_value(chance)
    lines[place] = ",".join(cells) + "\n"
    return "".join(lines)


def column_dropped(text: str, chance: random.Random) -> str:
    """Leave a column out, in all rows or from some row on."""
    lines = [line.split(",") for line in text.splitlines()]
    if not lines:
        return text
    column, first = chance.randrange(len(lines[0])), chance.choice((0, 0, 1, len(lines) // 2))
    for cells in lines[first:]:
        del cells[column : column + 1]
    return "\n".join(",".join(cells) for cells in lines) + "\n"


def separator_changed(text: str, chance: random.Random) -> str:
    """Use another sign between columns."""
    return text.replace(",", chance.choice((";", "\t", "|", ",,", " , ", '","')))


def row_lengthened(text: str, chance: random.Random) -> str:
    """Give a row more cells than there are columns."""
    lines = text.splitlines()
    if lines:
        place = chance.randrange(len(lines))
        lines[place] += chance.choice((",", ",x", ",1,2,3", "," * 3_000, '"', '"open', "\x00"))
    return "\n".join(lines) + "\n"


OF_TABLES: tuple[Mutation, ...] = (
    *[_in_text(cell_replaced)] * 8,
    *[_in_text(number_scaled)] * 3,
    _in_text(column_dropped),
    _in_text(separator_changed),
    *[_in_text(row_lengthened)] * 2,
    _in_text(line_deleted),
    _in_text(line_repeated),
    _in_text(lines_swapped),
    *[bytes_changed] * 2,
    cut_off,
    *[recoded] * 2,
)
