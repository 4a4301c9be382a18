"""YAML as text: every scalar stays a string, every place keeps its line, nothing is executed."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import yaml

from surge_sim.errors import Fault, echo
from surge_sim.scenario.limits import MOST_SCENARIO
from surge_sim.scenario.quantities import UNKNOWN
from surge_sim.scenario.text_file import hidden_character, hidden_in
from surge_sim.scenario.yaml_repair import UNREAD, names_on, repair

#: a page for a ward manager is far below this
MOST_DEPTH = 20
#: with so many open brackets a text is not parsed
_MOST_OPEN = 1_000
#: faults of form after which a file is not read on
_MOST_REPAIRS = 200
#: written without quotes, this stands for 'not there'
NONE_WORDS = ("none", "null", "~")

Path = tuple[str | int, ...]
#: in the place of a name that cannot be read; no file holds it
_NO_NAME = "\0"
_ONE = "Write it on one line."
_COLON = "Write a colon and a space behind the name."
#: between brackets, a name and a value without what parts them
_NO_COLON = re.compile(r"([A-Za-z][\w-]*)[ :=]+(.+)")
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass
class Tree:
    """Nested dicts, lists, strings and None, with the line of each place."""

    root: dict[str, Any]
    lines: dict[Path, int] = field(default_factory=dict)
    #: names on lines that could not be read
    lost: frozenset[str] = frozenset()

    def line(self, path: Path) -> int:
        """Line of a place, or of the nearest place around it that has one."""
        for length in range(len(path), 0, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return 1


@dataclass
class _Open:
    """A mapping or list whose end has not come yet."""

    path: Path
    value: dict[str, Any] | list[Any]
    key: str | None = None
    #: written on one line, between brackets
    flow: bool = False


class _Builder:
    """Builds the tree from parse events with a stack of its own, so depth cannot hurt.

    UNKNOWN stands in the tree where something cannot be taken as it is written.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.tree = Tree({})
        self.stack: list[_Open] = []
        self.documents = 0
        #: how deep inside something that is left out
        self.left_out = 0

    def fault(self, line: int, found: str, right: str) -> None:
        self.faults.append(Fault(self.file, line, found, right))

    def take(self, event: Any) -> None:
        line = event.start_mark.line + 1
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents == 2:
                self.fault(line, "a second document begins.", "Keep one scenario per file.")
        elif self.left_out:
            opens, closes = yaml.CollectionStartEvent, yaml.CollectionEndEvent
            self.left_out += isinstance(event, opens) - isinstance(event, closes)
            self.tree.lost |= {getattr(event, "value", "")}
        elif isinstance(event, yaml.AliasEvent):
            self.fault(line, f"refers to '*{echo(event.anchor)}'.", "Write it out in full.")
            self.add(UNKNOWN, line)
        elif isinstance(event, yaml.ScalarEvent) and event.value == UNREAD:
            self.add(UNKNOWN, line)
        elif isinstance(event, yaml.ScalarEvent):
            plain = not event.style
            none = plain and event.value.lower() in NONE_WORDS
            text = self.printable(None if none else event.value, line)
            self.add(text if self.unmarked(event, line) else UNKNOWN, line, empty=plain)
        elif isinstance(event, yaml.CollectionStartEvent):
            value: Any = {} if isinstance(event, yaml.MappingStartEvent) else []
            self.open(
                value if self.unmarked(event, line) else UNKNOWN, line, bool(event.flow_style)
            )
        elif isinstance(event, yaml.CollectionEndEvent):
            self.stack.pop()

    def printable(self, value: str | None, line: int) -> str | None:
        """Take out what does not print: quoted text can hold it as an escape."""
        while value and (one := hidden_in(value)):
            self.fault(line, *hidden_character(one))
            value = value.replace(one, "")
        return value

    def unmarked(self, event: Any, line: int) -> bool:
        if event.anchor:
            found = f"has the anchor '&{echo(event.anchor)}'."
            self.fault(line, found, "Write it out without anchors.")
        if event.tag and event.tag != "!":
            self.fault(line, f"has the tag '{echo(event.tag)}'.", "Leave the tag out.")
            return False
        return True

    def open(self, value: Any, line: int, flow: bool) -> None:
        top = self.stack[-1] if self.stack else None
        if top and isinstance(top.value, dict) and top.key is None:
            self.fault(
                line,
                "a list or section stands where a name should be.",
                "Write a name and a colon; put text with [ or { in quotes.",
            )
            top.key = _NO_NAME
            self.left_out = 1
            return
        if len(self.stack) >= MOST_DEPTH:
            self.fault(line, "is nested too deep.", f"Use {MOST_DEPTH} levels at most.")
            value = UNKNOWN
        path = self.place(value, line)
        if value is UNKNOWN:
            self.left_out = 1
        else:
            self.stack.append(_Open(path, value, flow=flow))

    def add(self, value: Any, line: int, empty: bool = False) -> None:
        top = self.stack[-1] if self.stack else None
        if top is not None and isinstance(top.value, dict) and top.key is None:
            key = "none" if value is None else _NO_NAME if value is UNKNOWN else str(value)
            if "\n" in key:
                self.fault(line, f"{dotted((*top.path, key))} is a name of several lines.", _ONE)
            # behind a decimal comma the same digits may come again; that is said where they lack
            # a value. Of two scenarios in one file that alone is said.
            twice = key in top.value and (self.documents == 1 or len(self.stack) > 1)
            if twice and not _digits(key):
                first = self.tree.lines[(*top.path, key)]
                self.fault(
                    line,
                    f"{dotted((*top.path, key))} is there twice, first on line {first}.",
                    "Keep one of the two.",
                )
            if " {" in key or " [" in key:
                name = key.split()[0]
                path = (*top.path, name)
                self.fault(line, f"{dotted(path)} has no colon before its bracket.", _COLON)
                top.value.setdefault(name, UNKNOWN)
                self.tree.lines.setdefault(path, line)
                key = _NO_NAME
            self.tree.lines.setdefault((*top.path, key), line)
            top.key = key
            return
        unnamed = top is not None and top.key == _NO_NAME
        if value is UNKNOWN or unnamed or not (empty and value == "" and self.stack):
            self.place(value, line)
            return
        name = str(top.key) if top is not None else ""
        if top is not None and isinstance(top.value, dict) and _digits(name):
            self.after_comma(name, top, line)
        elif top is not None and top.flow and (parts := _NO_COLON.fullmatch(name)):
            path = (*top.path, parts[1])
            what = "space behind its colon" if ":" in name else "colon"
            right = f"Write `{echo(parts[1])}: {echo(parts[2])}`."
            self.fault(line, f"{dotted(path)} has no {what}.", right)
            top.key, self.tree.lines[path] = parts[1], line
            self.place(parts[2], line)
        else:
            path = self.place(UNKNOWN, line)
            right = "Write a value, or leave the whole line out."
            self.fault(line, f"{dotted(path)} has no value.", right)

    def after_comma(self, name: str, top: _Open, line: int) -> None:
        """Digits where a name should be follow a decimal comma: read them as its decimals."""
        top.key = None
        named = top.value if isinstance(top.value, dict) else {}
        before = next(reversed(named), "")
        whole = named.get(before)
        if isinstance(whole, str) and re.fullmatch(r"[Dd]ay +\d+", whole) and ":" in name:
            named[before] = f"{whole}, {name}"  # `day 3, 18:00` in braces
            return
        if not isinstance(whole, str) or not whole.isdigit():
            right = "A comma begins a new value: write decimals with a point, like `2.5 h`."
            self.fault(line, f"{dotted((*top.path, name))} has no value.", right)
            return
        found = f"is '{echo(whole)}', and '{echo(name)}' stands alone behind the comma."
        right = f"A comma begins a new value: write the decimal with a point, `{whole}.{name}`."
        self.fault(line, f"{dotted((*top.path, before))} {found}", right)
        named[before] = f"{whole}.{name}"

    def place(self, value: Any, line: int) -> Path:
        """Put a value where it belongs; return its path."""
        if not self.stack:
            if isinstance(value, dict):
                value.update(self.tree.root)
                self.tree.root = value
            elif value is not UNKNOWN and value not in (None, ""):
                right = "Write sections with their names, for example `horizon: 42 d`."
                self.fault(line, "the file is not a list of named sections.", right)
            return ()
        top = self.stack[-1]
        if isinstance(top.value, list):
            path = (*top.path, len(top.value))
            top.value.append(value)
            self.tree.lines[path] = line
            return path
        assert top.key is not None
        path = (*top.path, top.key)
        if top.key != _NO_NAME:
            top.value.setdefault(top.key, value)
        top.key = None
        return path


def _digits(name: str) -> bool:
    return name[:1].isdigit()


def dotted(path: Path) -> str:
    """Write a path as in messages: ``classes.ward.share``, ``disruptions[2].at``."""
    text = ""
    for part in path:
        name = f"[{part + 1}]" if isinstance(part, int) else echo(part, 40)
        text += f".{name}" if text and not isinstance(part, int) else name
    return text


def _too_deep(text: str) -> int | None:
    """Line where so many brackets are open that parsing takes long."""
    depth = 0
    for one in re.finditer(r"[\[\]{}]|^ *(?:[-?] +){100}", text, re.MULTILINE):
        depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(one[0], _MOST_OPEN)
        if depth >= _MOST_OPEN:
            return text.count("\n", 0, one.start()) + 1
    return None


def read_tree(text: str, file: str) -> tuple[Tree, list[Fault]]:
    """Read YAML text into a tree, as far as it can be read; every fault of its form is gathered.

    Faulty is what is no plain YAML: broken, duplicate keys, anchors, tags, several documents.
    """
    builder = _Builder(file)
    if len(text) > MOST_SCENARIO:
        builder.fault(
            0, "is too large for a scenario.", f"Use {MOST_SCENARIO:,} characters at most."
        )
        return Tree({}), builder.faults
    if (line := _too_deep(text)) is not None:
        builder.fault(line, "is nested too deep.", f"Use {MOST_DEPTH} levels at most.")
        return Tree({}), builder.faults
    lines, tried, form = text.split("\n"), set[tuple[int, str]](), list[Fault]()
    lost: set[str] = set()
    for _ in range(max(5, min(_MOST_REPAIRS, 2 * MOST_SCENARIO // (len(text) + 1)))):
        builder = _Builder(file)
        try:
            for event in yaml.parse("\n".join(lines), Loader=_LOADER):
                builder.take(event)
        except yaml.MarkedYAMLError as error:
            at: Any = error.problem_mark or error.context_mark
            context = error.context_mark or at
            one = repair(lines, at.line, (context.line, context.column), tried)
            form.append(Fault(file, one.line + 1, f"the line {one.found}", one.right))
            for number, fixed in one.lines.items():
                lost |= set() if fixed.strip() else names_on(lines[number])
                lines[number] = fixed
        else:
            break
    else:
        more = Fault(file, 0, "is not read to its end.", "Put these faults right first.")
        return Tree({}), [*form, more]
    faults = form + builder.faults
    if not faults and not builder.tree.root:
        faults.append(Fault(file, 0, "is empty.", "Begin with `surge-sim new FILE`."))
    builder.tree.lost |= lost
    return builder.tree, faults
