"""Whole answers: `run` on one and two processes, `size --quick`."""

from __future__ import annotations

import time
from collections.abc import Iterator

from surge_sim.engine.surges import compile_engine
from surge_sim.scenario.load import load_scenario
from surge_sim.sizing.size import size
from surge_sim.statistics.run import run
from tests.benchmarks.row import Row, at_least
from tests.benchmarks.speed import ROOT


def runs(quick: bool) -> Iterator[Row]:
    """Time of `run` by the clock, with the processes warm, in turn."""
    compile_engine()
    surges = 40 if quick else 200
    for name, many in (("winter_wave", surges), ("rule_out_unit", 5 * surges)):
        scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
        run(scenario, surges=8, processes=2)
        taken: dict[int, list[float]] = {1: [], 2: []}
        for _ in range(1 if quick else 3):
            for processes, times in taken.items():
                start = time.perf_counter()
                run(scenario, surges=many, processes=processes)
                times.append(time.perf_counter() - start)
        one, two = min(taken[1]), min(taken[2])
        what = f"{name}: run, {many} surges"
        yield Row(f"{what}, 1 process", f"{one:.3g} s")
        yield Row(f"{what}, 2 processes", f"{two:.3g} s")
        yield at_least(f"{what}, 2 processes over 1", one / two, 1.8)


def sizings(quick: bool) -> Iterator[Row]:
    """Time of a sizing by the clock on all cores."""
    compile_engine()
    for name in ("rule_out_unit",) if quick else ("rule_out_unit", "winter_wave"):
        scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
        start = time.perf_counter()
        size(scenario, choose=100, surges=300)
        yield Row(f"{name}: size --quick", f"{time.perf_counter() - start:.3g} s")
