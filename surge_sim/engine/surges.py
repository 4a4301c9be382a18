"""Many surges on every core: results come in the order of the surges."""

from __future__ import annotations

import os
import pickle
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Protocol, TypeVar

from surge_sim.engine.apart import apart
from surge_sim.engine.processes import end_processes, processes
from surge_sim.errors import Fault, NotFinished, ScenarioError

Result = TypeVar("Result")
Task = Callable[[int], Result]

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

    def start(self) -> None:
        """Let workers start while something else is done; they would start by themselves."""
        ...

    def over(
        self, task: Task[Result], numbers: Sequence[int], engine: str = "compiled"
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

        Yields
        ------
        Result
            In the order of `numbers`; no more than a few messages are held at a time.
        """
        ...


def default_processes() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def say_compiling(where: str = "for this machine") -> None:
    """Say that it takes a while."""
    text = f"Compiling the engine {where}, once: less than a minute."
    print(text, file=sys.stderr, flush=True)


def compile_engine() -> None:
    """Compile the engine now, with a word about it, unless that was done before."""
    from surge_sim.engine.compiled import is_kept

    if not is_kept():
        say_compiling()
    from surge_sim.engine.compiled.play import compile_now

    apart(compile_now)


@lru_cache(maxsize=4)
def unpacked(packed: bytes) -> Task[Any]:
    """Return the task of a message; one that came before is still there, with what it knows."""
    task: Task[Any] = pickle.loads(packed)
    return task


def several_packed(packed: bytes, numbers: Sequence[int]) -> list[Any]:
    """Do a packed task for the surges of one message."""
    return list(map(unpacked(packed), numbers))


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


@dataclass(frozen=True)
class Here:
    """The cores of this machine."""

    #: worker processes; with 1 the work is done in this process
    count: int = field(default_factory=default_processes)

    def start(self) -> None:
        """Let the processes start while something else is done; see :meth:`Workers.start`."""
        if self.count > 1:
            processes(self.count)

    def over(
        self, task: Task[Result], numbers: Sequence[int], engine: str = "compiled"
    ) -> Iterator[Result]:
        """Do a task for every surge; see :meth:`Workers.over`.

        Raises
        ------
        NotFinished
            A worker process was killed, or could not be started.
        """
        if engine == "compiled" and len(numbers):
            # here, so that the workers find it ready
            compile_engine()
        if self.count <= 1 or len(numbers) < 4:
            yield from map(task, numbers)
            return
        pool, packed = processes(self.count), pickle.dumps(task)

        def submit(batch: Sequence[int]) -> Future[list[Result]]:
            return pool.submit(several_packed, packed, batch)

        batches = messages(numbers, self.count)
        try:
            yield from in_order(submit, Future.result, batches, UNDER_WAY * self.count)
        except BrokenExecutor:
            end_processes()
            reason = "a worker process was killed; fewer --processes need less memory."
            raise NotFinished(reason) from None


@contextmanager
def workers(processes: int | None = None, cluster: str | None = None) -> Iterator[Workers]:
    """Give the place where surges are played while the block runs.

    Parameters
    ----------
    processes : int, optional
        Worker processes on this machine; by default one a core.
    cluster : str, optional
        Address of a Dask scheduler whose workers do the work instead.

    Yields
    ------
    Workers

    Raises
    ------
    ScenarioError
        The cluster cannot be used, or both are given.
    """
    if cluster is not None and processes is not None:
        right = "Work is shared here or there: leave one of the two out."
        raise ScenarioError([Fault("--cluster", 0, "--processes is given as well.", right)])
    if cluster is None:
        try:
            yield Here(default_processes() if processes is None else processes)
        except BaseException:
            # what is under way is not waited for
            end_processes()
            raise
        return
    from surge_sim.engine.cluster import connected

    with connected(cluster) as place:
        yield place
