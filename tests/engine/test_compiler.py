"""What reaches inside the compiler does what it should, with a compiler that is known to allow it.

Where NUMBA_BOUNDSCHECK is set, every index of the engine is looked at.
"""

from __future__ import annotations

import pickle
import re
import subprocess
import sys
from typing import Any, NamedTuple

import numba
import numpy as np
import pytest
from numba import njit

from surge_sim.engine.compiled.compiler import pointer_to
from surge_sim.engine.compiled.state import entry_columns, fixed
from surge_sim.engine.surges import compile_engine
from surge_sim.equipment.numbers import numbers_of
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.scenario.load import load_scenario
from tests.conftest import ROOT, plain_environment


class Tables(NamedTuple):
    """Two tables."""

    flat: Any
    deep: Any


@njit
def double_all(tables):
    """Double every cell through a pointer; the sizes are read behind it too."""
    there = pointer_to(tables)
    for place in range(len(there.flat)):
        there.flat[place].value *= 2
    for row in range(there.deep.shape[0]):
        for column in range(there.deep.shape[1]):
            there.deep[row, column] *= 2
    return there.flat.size + there.deep.size


def test_cells_are_found_in_records_and_in_two_dimensions():
    flat = np.zeros(3, dtype=[("before", np.int64), ("value", np.int64)])
    flat["value"] = 5, 7, 11
    deep = np.arange(6).reshape(2, 3)
    assert double_all(Tables(flat, deep)) == 9
    assert flat["value"].tolist() == [10, 14, 22]
    assert flat["before"].tolist() == [0, 0, 0]
    assert deep.tolist() == [[0, 2, 4], [6, 8, 10]]


def test_a_table_with_gaps_between_its_rows_is_refused():
    flat = np.zeros(6, dtype=[("before", np.int64), ("value", np.int64)])[::2]
    with pytest.raises(TypeError, match=r"flat is .*: its rows must follow each other"):
        double_all(Tables(flat, np.zeros((2, 3), dtype=np.int64)))


@pytest.mark.parametrize("name", ["rule_out_unit", "exposure_cluster", "winter_wave"])
def test_what_comes_from_another_process_is_played_by_the_code_that_is_there(name: str):
    """Arrays may become writable on the way: of another type, for which all is compiled anew."""
    scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")
    case = situation_of(scenario, stock_in_hand(scenario.settings))

    def types(protocol: int | None) -> list[str]:
        demand, unit, stock, start, timeline = (
            case if protocol is None else pickle.loads(pickle.dumps(case, protocol))
        )
        numbers = numbers_of(unit.rules, stock, start, timeline, demand)
        tables = fixed(numbers), entry_columns(demand)
        return [str(numba.typeof(table)) for table in tables]

    assert types(4) == types(5) == types(None)


def test_the_newest_compiler_that_is_allowed_is_the_one_that_is_tested():
    """The last release before the bound, or an older one."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    (bound,) = re.findall(r'"numba>=[0-9.]+,<(\d+\.\d+)"', text)
    first, second = (int(part) for part in bound.split("."))
    assert numba.version_info[:2] == (first, second - 1)


def checked(script: str, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a script where bounds are checked."""
    return subprocess.run(
        [sys.executable, "-c", script, *words],
        cwd=ROOT, env=plain_environment() | {"NUMBA_BOUNDSCHECK": "1"}, capture_output=True,
        text=True, timeout=900, check=False,
    )  # fmt: skip


READ = """
import sys
import numpy as np
from numba import njit
from surge_sim.engine.compiled.compiler import pointer_to
from tests.engine.test_compiler import Tables

@njit
def read(tables, place):
    return pointer_to(tables).flat[place].value

flat = np.arange(6).view([("before", np.int64), ("value", np.int64)])
print(read(Tables(flat, np.zeros((2, 3), dtype=np.int64)), int(sys.argv[1])))
"""


@pytest.mark.parametrize(
    ("place", "found"),
    [
        ("2", "5"),
        ("3", ""),
        pytest.param("0", "1", marks=pytest.mark.slow),
        pytest.param("-1", "", marks=pytest.mark.slow),
    ],
)
def test_where_bounds_are_checked_no_index_lies_outside(place: str, found: str):
    shown = checked(READ, place)
    assert shown.stdout.strip() == found
    assert shown.stderr.strip().endswith("IndexError: index is out of bounds") is (not found)


#: reads the engine that is kept, then has something else compiled
BESIDE = """
import sys
import numpy as np
from numba import njit
from surge_sim.engine.surges import compile_engine

@njit
def total(numbers):
    return np.sqrt(numbers).sum() + np.dot(numbers, numbers)

compile_engine()
print("numba.np.arraymath" in sys.modules, total(np.array([9.0, 16.0])))
"""


def test_the_kept_engine_loads_no_compiler_and_other_code_is_compiled_beside_it():
    """3 + 4 + 81 + 256 = 344."""
    compile_engine()
    done = subprocess.run(
        [sys.executable, "-c", BESIDE], env=plain_environment(), capture_output=True, text=True
    )
    assert (done.stdout, done.stderr) == ("False 344.0\n", "")


@pytest.mark.slow
def test_no_index_of_the_engine_lies_outside():
    """Random scenarios where bounds are checked; the engines agree there, too."""
    shown = checked("from tests.engine.test_agreement import long_run; long_run(150)")
    assert shown.stderr == ""
    assert shown.stdout == "150 scenarios: no difference between the engines\n"


SHORT = """
from surge_sim.engine.compiled import play as engine
from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import settings, tiny_trace

whole = engine.new_state

def short(*sizes):
    found = whole(*sizes)
    return found._replace(use=found.use[:-1])

engine.new_state = short
play(*tiny_trace(settings(), need=[0], room=5).situation(Stock(1, 1, 1)))
"""


@pytest.mark.slow
def test_an_index_outside_is_found_in_the_engine():
    """The states without their last one, which is entered by whoever joins a line."""
    assert checked(SHORT).stderr.strip().endswith("IndexError: index is out of bounds")
