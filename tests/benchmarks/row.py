"""One line of the table of figures, and how times are taken."""

from __future__ import annotations

import time
from collections.abc import Callable
from statistics import median
from typing import NamedTuple


class Row(NamedTuple):
    """One figure; `met` is None where the project has no aim for it."""

    what: str
    found: str
    aim: str = ""
    met: bool | None = None


def at_least(what: str, value: float, aim: float, unit: str = "times") -> Row:
    """A figure that should be large."""
    return Row(what, f"{value:,.3g} {unit}".strip(), f"{aim:g} or more", value >= aim)


def at_most(what: str, value: float, aim: float, unit: str = "", form: str = ".3g") -> Row:
    """A figure that should be small."""
    return Row(what, f"{value:,{form}} {unit}".strip(), f"{aim:g} or less", value <= aim)


class Times(NamedTuple):
    """Processor time of one thing, round after round [s]."""

    rounds: list[float]

    @property
    def least(self) -> float:
        """Of all rounds [s]."""
        return min(self.rounds)

    def over(self, other: Times) -> float:
        """How many times the other takes this takes: the median of pairs taken together.

        The machine's speed changes within minutes, so the least of each may be from different
        machines, as it were.
        """
        return median(one / two for one, two in zip(self.rounds, other.rounds, strict=True))


def interleaved(things: dict[str, Callable[[], object]], repeats: int) -> dict[str, Times]:
    """Time things in turn, round after round, so that a busy moment strikes all of them.

    Processor time of this process, which other work on the machine stretches least.
    """
    taken: dict[str, list[float]] = {name: [] for name in things}
    for _ in range(repeats):
        for name, do in things.items():
            start = time.process_time()
            do()
            taken[name].append(time.process_time() - start)
    return {name: Times(times) for name, times in taken.items()}
