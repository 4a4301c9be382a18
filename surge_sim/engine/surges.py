"""Many surges on every core: one task a surge, results in the order of the surges."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Result = TypeVar("Result")

#: most surges that one message to a worker carries
_MOST_AT_ONCE = 8


def default_processes() -> int:
    """Cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def compile_engine() -> None:
    """Compile the engine now, with a word about it, unless that was done before."""
    from surge_sim.engine.compiled import is_kept

    if not is_kept():
        print(
            "Compiling the engine for this machine, once: about half a minute.",
            file=sys.stderr,
            flush=True,
        )
    from surge_sim.engine.compiled.play import compile_now

    compile_now()


def _several(task: Callable[[int], Result], numbers: Sequence[int]) -> list[Result]:
    return [task(number) for number in numbers]


def over_surges(
    task: Callable[[int], Result],
    numbers: Sequence[int],
    processes: int | None = None,
    engine: str = "compiled",
) -> Iterator[Result]:
    """Do a task for every surge.

    Parameters
    ----------
    task : callable
        Takes the number of a surge; a plain function of it, so that the results do not depend on
        how the work is split.
    numbers : sequence of int
        Numbers of the surges.
    processes : int, optional
        Worker processes; by default one a core. With 1 the work is done in this process.
    engine : {"compiled", "reference"}
        The compiled engine is compiled here first, so that the workers find it ready.

    Yields
    ------
    Result
        In the order of `numbers`; no more than a few messages are held at a time.
    """
    processes = default_processes() if processes is None else processes
    if engine == "compiled" and len(numbers):
        compile_engine()
    if processes <= 1 or len(numbers) < 4:
        for number in numbers:
            yield task(number)
        return
    from joblib import Parallel, delayed

    size = max(1, min(_MOST_AT_ONCE, len(numbers) // (4 * processes)))
    batches = [numbers[start : start + size] for start in range(0, len(numbers), size)]
    workers = Parallel(n_jobs=processes, return_as="generator", batch_size=1)
    for results in workers(delayed(_several)(task, batch) for batch in batches):
        yield from results
