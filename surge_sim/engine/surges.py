"""Many surges on every core of this machine, or on a cluster.

Worker processes run on the standard executor. Each holds one end of a pipe whose other end is held
by this process alone. When that is closed, to stop the work or because this process is gone in
whatever way, the workers end at once, also in the middle of a simulated surge: nothing of theirs
needs putting away.

Where the system forks safely they come from one server process, which has loaded all that a surge
needs (`surge_sim.engine.server`); elsewhere each starts afresh and loads it for itself.
"""

from __future__ import annotations

import os
import pickle
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from multiprocessing import forkserver, get_context
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from threading import Thread
from types import ModuleType
from typing import Any, NamedTuple

from surge_sim.engine.messages import (
    MOST_AT_ONCE,
    UNDER_WAY,
    Join,
    Result,
    Task,
    Workers,
    in_order,
    messages,
    say_compiling,
    several_packed,
    together,
)
from surge_sim.errors import Fault, NotFinished, ScenarioError

#: work that takes more of the processor's time in this process is shared with workers, which take
#: a while to start [s]; what other programs take says nothing of that
WORTH_S = 2.0
#: most that the standard executor can have on Windows
_MOST_ON_WINDOWS = 61
#: libraries of macOS may fail after a fork, and Windows has none
FORKED = sys.platform not in ("darwin", "win32")
#: what a terminal sends to a whole group of processes
STOPS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


#: tells the server who started it
PARENT = "SURGE_SIM_PARENT"


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


def default_processes() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


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
        begun = time.process_time()
        result = task(number)
        if self._done:
            # the first one also loads what all need
            self._took_s += time.process_time() - begun
        self._done += 1
        return result

    def _worth_workers(self, left: int) -> bool:
        """Whether there is or should be a worker process, with so many surges left to play."""
        if self._pool is not None or self.count <= 1 or self._done < 2:
            return self._pool is not None
        each_s = self._took_s / (self._done - 1)
        return self._took_s + each_s * left > WORTH_S

    def _shared(self, packed: bytes, numbers: Sequence[int]) -> Iterator[Any]:
        try:
            self._pool = self._pool or started(self.count)
        except (EOFError, ConnectionError, BrokenExecutor):
            reason = (
                "a worker process was killed while it started; fewer --processes need less memory."
            )
            raise NotFinished(reason) from None
        executor = self._pool.executor

        def submit(batch: Sequence[int]) -> Future[list[Any]]:
            return executor.submit(several_packed, packed, batch)

        batches = messages(numbers, self.count)
        try:
            yield from in_order(submit, Future.result, batches, UNDER_WAY * self.count)
        except BrokenExecutor:
            self._pool.unblock()
            reason = "a worker process was killed; fewer --processes need less memory."
            raise NotFinished(reason) from None

    def end(self) -> None:
        """End the worker processes, without waiting for what they do."""
        if self._pool is not None:
            self._pool.end()
            self._pool = None


def compile_engine() -> None:
    """Compile the engine now, with a word about it, unless that was done before."""
    from surge_sim.engine.compiled.code_cache import is_cached

    if not is_cached():
        say_compiling()
    from surge_sim.engine.compiled.play import compile_now

    apart(compile_now)


def apart(work: Callable[[], Result]) -> Result:
    """Do something in a thread of its own, and wait for it.

    Python raises a stop in the main thread, which only waits here and can be stopped at once. A
    compiler would swallow it, as Python drops what is raised in a callback from foreign code; a
    process that is half started would complain.
    """
    done: Future[Result] = Future()

    def do() -> None:
        try:
            done.set_result(work())
        except BaseException as error:
            done.set_exception(error)

    Thread(target=do, daemon=True).start()
    return done.result()


class Pool(NamedTuple):
    """Worker processes."""

    executor: ProcessPoolExecutor
    #: closing it ends them
    alive: Connection

    def unblock(self) -> None:
        """Release the thread that sends tasks if it is blocked on workers that are gone.

        Python does it by itself from 3.11.5 on; before, it waits for that thread for ever.
        """
        if sys.version_info >= (3, 11, 5):
            return
        with suppress(AttributeError, OSError):
            self.executor._call_queue._reader.close()  # type: ignore[attr-defined]

    def end(self) -> None:
        """End the worker processes, without waiting for what they do."""
        self.alive.close()
        self.unblock()
        self.executor.shutdown(wait=False, cancel_futures=True)


def started(count: int) -> Pool:
    """Start so many worker processes."""
    return apart(partial(_start, count))


def _start(count: int) -> Pool:
    if sys.platform == "win32":
        count = min(count, _MOST_ON_WINDOWS)
    context = get_context("forkserver" if FORKED else "spawn")
    ends, alive = context.Pipe(duplex=False)
    ready = context.Event()
    executor = ProcessPoolExecutor(count, context, _begin, (ends, ready))
    if hasattr(signal, "pthread_sigmask"):
        # what is started in this thread hears no stop, not even in its first moments; the parent
        # does, and ends its workers
        signal.pthread_sigmask(signal.SIG_BLOCK, STOPS)
    with _no_script():
        if FORKED:
            _serve()
        # one task for each starts them all, as none is idle until the last one has begun
        for _ in range(count):
            executor.submit(_load)
    ready.set()
    return Pool(executor, alive)


def _serve() -> None:
    """Start the server, unless it runs; it finds modules where this process does."""
    forkserver.set_forkserver_preload(["surge_sim.engine.server"])
    places = os.pathsep.join(place for place in sys.path if place)
    # and not in the working folder, where files of the user may have any name
    told = {"PYTHONPATH": places, "PYTHONSAFEPATH": "1", PARENT: str(os.getpid())}
    before = {name: os.environ.get(name) for name in told}
    os.environ.update(told)
    try:
        forkserver.ensure_running()
    finally:
        for name, value in before.items():
            os.environ.pop(name)
            if value is not None:
                os.environ[name] = value


@contextmanager
def _no_script() -> Iterator[None]:
    """Hide the script that runs, which each worker would run again to know what it defines."""
    script = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script


def _begin(ends: Connection, ready: Event) -> None:
    """Make a worker end when its parent does, and not by a stop that goes to both."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def end() -> None:
        with suppress(EOFError, OSError):
            ends.recv()
        os._exit(1)

    Thread(target=end, daemon=True).start()
    ready.wait()


def _load() -> None:
    """Import what every surge needs."""
    import surge_sim.demand.draw
    import surge_sim.engine.play  # noqa: F401
