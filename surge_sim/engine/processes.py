"""Worker processes of this machine, on the standard executor.

Each holds one end of a pipe whose other end is held by this process alone. When that is closed,
to stop the work or because this process is gone in whatever way, the workers end at once, also in
the middle of a simulated surge: nothing of theirs needs putting away.

Where the system forks safely they come from one server process, which has loaded all that a surge
needs (`surge_sim.engine.server`); elsewhere each starts afresh and loads it for itself.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from multiprocessing import forkserver, get_context
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from threading import Thread
from types import ModuleType
from typing import NamedTuple

from surge_sim.engine.apart import apart

#: most that the standard executor can have on Windows
_MOST_ON_WINDOWS = 61
#: libraries of macOS may fail after a fork, and Windows has none
FORKED = sys.platform not in ("darwin", "win32")
#: what a terminal sends to a whole group of processes
STOPS = [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


#: tells the server who started it
PARENT = "SURGE_SIM_PARENT"


class Pool(NamedTuple):
    """Worker processes."""

    executor: ProcessPoolExecutor
    #: closing it ends them
    alive: Connection

    def end(self) -> None:
        """End the worker processes, without waiting for what they do."""
        self.alive.close()
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
