"""How much faster many processes are, on this machine and on a Dask cluster on it."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from typing import NamedTuple
from unittest.mock import patch

from surge_sim.engine import surges as places
from surge_sim.engine.surges import compile_engine, default_processes, workers
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.scenario.load import load_scenario
from surge_sim.sizing.size import size
from surge_sim.statistics.run import PlayAndSummarise, one_part
from tests.benchmarks.row import Row, at_least, at_most
from tests.benchmarks.speed import ROOT

PATH = ROOT / "scenarios" / "winter_wave.yaml"
#: processes that are tried, as far as there are cores
_PROCESSES = (1, 2, 4, 8, 16)
#: 16 processes over one, and how much longer they may take to start [s]
_SIXTEEN_OVER_ONE, _MORE_S = 12, 1.5
#: surges that each process plays to find the speed, and how often
_EACH, _TURNS = 200, 3
#: surges of the run whose time, with the start, is compared
_LONG = 3_200


class _Timed(NamedTuple):
    #: until every worker has played [s]
    start_s: float
    #: surges per second after that
    speed: float

    def long_s(self) -> float:
        """Seconds of a long run, with the start."""
        return self.start_s + _LONG / self.speed


def scaling(quick: bool) -> Iterator[Row]:
    """Surges per second of the winter wave on more and more processes and workers; a sizing."""
    compile_engine()
    counts = [count for count in _PROCESSES if count <= default_processes()]
    each = _EACH // 4 if quick else _EACH
    yield Row("cores of this machine", f"{default_processes()}")
    yield from _more_and_more("processes", counts, lambda count: _timed(count, None, count * each))
    what = "workers of a local Dask cluster"
    if find_spec("distributed") is None:
        yield Row(f"winter_wave, {what}", "Dask is not installed")
    else:
        yield from _more_and_more(what, counts, lambda count: _of_cluster(count, count * each))
    yield from _quick_sizing(sorted({1, counts[-1]}) if quick else counts)


def _more_and_more(what: str, counts: list[int], of: Callable[[int], _Timed]) -> Iterator[Row]:
    one = of(1)
    for count in counts:
        many = one if count == 1 else of(count)
        name = f"winter_wave, {count} {what}"
        yield Row(name, f"start {many.start_s:.3g} s, then {many.speed:,.4g} surges/s")
        if count == 1:
            continue
        faster, more_s = many.speed / one.speed, many.start_s - one.start_s
        if count == _PROCESSES[-1] and what == "processes":
            yield at_least(f"{name}: over 1, without the start", faster, _SIXTEEN_OVER_ONE)
            yield at_most(f"{name}: start longer than of 1", more_s, _MORE_S, "s")
        else:
            yield Row(f"{name}: over 1, without the start", f"{faster:.3g} times")
        with_start = one.long_s() / many.long_s()
        yield Row(f"{name}: over 1, {_LONG:,} surges with the start", f"{with_start:.3g} times")


def _of_cluster(count: int, surges: int) -> _Timed:
    # here: the helper needs what a cluster needs, which may not be installed
    from tests.engine.test_cluster import dask

    with TemporaryDirectory() as folder, dask(Path(folder), count) as running:
        return _timed(None, running.address, surges)


def _timed(count: int | None, address: str | None, surges: int) -> _Timed:
    scenario = load_scenario(PATH)
    task = PlayAndSummarise(scenario, stock_in_hand(scenario.settings), 1, "compiled")
    # with so much to do that workers start
    with patch.object(places, "WORTH_S", 0.0):
        begun = time.perf_counter()
        with workers(count, address) as place:
            first = range(8 * place.count)
            deque(place.over(task, first, join=one_part), maxlen=0)
            started = time.perf_counter()
            taken = []
            for _ in range(_TURNS):
                again = time.perf_counter()
                deque(place.over(task, range(surges), join=one_part), maxlen=0)
                taken.append(time.perf_counter() - again)
    return _Timed(started - begun, surges / median(taken))


def _quick_sizing(counts: list[int]) -> Iterator[Row]:
    """Seconds of `size --quick` by the clock, with the start of the workers."""
    scenario = load_scenario(PATH)
    one_s = 0.0
    for count in counts:
        begun = time.perf_counter()
        result = size(scenario, choose=100, surges=300, processes=count)
        taken = time.perf_counter() - begun
        name = f"winter_wave, quick sizing, {count} processes"
        if count == counts[0]:
            one_s = taken
            yield Row("winter_wave, quick sizing: plays", f"{result.plays:,}")
        yield Row(name, f"{taken:.3g} s")
        if count != counts[0]:
            yield Row(f"{name}: over 1, with the start", f"{one_s / taken:.3g} times")
