"""A scenario as it is written: nested texts, and where each stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from surge_sim.errors import Fault, echo

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
