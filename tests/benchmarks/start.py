"""How soon an answer is there, and how much faster many processes are; both as ratios."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from unittest.mock import patch

from surge_sim.engine import surges as places
from surge_sim.engine.surges import compile_engine, default_processes, workers
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.run import PlayAndSummarise, one_part
from tests.benchmarks.row import Row, Times, at_least, at_most
from tests.benchmarks.speed import ROOT
from tests.conftest import plain_environment

SMALL = str(ROOT / "scenarios" / "rule_out_unit.yaml")
#: ends where the tables and figures would begin
_TO_THE_ANSWER = """
import os
from surge_sim.report import run_folder
run_folder.fill_run_folder = lambda folder, result: os._exit(0)
from surge_sim.cli.ending import main
main()
"""
#: processor time over that of importing numpy and pandas, at most
_CHECK, _ANSWER, _WHOLE = 1.2, 1.6, 2.5


def _processor_time(words: list[str]) -> float:
    """Seconds of processor time of a program, with all that it starts."""
    with TemporaryDirectory() as folder:
        before = os.times()
        subprocess.run(
            [sys.executable, *words], cwd=folder, env=plain_environment(),
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True,
        )  # fmt: skip
        after = os.times()
    return sum(after[2:4]) - sum(before[2:4])


def starts(quick: bool) -> Iterator[Row]:
    """Processor time of commands over that of importing numpy and pandas, in turn."""
    compile_engine()
    run = ["run", SMALL, "--surges", "100", "--out", "found"]
    things = {
        "import": ["-c", "import numpy, pandas"],
        "check": ["-m", "surge_sim", "check", SMALL],
        "answer": ["-c", _TO_THE_ANSWER, *run],
        "whole": ["-m", "surge_sim", *run],
    }
    rounds: dict[str, list[float]] = {name: [] for name in things}
    for turn in range(3 if quick else 9):
        for name, words in things.items():
            took = _processor_time(words)
            # the first round also writes what Python compiles
            if turn:
                rounds[name].append(took)
    times = {name: Times(taken) for name, taken in rounds.items()}
    yield Row("importing numpy and pandas", f"{times['import'].least:.3g} s of processor time")
    for name, what, aim in (
        ("check", "check", _CHECK),
        ("answer", "run, 100 small surges, to the answer", _ANSWER),
        ("whole", "run, 100 small surges, with tables and figures", _WHOLE),
    ):
        ratio = times[name].over(times["import"])
        yield at_most(f"{what}, over importing numpy and pandas", ratio, aim, "times")


#: processes that are tried, as far as there are cores
_PROCESSES = (1, 2, 4, 8, 16)
#: 16 processes over one, and how much longer they may take to start [s]
_SIXTEEN_OVER_ONE, _MORE_S = 12, 1.5


def scaling(quick: bool) -> Iterator[Row]:
    """Surges per second of the winter wave on more and more processes, and on a cluster here."""
    compile_engine()
    counts = [count for count in _PROCESSES if count <= default_processes()]
    surges = 320 if quick else 3_200
    yield Row("cores of this machine", f"{default_processes()}")
    yield from _more_and_more("processes", counts, surges, _of_processes)
    yield from _more_and_more("workers of a local Dask cluster", counts, surges, _of_cluster)


def _more_and_more(
    what: str, counts: list[int], surges: int, of: Callable[[int, int], tuple[float, float]]
) -> Iterator[Row]:
    one_start = one_s = 0.0
    for count in counts:
        start_s, play_s = of(count, surges)
        if count == 1:
            one_start, one_s = start_s, play_s
        name = f"winter_wave, {surges:,} surges, {count} {what}"
        yield Row(name, f"start {start_s:.3g} s, then {surges / play_s:,.4g} surges/s")
        faster, slower_start = one_s / play_s, start_s - one_start
        with_start = (one_start + one_s) / (start_s + play_s)
        if count == _PROCESSES[-1] and what == "processes":
            yield at_least(f"{name}: over 1, without the start", faster, _SIXTEEN_OVER_ONE)
            yield at_most(f"{name}: start longer than of 1", slower_start, _MORE_S, "s")
        else:
            yield Row(f"{name}: over 1, without the start", f"{faster:.3g} times")
        yield Row(f"{name}: over 1, with the start", f"{with_start:.3g} times")


def _of_processes(count: int, surges: int) -> tuple[float, float]:
    return _timed(count, None, surges)


def _of_cluster(count: int, surges: int) -> tuple[float, float]:
    # here: the helper needs what a cluster needs, which may not be installed
    from tests.engine.test_cluster import dask

    with TemporaryDirectory() as folder, dask(Path(folder), count) as running:
        return _timed(None, running.address, surges)


def _timed(count: int | None, address: str | None, surges: int) -> tuple[float, float]:
    """Seconds until every worker has played, and of so many surges after that."""
    scenario = load_scenario(ROOT / "scenarios" / "winter_wave.yaml")
    task = PlayAndSummarise(scenario, stock_in_hand(scenario.settings), 1, "compiled")
    # with so much to do that workers start
    with patch.object(places, "WORTH_S", 0.0):
        begun = time.perf_counter()
        with workers(count, address) as place:
            first = range(8 * place.count)
            deque(place.over(task, first, join=one_part), maxlen=0)
            started = time.perf_counter()
            taken = []
            for _ in range(1 if surges < 1_000 else 3):
                again = time.perf_counter()
                deque(place.over(task, range(surges), join=one_part), maxlen=0)
                taken.append(time.perf_counter() - again)
    return started - begun, median(taken)
