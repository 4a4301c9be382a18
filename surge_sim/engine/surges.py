"""Many surges on every core: results come in the order of the surges."""

from __future__ import annotations

import os
import pickle
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Protocol, TypeVar

from surge_sim.engine.apart import apart
from surge_sim.engine.processes import Pool, started
from surge_sim.errors import Fault, NotFinished, ScenarioError

Result = TypeVar("Result")
Task = Callable[[int], Result]
Join = Callable[[Sequence[Result]], Result]

#: most surges that one message to a worker carries
MOST_AT_ONCE = 32
#: messages for each worker in a long run: few enough to be cheap, many enough to end together
_MESSAGES_A_WORKER = 16
#: messages under way for each worker, one being played and the others next in line
UNDER_WAY = 3
#: work that takes longer in this process is shared with workers, which take a while to start [s]
WORTH_S = 2.0


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


@dataclass
class Here:
    """The cores of this machine.

    Work begins in this process. Worker processes share it as soon as it looks like much more than
    it costs to start them.
    """

    #: worker processes; with 1 the work is done in this process
    count: int = field(default_factory=default_processes)
    _pool: Pool | None = field(default=None, init=False, repr=False)
    #: what was done in this process, and the seconds that it took
    _done: int = field(default=0, init=False, repr=False)
    _took_s: float = field(default=0.0, init=False, repr=False)

    def over(
        self,
        task: Task[Result],
        numbers: Sequence[int],
        engine: str = "compiled",
        join: Join[Result] | None = None,
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
        # as it is before its first use: what it keeps for the next one does not travel
        packed = pickle.dumps((task, join)) if self.count > 1 else b""
        place, results = 0, []
        while place < len(numbers) and not self._worth_workers(len(numbers) - place):
            results.append(self._timed(task, numbers[place]))
            place += 1
            if join is None or len(results) == MOST_AT_ONCE:
                yield from together(results, join)
                results = []
        yield from together(results, join)
        if place < len(numbers):
            yield from self._shared(packed, numbers[place:])

    def _timed(self, task: Task[Result], number: int) -> Result:
        begun = time.perf_counter()
        result = task(number)
        if self._done:
            # the first one also loads what all need
            self._took_s += time.perf_counter() - begun
        self._done += 1
        return result

    def _worth_workers(self, left: int) -> bool:
        """Whether there is or should be a worker process, with so many surges left to play."""
        if self._pool is not None or self.count <= 1 or self._done < 2:
            return self._pool is not None
        each_s = self._took_s / (self._done - 1)
        return self._took_s + each_s * left > WORTH_S

    def _shared(self, packed: bytes, numbers: Sequence[int]) -> Iterator[Any]:
        self._pool = self._pool or started(self.count)
        executor = self._pool.executor

        def submit(batch: Sequence[int]) -> Future[list[Any]]:
            return executor.submit(several_packed, packed, batch)

        batches = messages(numbers, self.count)
        try:
            yield from in_order(submit, Future.result, batches, UNDER_WAY * self.count)
        except BrokenExecutor:
            reason = "a worker process was killed; fewer --processes need less memory."
            raise NotFinished(reason) from None

    def end(self) -> None:
        """End the worker processes, without waiting for what they do."""
        if self._pool is not None:
            self._pool.end()
            self._pool = None


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
        here = Here(default_processes() if processes is None else processes)
        try:
            yield here
        finally:
            here.end()
        return
    from surge_sim.engine.cluster import connected

    with connected(cluster) as place:
        yield place
