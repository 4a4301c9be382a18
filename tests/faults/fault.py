"""One deliberate fault: what is changed where, and which tests should notice."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

#: the tests of each domain that are run when the ones named by a fault do not notice it
WIDER = {
    "demand": "tests/demand tests/test_randomness.py tests/scenario/test_ranges.py",
    "rules": "tests/equipment tests/engine",
    "reference engine": "tests/engine",
    "compiled engine": "tests/engine",
    "statistics": "tests/statistics",
    "sizing": "tests/sizing",
    "reports and options": "tests/report tests/cli tests/sizing/test_size_command.py",
}


@dataclass(frozen=True)
class Fault:
    """A plain name, the change of the text of one file, and pytest's arguments.

    ``file`` is below ``surge_sim``; ``old`` occurs exactly once in it.
    """

    name: str
    domain: str
    file: str
    old: str
    new: str
    tests: str

    def path(self, root: Path) -> Path:
        """The file that is changed."""
        return root / "surge_sim" / self.file

    def applied(self, source: str) -> str:
        """Return the source with the fault in it."""
        found = source.count(self.old)
        if found != 1:
            raise ValueError(f"{self.name}: {self.file} has the old text {found} times, not once")
        return source.replace(self.old, self.new)
