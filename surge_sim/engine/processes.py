"""Worker processes of this machine, on the standard executor.

Each holds one end of a pipe whose other end is held by this process alone. When that is closed,
to stop the work or because this process is gone in whatever way, the workers end at once, also in
the middle of a simulated surge: nothing of theirs needs putting away.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager, suppress
from functools import partial
from multiprocessing import get_context
from multiprocessing.connection import Connection
from threading import Thread
from types import ModuleType
from typing import NamedTuple

from surge_sim.engine.apart import apart

#: most that the standard executor can have on Windows
_MOST_ON_WINDOWS = 61


class _Pool(NamedTuple):
    size: int
    executor: ProcessPoolExecutor
    #: closing it ends the workers
    alive: Connection


#: to start workers takes seconds, so they stay for the next time
_pool: _Pool | None = None


def processes(count: int) -> ProcessPoolExecutor:
    """Return so many worker processes: those of before, or new ones, which are starting."""
    global _pool
    if _pool is None or _pool.size != count:
        end_processes()
        _pool = apart(partial(_start, count))
    return _pool.executor


def end_processes() -> None:
    """End the worker processes, without waiting for what they do."""
    global _pool
    if _pool is not None:
        ended, _pool = _pool, None
        ended.alive.close()
        ended.executor.shutdown(wait=False, cancel_futures=True)


def _start(count: int) -> _Pool:
    if sys.platform == "win32":
        count = min(count, _MOST_ON_WINDOWS)
    ends, alive = get_context("spawn").Pipe(duplex=False)
    executor = ProcessPoolExecutor(count, get_context("spawn"), _begin, (ends,))
    if hasattr(signal, "pthread_sigmask"):
        # what is started in this thread hears no stop, not even in its first moments; the parent
        # does, and ends its workers
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM, signal.SIGHUP})
    with _no_script():
        # one task for each starts them all
        for _ in range(count):
            executor.submit(_load)
    return _Pool(count, executor, alive)


@contextmanager
def _no_script() -> Iterator[None]:
    """Hide the script that runs, which each worker would run again to know what it defines."""
    script = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = script


def _begin(ends: Connection) -> None:
    """Make a worker end when its parent does, and not by a stop that goes to both."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)

    def end() -> None:
        with suppress(EOFError, OSError):
            ends.recv()
        os._exit(1)

    Thread(target=end, daemon=True).start()


def _load() -> None:
    """Import what every surge needs."""
    import surge_sim.demand.draw
    import surge_sim.engine.play  # noqa: F401
