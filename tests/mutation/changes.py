"""Small changes of the source, each of which a wrong program could have.

A change replaces the text of one node of the syntax tree, so everything else in the file stays as
it was written: other lines, comments and decorators. What cannot change anything is left out: the
order in which a value is looked for in a list, that of arguments of `max`, a zero that is taken
away instead of added, the promise of `zip` that its lists are of one length.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass
from itertools import accumulate

_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_OPPOSITE: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.Gt, ast.LtE: ast.GtE, ast.Gt: ast.Lt, ast.GtE: ast.LtE,
}  # fmt: skip
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult, ast.Mod: ast.FloorDiv, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd,
}  # fmt: skip
#: functions that are easily taken for one another
_TWINS = {
    "min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum",
    "maximum": "minimum", "floor": "ceil", "ceil": "floor", "argmin": "argmax",
    "argmax": "argmin", "cumsum": "asarray", "append": "extend", "lower_limit": "upper_limit",
    "upper_limit": "lower_limit", "nanmin": "nanmax", "nanmax": "nanmin", "sorted": "list",
}  # fmt: skip
#: functions to which the order of their arguments is the same
_COMMUTE = {"max", "min", "maximum", "minimum", "gcd", "lcm", "isclose", "add", "multiply"}


@dataclass(frozen=True)
class Change:
    """One fault: text ``old`` from (line, column) of a file becomes ``new``; lines from 1."""

    file: str
    line: int
    column: int
    old: str
    new: str
    kind: str

    def applied(self, source: str) -> str:
        """Return the source with the fault in it."""
        whole, old = source.encode(), self.old.encode()
        start = _line_starts(whole)[self.line - 1] + self.column
        if whole[start : start + len(old)] != old:
            raise ValueError(f"{self.file}:{self.line} does not say {self.old!r} there")
        return (whole[:start] + self.new.encode() + whole[start + len(old) :]).decode()

    def told(self) -> str:
        """Return the fault in one line."""
        old, new = (" ".join(text.split()) for text in (self.old, self.new))
        return f"{self.file}:{self.line} {self.kind}: {_short(old)} → {_short(new)}"


def _short(text: str, longest: int = 60) -> str:
    return text if len(text) <= longest else f"{text[: longest - 1]}…"


def _line_starts(source: bytes) -> list[int]:
    """Where each line begins; columns of the syntax tree count bytes."""
    return [0, *accumulate(len(line) for line in source.splitlines(keepends=True))]


def changes(file: str, source: str) -> list[Change]:
    """List every change of a file that this module knows, in the order of the source."""
    whole = source.encode()
    starts = _line_starts(whole)
    found = []
    for node in _running(ast.parse(source)):
        end = starts[(node.end_lineno or 1) - 1] + (node.end_col_offset or 0)
        text = whole[starts[node.lineno - 1] + node.col_offset : end].decode()
        for kind, new in _replacements(node):
            found.append(Change(file, node.lineno, node.col_offset, text, new, kind))
    return sorted(set(found), key=lambda one: (one.line, one.column, one.kind, one.new))


def _running(tree: ast.Module) -> Iterator[ast.expr | ast.stmt]:
    """Nodes that do something when the program runs: no annotation, import or docstring."""
    stack: list[ast.AST] = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, ast.Import | ast.ImportFrom | ast.JoinedStr | ast.Assert):
            continue
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            continue
        if isinstance(node, ast.expr | ast.stmt):
            yield node
        for name, value in ast.iter_fields(node):
            if name == "keywords":
                value = [one for one in _listed(value) if getattr(one, "arg", "") != "strict"]
            if name == "comparators" and isinstance(node, ast.Compare):
                value = [part for one in _listed(value) for part in _members(node, one)]
            if name in ("annotation", "returns", "decorator_list", "type_params", "bases"):
                continue
            stack += [one for one in _listed(value) if isinstance(one, ast.AST)]


def _members(test: ast.Compare, value: object) -> list[object]:
    """Return the members of what a value is looked for in, whose order is the same to the test."""
    looked_for = isinstance(test.ops[0], ast.In | ast.NotIn)
    if looked_for and isinstance(value, ast.Tuple | ast.List | ast.Set):
        return list(value.elts)
    return [value]


def _listed(value: object) -> list[object]:
    return value if isinstance(value, list) else [value]


def _replacements(node: ast.expr | ast.stmt) -> Iterator[tuple[str, str]]:
    """Kind and new text of each change of one node."""
    match node:
        case ast.Compare(ops=[operator], left=left, comparators=[right]):
            for table, kind in ((_COMPARISONS, "comparison"), (_OPPOSITE, "opposite comparison")):
                if type(operator) in table:
                    changed = ast.Compare(left, [table[type(operator)]()], [right])
                    yield kind, ast.unparse(changed)
        case ast.BinOp(left=left, op=operator, right=right) if type(operator) in _ARITHMETIC:
            if not isinstance(left, ast.Constant | ast.JoinedStr) or not isinstance(
                getattr(left, "value", None), str
            ):
                changed_op = ast.BinOp(left, _ARITHMETIC[type(operator)](), right)
                if not (isinstance(operator, ast.Add | ast.Sub) and _is_zero(right)):
                    yield "arithmetic", f"({ast.unparse(changed_op)})"
        case ast.BoolOp(op=operator, values=values):
            other: ast.boolop = ast.Or() if isinstance(operator, ast.And) else ast.And()
            yield "and for or", f"({ast.unparse(ast.BoolOp(other, values))})"
            yield "condition left out", f"({ast.unparse(ast.BoolOp(operator, values[1:]))})"
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield "sign or not left out", f"({ast.unparse(operand)})"
        case ast.Constant(value=bool(value)):
            yield "yes for no", repr(not value)
        case ast.Constant(value=int(value)):
            yield "number", repr(value + 1)
        case ast.Constant(value=float(value)):
            yield "number", repr(value * 1.5 + (value == 0))
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield "branches swapped", f"({ast.unparse(ast.IfExp(test, orelse, body))})"
        case ast.Call(func=func, args=args):
            yield from _of_call(node, func, args)
        case ast.Tuple(elts=parts) | ast.List(elts=parts) if isinstance(node.ctx, ast.Load):
            yield from _swapped(node, "elts", parts)
        case ast.Dict(values=values):
            yield from _swapped(node, "values", values)
        case ast.AugAssign(target=target, op=operator, value=value):
            if type(operator) in _ARITHMETIC:
                changed_aug = ast.AugAssign(target, _ARITHMETIC[type(operator)](), value)
                yield "arithmetic", ast.unparse(changed_aug)
            yield "line left out", "pass"
        case ast.Expr(value=ast.Call()):
            yield "line left out", "pass"
        case ast.Continue():
            yield "continue for break", "break"
        case ast.Break():
            yield "break for continue", "continue"
        case _:
            return


def _is_zero(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and node.value == 0


def _of_call(node: ast.Call, func: ast.expr, args: list[ast.expr]) -> Iterator[tuple[str, str]]:
    """Twins of the function, and its arguments in another order."""
    twin = deepcopy(func)
    if isinstance(twin, ast.Name) and twin.id in _TWINS:
        twin.id = _TWINS[twin.id]
        yield "another function", ast.unparse(ast.Call(twin, args, node.keywords))
    elif isinstance(twin, ast.Attribute) and twin.attr in _TWINS:
        twin.attr = _TWINS[twin.attr]
        yield "another function", ast.unparse(ast.Call(twin, args, node.keywords))
    name = getattr(func, "attr", getattr(func, "id", ""))
    if name not in _COMMUTE:
        yield from _swapped(node, "args", args)
    values = [keyword.value for keyword in node.keywords]
    for at in range(len(values) - 1):
        if ast.dump(values[at]) != ast.dump(values[at + 1]):
            other = deepcopy(node)
            first, second = other.keywords[at], other.keywords[at + 1]
            first.value, second.value = second.value, first.value
            yield "two values swapped", ast.unparse(other)


def _swapped(node: ast.expr, field: str, parts: list[ast.expr]) -> Iterator[tuple[str, str]]:
    """The same node with two neighbours of a list swapped."""
    for at in range(len(parts) - 1):
        first, second = parts[at], parts[at + 1]
        if ast.dump(first) != ast.dump(second) and not isinstance(second, ast.Starred):
            other = deepcopy(node)
            swapped = getattr(other, field)
            swapped[at], swapped[at + 1] = swapped[at + 1], swapped[at]
            text = ast.unparse(other)
            yield "two values swapped", text
