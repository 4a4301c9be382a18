"""What a long search tells while it works, and how its surges are shared out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from surge_sim.sizing.forecast import Forecast

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock

Result = TypeVar("Result")


class OverSurges(Protocol):
    """Apply a task to surge numbers and yield the results in order of the numbers."""

    def __call__(self, task: Callable[[int], Any], numbers: Sequence[int]) -> Iterable[Any]:
        """Return the results, in order, as they come."""
        ...


def one_by_one(task: Callable[[int], Result], numbers: Sequence[int]) -> Iterator[Result]:
    """Play the surges in this process."""
    return map(task, numbers)


@dataclass(frozen=True)
class SoFar:
    """The best answer of a search that is still going on."""

    stock: Stock
    cost: float
    #: what it rests on, in words
    seen: str
    #: whether it has passed its test on fresh surges
    confirmed: bool = False


@dataclass(frozen=True)
class Watch:
    """Where progress goes; silent by default."""

    say: Callable[[str], None] = lambda text: None
    #: (label, total) -> context manager that gives a function to call once for each surge
    bar: Callable[[str, int], AbstractContextManager[Callable[[], object]]] = lambda label, total: (
        nullcontext(lambda: None)
    )
    #: told the best answer whenever there is a better founded one
    best: Callable[[SoFar], None] = lambda so_far: None
    forecast: Forecast = field(default_factory=Forecast)

    def over(
        self, over: OverSurges, task: Callable[[int], Result], numbers: Sequence[int], label: str
    ) -> list[Result]:
        """Run a task over surges with a progress bar; results in order."""
        results = []
        with self.bar(label, len(numbers)) as advance:
            for result in over(task, numbers):
                results.append(result)
                advance()
        return results
