"""Peak memory, each measured in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator

from tests.benchmarks.row import Row, at_most
from tests.benchmarks.speed import ROOT
from tests.conftest import plain_environment

MB = 1024 * 1024
#: of a process whose work is the same, from one time to the next [MB]
_UNSTEADY_MB = 5.0

_ONE_SURGE = """
import resource
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.run import run
from surge_sim.engine.surges import compile_engine
def peak(): return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
compile_engine()
run(load_scenario("scenarios/rule_out_unit.yaml"), surges=2, processes=1)
before = peak()
result = run(load_scenario("scenarios/winter_wave.yaml"), surges=1, processes=1)
print(peak() - before, result.entries)
"""

_MANY_SURGES = """
import pickle, resource, sys
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.run import run
result = run(load_scenario("scenarios/rule_out_unit.yaml"), surges=int(sys.argv[1]), processes=1)
kept = len(pickle.dumps(result.summary))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024, kept)
"""


def _measured(script: str, *words: str) -> list[float]:
    done = subprocess.run(
        [sys.executable, "-c", script, *words],
        cwd=ROOT, env=plain_environment(), capture_output=True, text=True, check=True,
    )  # fmt: skip
    return [float(word) for word in done.stdout.split()]


def peaks(quick: bool) -> Iterator[Row]:
    """One surge of 20,000 entries above the baseline; many surges against few."""
    grown, entries = _measured(_ONE_SURGE)
    what = f"winter_wave: one surge of {entries:,.0f} entries, above the libraries"
    yield at_most(what, grown / MB, 50, "MB")
    many = 1_000 if quick else 10_000
    few_bytes, few_kept = _measured(_MANY_SURGES, "100")
    many_bytes, many_kept = _measured(_MANY_SURGES, str(many))
    summaries = (many_kept - few_kept) / MB
    yield Row("rule_out_unit: run of 100 surges", f"{few_bytes / MB:,.0f} MB with the libraries")
    yield Row(f"rule_out_unit: summaries of {many:,} surges", f"{summaries:,.3g} MB more")
    # twice while the rows are put together
    allowed = 2 * summaries + _UNSTEADY_MB
    what = f"rule_out_unit: {many:,} surges above 100"
    yield at_most(what, (many_bytes - few_bytes) / MB, round(allowed, 1), "MB")
