"""Numbered tasks over processes that may hang or die: a watchdog ends them and goes on."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import resource
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from tests.robustness.trial import LONGEST_S, MOST_MEMORY, Outcome, peak_memory

Task = Callable[[int], Outcome]

#: a worker that has grown beyond this is replaced, so that what it holds is not counted again
_STALE = MOST_MEMORY * 0.8
#: no worker may take more address space than this above what it has: the machine is shared
_CEILING = 4 * 10**9
#: a case may neither use the processor nor wait for it for so many times its limit
_IDLE_TIMES = 6


def _work(task: Task, pipe: Connection) -> None:
    """Do tasks by number until there are none."""
    # programs that a task starts may set limits of their own
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (_CEILING, hard))
    os.environ["MPLBACKEND"] = "Agg"
    sink = os.open(os.devnull, os.O_WRONLY)
    os.dup2(sink, 2)
    with contextlib.suppress(EOFError, KeyboardInterrupt, BrokenPipeError):
        while (number := pipe.recv()) is not None:
            pipe.send((number, task(number), peak_memory()))


@dataclass
class _Worker:
    process: Any
    pipe: Connection
    number: int | None = None
    since: float = 0.0
    busy_s: float = 0.0
    queued_s: float = 0.0
    done: int = 0


def _busy_s(process: int) -> float:
    """Return the processor time of a process [s]; time on the wall where that is not told."""
    try:
        fields = (
            Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        )
    except OSError:
        return time.monotonic()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _queued_s(process: int) -> float:
    """Return how long a process was ready to run while others ran [s]; 0 where that is not told."""
    queued_ns = 0
    for told in Path(f"/proc/{process}/task").glob("*/schedstat"):
        with contextlib.suppress(OSError):
            queued_ns += int(told.read_text(encoding="ascii").split()[1])
    return queued_ns / 1e9


@dataclass
class SideBySide:
    """Workers for one kind of task."""

    task: Task
    processes: int
    limit_s: float = LONGEST_S
    #: the first case of a worker may load the libraries and the compiled engine [s]
    start_s: float = 120.0
    _workers: list[_Worker] = field(default_factory=list)

    def over(self, numbers: Sequence[int]) -> Iterator[tuple[int, Outcome]]:
        """Do the task for every number; outcomes come as they are ready."""
        waiting = list(reversed(numbers))
        try:
            while waiting or self._workers:
                while waiting and len(self._workers) < self.processes:
                    self._workers.append(self._started())
                for worker in self._workers:
                    if worker.number is None and waiting:
                        worker.number, worker.since = waiting.pop(), time.monotonic()
                        worker.busy_s = _busy_s(worker.process.pid)
                        worker.queued_s = _queued_s(worker.process.pid)
                        worker.pipe.send(worker.number)
                busy = [worker for worker in self._workers if worker.number is not None]
                ready = wait([worker.pipe for worker in busy], timeout=0.2) if busy else []
                for worker in list(self._workers):
                    if worker.pipe in ready:
                        yield self._taken(worker)
                    elif worker.number is None:
                        self._ended(worker)
                    elif self._is_overdue(worker):
                        yield worker.number, Outcome("hang", "", f"more than {self.limit_s:g} s")
                        self._ended(worker)
        finally:
            for worker in list(self._workers):
                self._ended(worker)

    def _started(self) -> _Worker:
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        process = context.Process(target=_work, args=(self.task, there), daemon=True)
        process.start()
        there.close()
        return _Worker(process, here)

    def _is_overdue(self, worker: _Worker) -> bool:
        limit_s = self.limit_s if worker.done else max(self.start_s, self.limit_s)
        wall_s = time.monotonic() - worker.since
        if wall_s <= limit_s:
            return False
        busy_s = _busy_s(worker.process.pid) - worker.busy_s
        idle_s = wall_s - busy_s - (_queued_s(worker.process.pid) - worker.queued_s)
        return busy_s > limit_s or idle_s > _IDLE_TIMES * limit_s

    def _taken(self, worker: _Worker) -> tuple[int, Outcome]:
        number = worker.number
        assert number is not None
        try:
            _, outcome, memory = worker.pipe.recv()
        except (EOFError, OSError):
            worker.process.join(5)
            code = worker.process.exitcode
            self._ended(worker)
            return number, Outcome("died", f"exit code {code}")
        worker.number, worker.done = None, worker.done + 1
        if memory > _STALE:
            self._ended(worker)
        return number, outcome

    def _ended(self, worker: _Worker) -> None:
        self._workers.remove(worker)
        worker.process.kill()
        worker.process.join()
        worker.pipe.close()
