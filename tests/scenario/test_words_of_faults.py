"""Every fault says first what was found, then what would be right, wherever the program tells one.

What was found goes on after the place, so it begins in lower case; what would be right is a
sentence. The source is read, so that faults that no example has are judged too.
"""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Callable, Iterator
from functools import cache
from itertools import product
from typing import Any, NamedTuple

import pytest

from surge_sim import units
from surge_sim.quantity import QuantityError
from surge_sim.scenario import life_file
from tests.conftest import ROOT

#: places of what was found and of what would be right among the arguments
FAULTS = {
    "FieldError": (0, 1), "Found": (1, 2), "Fault": (2, 3), "fault": (1, 2), "_fault": (1, 2),
    "_wrong": (1, 2), "_refuse": (0, 1), "too_large": (1, 2),
}  # fmt: skip
#: stands for a part of a text that is known only when the program runs
GAP = "…"
#: names that a sentence in the middle of a line may begin with
NAMES = ("Dask ",)


class Told(NamedTuple):
    """One place in the source where a fault is told, with the texts that may stand there."""

    where: str
    found: ast.expr
    right: ast.expr
    #: texts of the names of its function and module
    names: dict[str, list[str]]

    def swapped(self) -> Told:
        return self._replace(found=self.right, right=self.found)


def texts(node: ast.expr, names: dict[str, list[str]]) -> list[str]:
    """What a text may be; none where it is no text."""
    match node:
        case ast.Constant(value=value):
            return [value] if isinstance(value, str) else []
        case ast.JoinedStr(values=parts):
            return ["".join(one) for one in product(*(texts(part, names) for part in parts))]
        case ast.FormattedValue(value=ast.Name() as name):
            return texts(name, names)
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            return ["".join(one) for one in product(texts(left, names), texts(right, names))]
        case ast.IfExp(body=one, orelse=other):
            return texts(one, names) + texts(other, names)
        case ast.Name(id=name):
            return names.get(name, [GAP])
        case ast.Tuple() | ast.List() | ast.Dict():
            return []
        case _:
            return [GAP]


def noted(body: list[ast.stmt], names: dict[str, list[str]]) -> dict[str, list[str]]:
    """Add the texts that names get in a function or module, wherever in it."""
    names = dict(names)
    mine: dict[str, list[str]] = {}
    inside = [node for statement in body for node in ast.walk(statement)]
    for node in sorted(inside, key=lambda one: getattr(one, "lineno", 0)):
        match node:
            case ast.Assign(targets=[ast.Name(id=name)], value=value):
                mine[name] = mine.get(name, []) + (texts(value, names | mine) or [GAP])
            case ast.AugAssign(target=ast.Name(id=name), op=ast.Add()) if name in mine:
                mine[name] = [one + GAP for one in mine[name]]
    return names | mine


def told_in(body: list[ast.stmt], names: dict[str, list[str]], where: str) -> Iterator[Told]:
    """Every fault of a module, each with the names of the function around it."""
    for statement in body:
        stack: list[ast.AST] = [statement]
        while stack:
            node = stack.pop()
            if isinstance(node, ast.FunctionDef):
                yield from told_in(node.body, noted(node.body, names), where)
                continue
            stack += ast.iter_child_nodes(node)
            if not isinstance(node, ast.Call):
                continue
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            first, second = FAULTS.get(name, (0, 0))
            if second and not any(isinstance(one, ast.Starred) for one in node.args):
                # what would be right is the same for all faults of some folders
                right = node.args[second] if len(node.args) > second else ast.Name("right")
                place = f"{where}:{node.lineno}"
                if len(node.args) > first:
                    yield Told(place, node.args[first], right, names)


@cache
def every_fault() -> tuple[Told, ...]:
    found: list[Told] = []
    for path in sorted((ROOT / "surge_sim").rglob("*.py")):
        body = ast.parse(path.read_text(encoding="utf-8")).body
        tops = [one for one in body if isinstance(one, ast.Assign)]
        where = path.relative_to(ROOT).as_posix()
        # what a sizing came to is called `Found` too
        if where != "surge_sim/sizing/size.py":
            found += told_in(body, noted(list(tops), {}), where)
    return tuple(found)


def complaints(told: Told) -> Iterator[str]:
    """What is wrong with the two texts of a place; nothing where they are only known later."""
    for node, place in ((told.found, "found"), (told.right, "right")):
        name = getattr(node, "attr", getattr(node, "id", ""))
        if name in ("found", "right", "path", "place", "key") and name != place:
            yield f"{told.where}: {name} stands in the place of {place}"
        for text in texts(node, told.names) or ["no text"]:
            if text.startswith(GAP):
                continue
            is_sentence = text[:1].isupper() and not text.startswith(NAMES)
            if text == "no text" or is_sentence != (place == "right"):
                yield f"{told.where}: {place}: {text}"


def test_what_was_found_begins_in_lower_case_and_what_would_be_right_is_a_sentence() -> None:
    assert [one for told in every_fault() for one in complaints(told)] == []
    assert len(every_fault()) > 150


def test_two_texts_that_are_swapped_would_be_seen_nearly_everywhere() -> None:
    unseen = [told.where for told in every_fault() if not any(complaints(told.swapped()))]
    assert len(unseen) <= 5, unseen


READERS = [
    read
    for module in (units, life_file)
    for name, read in vars(module).items()
    if name.startswith("parse_")
]
#: each is wrong for some of the readers: in its form, its unit, its sign or its size
WRONG = (
    "?", "", "-5 min", "3654 d", "0.2 s", "1 h -5 min", "101 %", "-1 %", "+5 %", "50 %",
    "200000 %", "4 per year", "-1 per h", "9999999 per day", "170", "-1 L/min", "99999 L/min",
    "24:01", "12:75", "1899-12-31", "2031-01-06T07:00+01:00", "perhaps", "10000000001", "-1", "1.5",
    "+4", "1.400", "0 years", "101 years", "1" * 200, True, None, math.nan, -1.0,
    units.Quantity("time", -5.0), units.Quantity("share", 2_000.0),
)  # fmt: skip


@pytest.mark.parametrize("read", READERS, ids=lambda one: one.__name__)
def test_a_quantity_is_refused_with_a_sentence_and_an_example_that_is_read(
    read: Callable[[Any], Any],
) -> None:
    """What it must be is a sentence; how it is written goes on with the example behind it."""
    refused = 0
    takes_text_only = read is units.parse_quantity
    for wrong in (one for one in WRONG if isinstance(one, str) or not takes_text_only):
        try:
            read(wrong)
        except QuantityError as error:
            refused += 1
            assert re.fullmatch(r"(?s)[A-Z].*[.?]", error.must)
            assert re.fullmatch(r"[A-Z`].*[^.?]", error.write)
            read(error.example)
    assert refused > len(WRONG) / 3
