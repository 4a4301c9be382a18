"""How soon an answer is there, over the time that importing numpy and pandas takes."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from tempfile import TemporaryDirectory

from surge_sim.engine.surges import compile_engine
from tests.benchmarks.row import Row, Times, at_most
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


#: libraries without which there is no answer, and no table and figure: what is left of a time when
#: their import is taken away is the program's own
_FOR_AN_ANSWER = "import numpy, scipy.special, numba, pydantic, yaml, click, rich.console"
_FOR_ALL = f"{_FOR_AN_ANSWER}, pandas, matplotlib.figure"


def _processor_time(words: list[str], compiled: str) -> float:
    """Seconds of processor time of a program, with all that it starts.

    What Python compiles lies in the folder `compiled`, whatever the environment says of that.
    """
    said = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": compiled}
    with TemporaryDirectory() as folder:
        before = os.times()
        subprocess.run(
            [sys.executable, *words], cwd=folder, env=plain_environment() | said,
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
        "answer alone": ["-c", _FOR_AN_ANSWER],
        "all alone": ["-c", _FOR_ALL],
        "check": ["-m", "surge_sim", "check", SMALL],
        "answer": ["-c", _TO_THE_ANSWER, *run],
        "whole": ["-m", "surge_sim", *run],
    }
    rounds: dict[str, list[float]] = {name: [] for name in things}
    with TemporaryDirectory() as compiled:
        for turn in range(3 if quick else 9):
            for name, words in things.items():
                took = _processor_time(words, compiled)
                # the first round also writes what Python compiles
                if turn:
                    rounds[name].append(took)
    times = {name: Times(taken) for name, taken in rounds.items()}
    yield Row("importing numpy and pandas", f"{times['import'].least:.3g} s of processor time")
    for name, what in (
        ("answer alone", "importing the libraries of an answer"),
        ("all alone", "importing those of tables and figures too"),
    ):
        yield Row(f"{what}, over that", f"{times[name].over(times['import']):.3g} times")
    for name, what, aim in (
        ("check", "check", _CHECK),
        ("answer", "run, 100 small surges, to the answer", _ANSWER),
        ("whole", "run, 100 small surges, with tables and figures", _WHOLE),
    ):
        ratio = times[name].over(times["import"])
        yield at_most(f"{what}, over importing numpy and pandas", ratio, aim, "times")
