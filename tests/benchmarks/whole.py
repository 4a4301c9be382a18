"""Whole answers: `run` on one and two processes, `size` on all cores."""

from __future__ import annotations

import time
from collections.abc import Iterator

from surge_sim.engine.surges import compile_engine
from surge_sim.scenario.load import load_scenario
from surge_sim.sizing.size import size
from surge_sim.statistics.run import run
from tests.benchmarks.row import Row, at_least, at_most
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


#: the winter wave, kits and batteries, 200 + 800 surges, on two cores [s]
_ENOUGH_S = 90
#: plays, in parts of those that every stock of the box would take
_FEW_PLAYS = 0.1


def sizings(quick: bool) -> Iterator[Row]:
    """Time of a sizing by the clock on all cores, and its plays against those of the whole box."""
    compile_engine()
    asked = [("rule_out_unit", 100, 300), ("winter_wave", 100, 300), ("winter_wave", 200, 800)]
    for name, choose, certify in asked[:1] if quick else asked:
        scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
        start = time.perf_counter()
        result = size(scenario, choose=choose, surges=certify)
        taken = time.perf_counter() - start
        what = f"{name}: size, {choose} + {certify} surges"
        if certify == 800:
            yield at_most(f"{what}, kits and batteries", taken, _ENOUGH_S, "s")
        else:
            yield Row(what, f"{taken:.3g} s")
        yield Row(f"{what}: plays", f"{result.plays:,} of {result.grid_plays:,}")
        share = result.plays / result.grid_plays
        yield at_most(f"{what}: part of the box", share, _FEW_PLAYS, "")
