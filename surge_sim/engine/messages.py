"""Surges in messages to whoever plays them: results come in the order of the surges.

Who plays them must hold the very same program.
"""

from __future__ import annotations

import hashlib
import pickle
import platform
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TypeVar

from surge_sim import __version__

Result = TypeVar("Result")
Task = Callable[[int], Result]
Join = Callable[[Sequence[Result]], Result]

#: stages that no worker needs
_AT_HOME = ("report", "cli")
#: most surges that one message to a worker carries
MOST_AT_ONCE = 32
#: messages for each worker in a long run: few enough to be cheap, many enough to end together
_MESSAGES_A_WORKER = 16
#: messages under way for each worker, one being played and the others next in line
UNDER_WAY = 3


class Workers(Protocol):
    """Where surges are played."""

    @property
    def count(self) -> int:
        """How many surges are played at once."""
        ...

    def over(
        self,
        task: Task[Result],
        numbers: Sequence[int],
        engine: str = "compiled",
        join: Join[Result] | None = None,
    ) -> Iterator[Result]:
        """Do a task for every surge.

        Parameters
        ----------
        task : callable
            Takes the number of a surge; a plain function of it, so that the results do not
            depend on how the work is split. Picklable.
        numbers : sequence of int
            Numbers of the surges.
        engine : {"compiled", "reference"}
            The compiled engine is compiled first, with a word about it.
        join : callable, optional
            Makes one result of several for surges that follow one another, where they come about:
            to send them one by one may take longer than to play them.

        Yields
        ------
        Result
            In the order of `numbers`, of one surge each, or joined ones of some; no more than a
            few messages are held at a time.
        """
        ...


def say_compiling(where: str = "for this machine") -> None:
    """Say that it takes a while."""
    text = f"Compiling the engine {where}, once: half a minute to a minute, longer if it is busy."
    print(text, file=sys.stderr, flush=True)


@lru_cache(maxsize=4)
def unpacked(packed: bytes) -> tuple[Task[Any], Join[Any] | None]:
    """Return the task of a message; one that came before is still there, with what it knows."""
    task: tuple[Task[Any], Join[Any] | None] = pickle.loads(packed)
    return task


def several_packed(packed: bytes, numbers: Sequence[int]) -> list[Any]:
    """Do a packed task for the surges of one message."""
    task, join = unpacked(packed)
    return together(list(map(task, numbers)), join)


def together(results: list[Result], join: Join[Result] | None) -> list[Result]:
    """Return the results, or the one that they are joined to."""
    return [join(results)] if join is not None and results else results


def messages(numbers: Sequence[int], workers: int) -> Iterator[Sequence[int]]:
    """Split surges into messages: small ones, so that all workers end at about the same time."""
    size = max(1, min(MOST_AT_ONCE, len(numbers) // (_MESSAGES_A_WORKER * workers)))
    for start in range(0, len(numbers), size):
        yield numbers[start : start + size]


def in_order(
    submit: Callable[[Sequence[int]], Any],
    result_of: Callable[[Any], list[Result]],
    batches: Iterator[Sequence[int]],
    under_way: int,
) -> Iterator[Result]:
    """Send messages, never more than `under_way` before their results are taken.

    Whoever takes results slowly slows the sending down, so memory does not grow with the number
    of surges.
    """
    waiting: deque[Any] = deque()
    try:
        for batch in batches:
            waiting.append(submit(batch))
            if len(waiting) >= under_way:
                yield from result_of(waiting.popleft())
        while waiting:
            yield from result_of(waiting.popleft())
    finally:
        for future in waiting:
            future.cancel()


class Program(NamedTuple):
    """What must be the same for the same numbers to come out."""

    surge_sim: str
    sources: str
    python: str
    numpy: str
    scipy: str


@lru_cache(maxsize=1)
def program() -> Program:
    """Tell which program runs in this process."""
    package = Path(__file__).parents[1]
    digest = hashlib.sha256()
    for source in sorted(package.rglob("*.py")):
        name = source.relative_to(package)
        if name.parts[0] not in _AT_HOME:
            digest.update(name.as_posix().encode())
            digest.update(source.read_bytes())
    return Program(
        __version__,
        digest.hexdigest()[:12],
        first_two(platform.python_version()),
        first_two(version("numpy")),
        first_two(version("scipy")),
    )


def first_two(full_version: str) -> str:
    """Return the first two numbers of a version."""
    return ".".join(full_version.split(".")[:2])
