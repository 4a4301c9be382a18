"""YAML as text: every scalar stays a string, every place keeps its line, nothing is executed."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import yaml

from surge_sim.errors import Fault, ScenarioError

#: a page for a ward manager is far below these
MOST_BYTES = 1_000_000
MOST_DEPTH = 20
#: written without quotes, this stands for 'not there'
NONE_WORDS = ("none", "null", "~")

Path = tuple[str | int, ...]
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass
class Tree:
    """Nested dicts, lists, strings and None, with the line of each place."""

    root: dict[str, Any]
    lines: dict[Path, int] = field(default_factory=dict)

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


class _Builder:
    """Builds the tree from parse events with a stack of its own, so depth cannot hurt."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.tree = Tree({})
        self.stack: list[_Open] = []
        self.documents = 0

    def fault(self, line: int, found: str, right: str) -> None:
        self.faults.append(Fault(self.file, line, found, right))

    def take(self, event: Any) -> None:
        line = event.start_mark.line + 1
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents == 2:
                self.fault(line, "a second document begins.", "Keep one scenario per file.")
        elif isinstance(event, yaml.AliasEvent):
            self.fault(line, f"refers to '*{event.anchor}'.", "Write it out in full.")
            self.add(None, line)
        elif isinstance(event, yaml.ScalarEvent):
            self.check_marks(event, line)
            plain = not event.style
            none = plain and event.value.lower() in NONE_WORDS
            self.add(None if none else event.value, line, empty=plain)
        elif isinstance(event, yaml.CollectionStartEvent):
            self.check_marks(event, line)
            self.open({} if isinstance(event, yaml.MappingStartEvent) else [], line)
        elif isinstance(event, yaml.CollectionEndEvent):
            self.stack.pop()

    def check_marks(self, event: Any, line: int) -> None:
        if event.anchor:
            self.fault(line, f"has the anchor '&{event.anchor}'.", "Write it out without anchors.")
        if event.tag and event.tag != "!":
            self.fault(line, f"has the tag '{event.tag}'.", "Leave the tag out.")

    def open(self, value: dict[str, Any] | list[Any], line: int) -> None:
        top = self.stack[-1] if self.stack else None
        if top and isinstance(top.value, dict) and top.key is None:
            self.fault(
                line,
                "a list or section stands where a name should be.",
                "Write a name and a colon; put text with [ or { in quotes.",
            )
            raise ScenarioError(self.faults)
        path = self.place(value, line)
        if len(self.stack) >= MOST_DEPTH:
            self.fault(line, "is nested too deep.", f"Use {MOST_DEPTH} levels at most.")
            raise ScenarioError(self.faults)
        self.stack.append(_Open(path, value))

    def add(self, value: str | None, line: int, empty: bool = False) -> None:
        top = self.stack[-1] if self.stack else None
        if top is not None and isinstance(top.value, dict) and top.key is None:
            key = "none" if value is None else value
            # behind a decimal comma the same digits may come again; that is said where they lack
            # a value
            if key in top.value and not _digits(key):
                first = self.tree.lines[(*top.path, key)]
                self.fault(
                    line,
                    f"{dotted((*top.path, key))} is there twice, first on line {first}.",
                    "Keep one of the two.",
                )
            self.tree.lines.setdefault((*top.path, key), line)
            top.key = key
            return
        path = self.place(value, line)
        if empty and value == "" and path:
            self.fault(line, *self.without_value(path))

    def without_value(self, path: Path) -> tuple[str, str]:
        """Say that a name has no value; digits in its place follow a decimal comma."""
        top = self.stack[-1].value
        name = str(path[-1])
        if not _digits(name):
            return f"{dotted(path)} has no value.", "Write a value, or leave the whole line out."
        before = [other for other in top if other != path[-1]] if isinstance(top, dict) else []
        whole = top[before[-1]] if before and isinstance(top, dict) else None
        if not isinstance(whole, str) or not whole.isdigit():
            right = "A comma begins a new value: write decimals with a point, like `2.5 h`."
            return f"{dotted(path)} has no value.", right
        return (
            f"{dotted((*path[:-1], before[-1]))} is '{whole}', and '{name}' stands alone behind "
            "the comma.",
            f"A comma begins a new value: write the decimal with a point, `{whole}.{name}`.",
        )

    def place(self, value: Any, line: int) -> Path:
        """Put a value where it belongs; return its path."""
        if not self.stack:
            if isinstance(value, dict):
                self.tree.root = value
            elif value not in (None, ""):
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
        top.value.setdefault(top.key, value)
        top.key = None
        return path


def _digits(name: str) -> bool:
    return name[:1].isdigit()


def dotted(path: Path) -> str:
    """Write a path as in messages: ``classes.ward.share``, ``disruptions[2].at``."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def read_tree(text: str, file: str) -> Tree:
    """Read YAML text into a tree; every fault of its form is gathered.

    Raises
    ------
    ScenarioError
        If it is not plain YAML: broken, duplicate keys, anchors, tags, several documents.
    """
    builder = _Builder(file)
    if len(text) > MOST_BYTES:
        builder.fault(0, "is too large for a scenario.", f"Use {MOST_BYTES:,} characters at most.")
        raise ScenarioError(builder.faults)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 0
        builder.fault(
            line,
            f"is not YAML: {error.problem or error.context}.",
            "Look at the indents (spaces, no tabs), colons, quotes and brackets here.",
        )
    except yaml.YAMLError as error:
        reason = getattr(error, "reason", "cannot be read")
        builder.fault(0, f"is not YAML: {reason}.", "Save the file as plain text in UTF-8.")
    if not builder.faults and not builder.tree.root:
        builder.fault(0, "is empty.", "Begin with `surge-sim new FILE`.")
    if builder.faults:
        raise ScenarioError(builder.faults)
    return builder.tree
