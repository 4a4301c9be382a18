"""A scenario as YAML: nested texts, each with its line, read and written; nothing is executed."""

from __future__ import annotations

import pathlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml

from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.scenario.limits import MOST_SCENARIO
from surge_sim.scenario.quantities import UNKNOWN, Section
from surge_sim.scenario.text_file import (
    hidden_character,
    hidden_in,
    read_bytes,
    text_of,
    why_unreadable,
)

Path = tuple[str | int, ...]


@dataclass
class Tree:
    """Nested dicts, lists, strings and None; the file, and the line of each place."""

    root: dict[str, Any]
    file: str = ""
    lines: dict[Path, int] = field(default_factory=dict)
    #: names of values that were changed in Python: no line fits then, and places are told as
    #: Python writes them
    changes: tuple[str, ...] = ()

    def line(self, path: Path) -> int:
        """Line of a place, or of the nearest place around it that has one; 0 after changes."""
        if self.changes:
            return 0
        around = (path[:length] for length in range(len(path), 0, -1))
        return next((self.lines[one] for one in around if one in self.lines), 1)

    def named(self, path: Path) -> str:
        """Write a place as in messages."""
        return ".".join(echo(part, 40) for part in path) if self.changes else dotted(path)

    def fault(self, path: Path, found: str, right: str, kind: str = "") -> Fault:
        """Tell what was found at a place, and what would be right."""
        return Fault(self.file, self.line(path), f"{self.named(path)} {found}.", right, kind)

    def warning(self, path: Path, text: str) -> str:
        """Tell a planner what to look at."""
        line = "" if self.changes else f":{self.line(path)}"
        return f"{self.file}{line}: {self.named(path)} {text}"


def dotted(path: Path) -> str:
    """Write a path as in a file: ``classes.ward.share``, ``timeline[2].at``."""
    text = ""
    for part in path:
        name = f"[{part + 1}]" if isinstance(part, int) else echo(part, 40)
        text += f".{name}" if text and not isinstance(part, int) else name
    return text


def value_at(root: Any, path: Path) -> Any:
    """Look up what stands at a place, or None."""
    for step in path:
        if isinstance(root, dict):
            root = root.get(step)
        elif type(root) in (list, tuple) and isinstance(step, int) and step < len(root):
            root = root[step]
        else:
            return None
    return root


#: a page for a ward manager is far below this
MOST_DEPTH = 20
#: with so many open brackets a text is not parsed
_MOST_OPEN = 1_000
#: written without quotes, this stands for 'not there'
NONE_WORDS = ("none", "null", "~")
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

#: what the parser says at the place where it stops, and what that means
_SLIPS = (
    ("escape", "has a backslash between double quotes", "Put the text in single quotes."),
    ("end of stream", "opens a quote and does not close it", "Close it where the value ends."),
    (
        "could not find expected ':'",
        "has no colon with a space behind it",
        "Write `name: value`.",
    ),
    (
        "mapping values",
        "has a second colon, or begins deeper than its section, or lacks a colon above it",
        "Begin all lines of a section in one column, and put a value with a colon in quotes: "
        "`note: 'Ward 3: two rooms'`.",
    ),
    (
        "cannot start any token",
        "has a value that begins with a sign that means something else",
        "Put text that begins with @, %, ` or another sign in quotes.",
    ),
    (
        "expected",
        "begins in another column than its section, or has text behind a closing quote or bracket",
        "Begin all lines of a section in one column, and put text with quotes or brackets in other "
        "quotes.",
    ),
)


@dataclass
class _Open:
    """A mapping or list whose end has not come yet."""

    path: Path
    value: dict[str, Any] | list[Any]
    key: str | None = None
    #: line of the key
    line: int = 0


class _StopError(Exception):
    """What follows cannot be read as it was meant."""


class _Builder:
    """Builds the tree from parse events with a stack of its own, so depth cannot hurt.

    UNKNOWN stands in the tree where something cannot be taken as it is written.
    """

    def __init__(self, file: str) -> None:
        self.faults: list[Fault] = []
        self.tree = Tree({}, file)
        self.stack: list[_Open] = []

    def fault(self, line: int, found: str, right: str) -> None:
        self.faults.append(Fault(self.tree.file, line, found, right))

    def take(self, event: Any) -> None:
        line = event.start_mark.line + 1
        if isinstance(event, yaml.CollectionEndEvent):
            self.stack.pop()
        elif isinstance(event, yaml.AliasEvent):
            self.fault(line, f"refers to '*{echo(event.anchor)}'.", "Write it out in full.")
            self.add(UNKNOWN, line)
        elif isinstance(event, yaml.NodeEvent):
            good = self.unmarked(event, line)
            if isinstance(event, yaml.ScalarEvent):
                plain = not event.style
                none = plain and event.value.lower() in NONE_WORDS
                value = None if none else self.printable(event.value, line)
                self.add(value if good else UNKNOWN, line, empty=plain and value == "")
            else:
                self.open({} if isinstance(event, yaml.MappingStartEvent) else [], good, line)

    def printable(self, value: str, line: int) -> str:
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

    def open(self, value: dict[str, Any] | list[Any], good: bool, line: int) -> None:
        """Begin a list or section; one with a tag is read on, but stands nowhere."""
        if len(self.stack) == MOST_DEPTH:
            self.fault(line, "is nested too deep.", f"Use {MOST_DEPTH} levels at most.")
            raise _StopError
        self.stack.append(_Open(self.add(value if good else UNKNOWN, line), value))

    def add(self, value: Any, line: int, empty: bool = False) -> Path:
        """Put a name or a value where it belongs; return its path."""
        if not self.stack:
            if isinstance(value, dict):
                self.tree.root = value
            elif value is not UNKNOWN and not empty and value is not None:
                right = "Write sections with their names, for example `horizon: 42 d`."
                self.fault(line, "the file is not a list of named sections.", right)
            return ()
        top = self.stack[-1]
        if isinstance(top.value, list):
            path = (*top.path, len(top.value))
            top.value.append(UNKNOWN if empty else value)
            self.tree.lines[path] = line
            if empty:
                self.no_value(path, line)
            return path
        if top.key is None:
            top.key, top.line = self.name(value, line), line
            return top.path
        key, top.key = top.key, None
        path = (*top.path, key)
        if empty and self.after_comma(top, key, line):
            return path
        if key in top.value:
            found = f"{dotted(path)} is there twice, first on line {self.tree.lines[path]}."
            self.fault(top.line, found, "Keep one of the two.")
            return path
        self.tree.lines[path] = top.line
        top.value[key] = UNKNOWN if empty else value
        if empty:
            self.no_value(path, line)
        return path

    def name(self, value: Any, line: int) -> str:
        if value is None or isinstance(value, str):
            return value or "none"
        if value is not UNKNOWN:
            found = "a list or section stands where a name should be."
            right = "Write a name and a colon; put text with [ or { in quotes."
            self.fault(line, found, right)
        raise _StopError

    def no_value(self, path: Path, line: int) -> None:
        right = "Write `name: value`, with a space behind the colon, or leave it out."
        self.fault(line, f"{dotted(path)} has no value.", right)

    def after_comma(self, top: _Open, name: str, line: int) -> bool:
        """In braces, digits without a value follow a comma that was not meant to part."""
        values = top.value if isinstance(top.value, dict) else {}
        before = next(reversed(values), "")
        whole = values.get(before)
        if not name[:1].isdigit() or not isinstance(whole, str):
            return False
        if ":" in name and whole.lower().startswith("day "):
            values[before] = f"{whole}, {name}"  # `at: day 3, 18:00`
            return True
        found = f"is '{echo(whole)}', and '{echo(name)}' stands alone behind the comma."
        right = f"A comma begins a new value: write the decimal with a point, `{whole}.{name}`."
        self.fault(line, f"{dotted((*top.path, before))} {found}", right)
        values[before] = UNKNOWN
        return True


def _too_deep(text: str) -> int | None:
    """Line where so many brackets are open that parsing takes long."""
    depth = 0
    for one in re.finditer(r"[\[\]{}]|^ *(?:[-?] +){100}", text, re.MULTILINE):
        depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(one[0], _MOST_OPEN)
        if depth >= _MOST_OPEN:
            return text.count("\n", 0, one.start()) + 1
    return None


def _slip(error: yaml.MarkedYAMLError, text: str, file: str) -> Fault:
    """Say in plain words where and why the parser stopped."""
    said, began, stopped = str(error.problem), error.context_mark, error.problem_mark
    assert stopped is not None
    at = min(stopped.line, text.count("\n"))
    here = text.split("\n")[at]
    if "\t" in here[: len(here) - len(here.lstrip())]:
        right = "Indent with spaces, two for each level."
        return Fault(file, at + 1, "the line begins with a tab.", right)
    if began is not None and (closing := re.search(r"',' or '?([\]}])", said)):
        sign = {"]": "[", "}": "{"}[closing[1]]
        missing = f"and on line {at + 1} a comma or '{closing[1]}' is missing."
        right = f"Write a comma between values, and '{closing[1]}' at the end."
        return Fault(file, began.line + 1, f"the line opens '{sign}', {missing}", right)
    if began is not None and ("end of stream" in said or "expected ':'" in said):
        at = began.line  # of what goes on to here
    known = ((found, right) for words, found, right in _SLIPS if words in said)
    found, right = next(known, ("cannot be read", "Write `name: value`."))
    return Fault(file, at + 1, f"the line {found}.", right)


def read_tree(text: str, file: str, starter: str = Section.starter) -> tuple[Tree, list[Fault]]:
    """Read YAML text into a tree, with every fault of its form.

    Text that is no YAML is told where the parser stops, and nothing of it is kept. Faulty is also
    what is no plain YAML: duplicate keys, anchors, tags, several documents.
    """
    builder, documents = _Builder(file), 0
    if len(text) > MOST_SCENARIO:
        right = f"Use {MOST_SCENARIO:,} characters at most."
        return Tree({}, file), [Fault(file, 0, "is too large for a scenario.", right)]
    if (line := _too_deep(text)) is not None:
        right = f"Use {MOST_DEPTH} levels at most."
        return Tree({}, file), [Fault(file, line, "is nested too deep.", right)]
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            documents += isinstance(event, yaml.DocumentStartEvent)
            if documents > 1:
                line = event.start_mark.line + 1  # type: ignore[union-attr]
                builder.fault(line, "a second document begins.", "Keep one scenario per file.")
                raise _StopError
            builder.take(event)
    except _StopError:
        return Tree({}, file), builder.faults
    except yaml.MarkedYAMLError as error:
        return Tree({}, file), [*builder.faults, _slip(error, text, file)]
    if not builder.faults and not builder.tree.root:
        builder.fault(0, "is empty.", f"Begin with `{starter}`.")
    return builder.tree, builder.faults


def tree_of_file(path: str, sort: str, starter: str) -> tuple[Tree, bytes, list[Fault]]:
    """Read a file of YAML; `sort` says of what, `starter` is the command that writes one.

    Raises
    ------
    ScenarioError
        Where nothing of it can be used.
    """
    try:
        data = read_bytes(pathlib.Path(path), 4 * MOST_SCENARIO)
    except OSError as error:
        found = f"cannot be read: {why_unreadable(error)}."
        right = f"Give the path of {sort} file; `{starter}` writes one."
        raise ScenarioError([Fault(path, 0, found, right)]) from None
    text, faults = text_of(data, path)
    tree, faults = tree_of_text(text, faults, path, starter)
    return tree, data, faults


def tree_of_text(
    text: str | None, faults: list[Fault], file: str, starter: str = Section.starter
) -> tuple[Tree, list[Fault]]:
    """Read text that came with these faults; a ScenarioError where nothing of it can be used."""
    tree, form_faults = (Tree({}), []) if text is None else read_tree(text, file, starter)
    if not tree.root:
        raise ScenarioError(faults + form_faults)
    return tree, faults + form_faults


class _Dumper(yaml.SafeDumper):
    """Writes lists of plain values on one line and indents the others."""

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        super().increase_indent(flow, False)


def _text(dumper: yaml.SafeDumper, data: str) -> yaml.ScalarNode:
    # without quotes, these words and nothing at all would mean 'not there'
    style = "'" if data.strip().lower() in ("", *NONE_WORDS) else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", data, style=style)


def _list(dumper: yaml.SafeDumper, data: list[Any]) -> yaml.SequenceNode:
    on_one_line = all(isinstance(one, str) for one in data)
    return dumper.represent_sequence("tag:yaml.org,2002:seq", data, on_one_line)


_Dumper.add_representer(str, _text)
_Dumper.add_representer(list, _list)
_Dumper.add_representer(
    type(None), lambda dumper, _: dumper.represent_scalar("tag:yaml.org,2002:str", "none")
)
# every scalar is read as text, so none needs quotes to say that it is text
_Dumper.yaml_implicit_resolvers = {}


def yaml_of(tree: Mapping[str, Any]) -> str:
    """Write nested texts as YAML that reads back the same."""
    return yaml.dump(dict(tree), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=96)
