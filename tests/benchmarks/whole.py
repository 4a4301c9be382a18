"""Whole answers: `run` on one and two processes, `size`, `case`, the page of an exercise."""

from __future__ import annotations

import json
import sys
import time
from collections import deque
from collections.abc import Iterator
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from subprocess import DEVNULL, PIPE, Popen
from tempfile import TemporaryDirectory
from unittest.mock import patch

import numpy as np

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import chosen_surge, compare
from surge_sim.drill.tree import Tree
from surge_sim.engine import surges as places
from surge_sim.engine.surges import compile_engine, workers
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.report.exercise_room import room_page
from surge_sim.scenario.exercise import load_exercise
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.run import PlayAndSummarise, one_part, run
from tests.benchmarks.row import Row, at_most
from tests.benchmarks.speed import ROOT
from tests.conftest import plain_environment

#: two processes should reach this many times one, or this part of what the machine can give
_TWO_OVER_ONE, _OF_POSSIBLE = 1.8, 0.9


class Apart:
    """Two processes that know nothing of each other, each with half of the surges.

    What they reach over one process is what two cores of this machine can give: they share its
    memory and its clock even where a program shares nothing.
    """

    def __init__(self, path: Path) -> None:
        context = get_context("spawn")
        self._ends = []
        for _ in range(2):
            here, there = context.Pipe()
            context.Process(target=_play_halves, args=(path, there), daemon=True).start()
            self._ends.append(here)
        for end in self._ends:
            end.recv()

    def time(self, surges: int) -> float:
        """Return how long both take for half of the surges each [s]."""
        start = time.perf_counter()
        for end in self._ends:
            end.send(surges // 2)
        for end in self._ends:
            end.recv()
        return time.perf_counter() - start

    def stop(self) -> None:
        """Let both end."""
        for end in self._ends:
            end.send(0)


def _play_halves(path: Path, end: Connection) -> None:
    scenario = load_scenario(path)
    run(scenario, surges=8, processes=1)
    end.send(None)
    while surges := end.recv():
        run(scenario, surges=surges, processes=1)
        end.send(None)


def runs(quick: bool) -> Iterator[Row]:
    """Time of the plays of `run` by the clock, with the processes warm, in turn."""
    compile_engine()
    for name, surges in (("winter_wave", 100), ("rule_out_unit", 1_000)):
        path = ROOT / "scenarios" / f"{name}.yaml"
        scenario = load_scenario(path)
        task = PlayAndSummarise(scenario, stock_in_hand(scenario.settings), 1, "compiled")
        apart = Apart(path)
        taken = []
        # with so much to do that workers start
        with workers(1) as alone, workers(2) as both, patch.object(places, "WORTH_S", 0.0):
            for place in (alone, both):
                deque(place.over(task, range(40), join=one_part), maxlen=0)
            for _ in range(2 if quick else 7):
                times = []
                for place in (alone, both):
                    start = time.perf_counter()
                    deque(place.over(task, range(surges), join=one_part), maxlen=0)
                    times.append(time.perf_counter() - start)
                taken.append([*times, apart.time(surges)])
        apart.stop()
        one, two, _ = np.median(taken, axis=0)
        # of pairs taken one after the other: the machine's speed drifts
        ratio, possible = (float(np.median([t[0] / t[n] for t in taken])) for n in (1, 2))
        what = f"{name}: run, {surges:,} surges"
        yield Row(f"{what}, 1 process", f"{one:.3g} s")
        yield Row(f"{what}, 2 processes", f"{two:.3g} s")
        yield Row(f"{what}, 2 unrelated processes over 1", f"{possible:.3g} times")
        yield Row(
            f"{what}, 2 processes over 1",
            f"{ratio:.3g} times",
            f"{_TWO_OVER_ONE:g} or more, or {_OF_POSSIBLE:g} of what unrelated ones reach",
            ratio >= min(_TWO_OVER_ONE, _OF_POSSIBLE * possible),
        )


#: the commands on two cores with nothing else at work, the winter wave with all that has a price
#: and 200 + 800 surges, the small unit with 100 + 300: first look, answer, the case for it [s]
_ENOUGH_S = {"winter_wave": (10, 120, 20), "rule_out_unit": (10, 10, 20)}
#: most of a page to explore [MB]
_PAGE_MB = 3


def sizings(quick: bool) -> Iterator[Row]:
    """Time of `size` and `case` as typed, by the clock on all cores, with the engine compiled."""
    compile_engine()
    for name, options in (("rule_out_unit", ["--quick"]), ("winter_wave", [])):
        if quick and name == "winter_wave":
            continue
        look_s, enough_s, case_s = _ENOUGH_S[name]
        with TemporaryDirectory() as place:
            sized, case = Path(place, "sized"), Path(place, "case")
            file = str(ROOT / "scenarios" / f"{name}.yaml")
            looked, taken = _typed("size", file, *options, "--out", str(sized))
            what = " ".join(["size", *options])
            yield at_most(f"{name}: {what}, first look", looked, look_s, "s")
            yield at_most(f"{name}: {what}", taken, enough_s, "s")
            plays = json.loads((sized / "summary.json").read_text())["replications"]
            yield Row(f"{name}: {what}, plays", f"{plays:,}")
            _, taken = _typed("case", str(sized), "--out", str(case))
            yield at_most(f"{name}: case", taken, case_s, "s")
            size_mb = (case / "case.html").stat().st_size / 1e6
            yield at_most(f"{name}: case, page", size_mb, _PAGE_MB, "MB")


def _typed(*words: str) -> tuple[float, float]:
    """Return how long a command takes to its first look, and to its end [s]."""
    looked_s, begun = 0.0, time.perf_counter()
    command = [sys.executable, "-m", "surge_sim", *words]
    with Popen(command, stdout=DEVNULL, stderr=PIPE, env=plain_environment()) as process:
        for line in process.stderr or ():
            if line.startswith(b"First look"):
                looked_s = time.perf_counter() - begun
    if process.returncode:
        raise RuntimeError(f"{' '.join(words)} ends with {process.returncode}")
    return looked_s, time.perf_counter() - begun


#: processor time of the page of an exercise, with its 27 ways on 201 surges [s]
_PAGE_S = 10


def pages(quick: bool) -> Iterator[Row]:
    """Processor time of the page for the room, in this process alone, with the engine compiled."""
    compile_engine()
    for name in ("evening",) if quick else ("evening", "fortnight"):
        exercise = load_exercise(ROOT / "scenarios" / "exercises" / f"{name}.yaml")
        start = time.process_time()
        number = chosen_surge(exercise, processes=1)
        comparison = compare(exercise, number, processes=1)
        room_page(Tree(Surges(exercise).surge(number)), comparison)
        taken = time.process_time() - start
        yield at_most(f"{name}: page of the exercise", taken, _PAGE_S, "s")
