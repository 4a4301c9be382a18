"""What can be wrong with a user's input, said for the person at the keyboard."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Fault:
    """One thing that is wrong: where, what was found, what would be right."""

    file: str
    line: int
    found: str
    right: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}" if self.line else self.file
        return f"{place}: {self.found}\n  {self.right}"


class ScenarioError(ValueError):
    """A scenario, log or option cannot be used; carries every fault that was found."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = sorted(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[ScenarioError], tuple[list[Fault]]]:
        # from a worker process it comes back with its faults, not with their text
        return type(self), (self.faults,)


class OutOfReach(Exception):
    """No stock within the limits keeps the target; says why and which limit to widen."""
