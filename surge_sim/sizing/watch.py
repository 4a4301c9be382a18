"""What a sizing tells while it works, and how its surges are shared out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

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
    """The best answer of a sizing that is still going on."""

    owned: Stock
    stock: Stock
    money: float
    #: surges on target, of how many
    passes: int
    surges: int
    #: whether it is confirmed on fresh surges, or estimated by those that choose
    confirmed: bool = False


@dataclass(frozen=True)
class Watch:
    """Where progress goes; silent by default."""

    #: (label, total) -> context manager that gives a function to call once for each surge
    bar: Callable[[str, int], AbstractContextManager[Callable[[], object]]] = lambda label, total: (
        nullcontext(lambda: None)
    )
    #: told the best answer whenever there is a better founded one
    best: Callable[[SoFar], None] = lambda so_far: None


@dataclass(frozen=True)
class Work:
    """Shares a task out over surges, with a progress bar."""

    over: OverSurges = one_by_one
    watch: Watch = Watch()

    def __call__(
        self, task: Callable[[int], Result], numbers: Sequence[int], label: str
    ) -> list[Result]:
        """Return the results in the order of the numbers."""
        results = []
        with self.watch.bar(label, len(numbers)) as advance:
            for result in self.over(task, numbers):
                results.append(result)
                advance()
        return results
