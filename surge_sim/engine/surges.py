"""Many surges on every core: results come in the order of the surges."""

from __future__ import annotations

import os
import pickle
import signal
import sys
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any, Protocol, TypeVar, runtime_checkable

from surge_sim.engine.keyboard import stop_is_heard
from surge_sim.errors import Fault, ScenarioError

Result = TypeVar("Result")
Task = Callable[[int], Result]

#: most surges that one message to a worker carries, and that are drawn together
MOST_AT_ONCE = 32
#: messages for each worker in a long run: few enough to be cheap, many enough to end together
_MESSAGES_A_WORKER = 16
#: messages under way for each worker, one being played and the others next in line
UNDER_WAY = 3
#: a worker process with nothing to do is kept for so long [s]
_IDLE_S = 300


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
            depend on how the work is split. Picklable. See also `TaskOfSeveral`.
        numbers : sequence of int
            Numbers of the surges.
        engine : {"compiled", "reference"}
            The compiled engine is compiled first, with a word about it.

        Yields
        ------
        Result
            In the order of `numbers`; one of a `TaskOfSeveral` may stand for several of them. No
            more than a few messages are held at a time.
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

    with stop_is_heard():
        compile_now()


@runtime_checkable
class TaskOfSeveral(Protocol):
    """A task that is quicker over several surges than over one after the other."""

    def over(self, numbers: Sequence[int]) -> Iterator[Any]:
        """Yield the results of these surges in order; one may stand for several of them."""
        ...


def in_turn(task: Task[Result], numbers: Sequence[int]) -> Iterator[Result]:
    """Do the task for some surges, with whatever it can do for them together."""
    if isinstance(task, TaskOfSeveral):
        yield from task.over(numbers)
    else:
        yield from map(task, numbers)


def several(task: Task[Result], numbers: Sequence[int]) -> list[Result]:
    """Do the task for the surges of one message."""
    results = []
    for result in in_turn(task, numbers):
        if _stopped:
            raise Stopped
        results.append(result)
    return results


@lru_cache(maxsize=4)
def unpacked(packed: bytes) -> Task[Any]:
    """Return the task of a message; one that came before is still there, with what it knows."""
    task: Task[Any] = pickle.loads(packed)
    return task


def several_packed(packed: bytes, numbers: Sequence[int]) -> list[Any]:
    """Do a packed task for the surges of one message."""
    return several(unpacked(packed), numbers)


def _several_both_packed(packed: bytes, numbers: Sequence[int]) -> bytes:
    """Do a packed task and pack its results, quicker than joblib would."""
    return pickle.dumps(several_packed(packed, numbers), pickle.HIGHEST_PROTOCOL)


class Stopped(Exception):
    """The keyboard stopped a worker; its parent hears of it too, and ends in good order."""


#: set in a worker when the keyboard stops the program
_stopped = False


def _listen_for_a_stop() -> None:
    """Let a worker give up between two results instead of in the middle of anything."""

    def stop(number: int, frame: object) -> None:
        global _stopped
        _stopped = True

    # a program that was started to run on without a keyboard is not stopped by it
    if signal.getsignal(signal.SIGINT) is not signal.SIG_IGN:
        signal.signal(signal.SIGINT, stop)


def _load() -> None:
    """Import what every surge needs."""
    import surge_sim.demand.draw
    import surge_sim.engine.play  # noqa: F401


def _sending(submit: Callable[..., Any], task: Task[Result]) -> Callable[[Sequence[int]], Any]:
    """Return what sends one message: the task is packed once, not for every message."""
    try:
        packed = pickle.dumps(task)
    except (pickle.PicklingError, AttributeError, TypeError):
        packed = b"__main__"
    if b"__main__" in packed:
        # joblib knows how to send what was made in a script or inside a function
        return lambda batch: submit(several, task, batch)
    return lambda batch: submit(_several_both_packed, packed, batch)


def _results_of(future: Any) -> list[Any]:
    """Take the results of one message."""
    try:
        results = future.result()
    except Stopped:
        # the workers may hear of it first
        raise KeyboardInterrupt from None
    return pickle.loads(results) if isinstance(results, bytes) else list(results)


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
            processes = self._processes()
            for _ in range(self.count):
                processes.submit(_load)

    def over(
        self, task: Task[Result], numbers: Sequence[int], engine: str = "compiled"
    ) -> Iterator[Result]:
        """Do a task for every surge; see :meth:`Workers.over`."""
        if engine == "compiled" and len(numbers):
            # here, so that the workers find it ready
            compile_engine()
        if self.count <= 1 or len(numbers) < 4:
            yield from in_turn(task, numbers)
            return
        yield from in_order(
            _sending(self._processes().submit, task),
            _results_of,
            messages(numbers, self.count),
            UNDER_WAY * self.count,
        )

    def _processes(self) -> Any:
        from joblib.externals.loky import get_reusable_executor

        return get_reusable_executor(
            max_workers=self.count, timeout=_IDLE_S, initializer=_listen_for_a_stop
        )


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
        yield Here(default_processes() if processes is None else processes)
        return
    from surge_sim.engine.cluster import connected

    with connected(cluster) as place:
        yield place
