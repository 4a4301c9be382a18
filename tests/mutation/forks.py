"""Run tests in a copy of the project, in a fork of a process that has the libraries loaded.

Loading them takes several times as long as most of the tests that are run for one fault.
"""

from __future__ import annotations

import multiprocessing
import os
import resource
import shlex
import sys
from pathlib import Path

from tests.conftest import ROOT

#: a fault may make the tests run for ever: so long they may take, and so much processor time where
#: they are quick [s]
LONGEST_S, QUICK_S = 900, 300
#: where a run of tests in a copy leaves its words
_WORDS = "words.txt"
#: what all tests load is loaded once; every run of tests is a fork of that
_SERVER = multiprocessing.get_context("forkserver")
_LIBRARIES = [
    "click", "hypothesis", "joblib", "matplotlib.pyplot", "numba", "numba.extending", "pandas",
    "pydantic", "pytest", "rich", "scipy.integrate", "scipy.optimize", "scipy.special",
    "scipy.stats", "simpy", "yaml", "xdist.plugin", "pytest_benchmark.plugin",
]  # fmt: skip
#: pytest's exit codes: all passed, some failed
PASSED, SOME_FAILED = 0, 1
_SERVER.set_forkserver_preload(_LIBRARIES)


def run_tests(place: Path, arguments: str, most_busy_s: int = LONGEST_S) -> tuple[int, str]:
    """Run pytest in the copy until the first failure; return its exit code and its words.

    Tests that take longer, or more processor time than ``most_busy_s``, have failed.
    """
    child = _SERVER.Process(target=_be_the_tests, args=(place, arguments, most_busy_s))
    child.start()
    child.join(LONGEST_S)
    if child.is_alive():
        child.kill()
        child.join()
        return SOME_FAILED, f"{_words(place)}\nFAILED tests/never_ends"
    if child.exitcode is None or child.exitcode < 0:
        return SOME_FAILED, f"{_words(place)}\nFAILED tests/ended_by_signal {child.exitcode}"
    return child.exitcode, _words(place)


def _words(place: Path) -> str:
    return (place / _WORDS).read_text(encoding="utf-8", errors="replace")


def _be_the_tests(place: Path, arguments: str, most_busy_s: int) -> None:
    """Be a process that knows the copy only, with the libraries loaded already."""
    os.chdir(place)
    resource.setrlimit(resource.RLIMIT_CPU, (most_busy_s, most_busy_s))
    with (place / _WORDS).open("wb") as words:
        os.dup2(words.fileno(), 1)
        os.dup2(words.fileno(), 2)
    for name in [name for name in sys.modules if name.split(".")[0] in ("tests", "surge_sim")]:
        del sys.modules[name]
    sys.path[:] = [str(place), *(one for one in sys.path if Path(one or ".").resolve() != ROOT)]
    os.environ["PYTHONPATH"] = str(place)
    # compiled code has the digest of its sources in its name: without a fault, it serves all copies
    os.environ["NUMBA_CACHE_DIR"] = str(place.parent / "compiled_code")
    import numba
    import pytest

    numba.config.CACHE_DIR = os.environ["NUMBA_CACHE_DIR"]
    code = pytest.main(["-x", "-q", "-p", "no:cacheprovider", *shlex.split(arguments)])
    sys.stdout.flush()
    os._exit(int(code))
