"""What all tests share: where the project is, how to run its program, long tests on request."""

from __future__ import annotations

import contextlib
import io
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent

# the same examples on every machine: a test that failed once fails again
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")

# figures are drawn without a screen, also in the processes that tests start
os.environ.setdefault("MPLBACKEND", "Agg")


#: the option that runs the tests with a mark; without it they are skipped
ASKED_FOR_BY = {"slow": "--slow", "study": "--studies"}


def pytest_addoption(parser: pytest.Parser) -> None:
    for mark, option in ASKED_FOR_BY.items():
        parser.addoption(option, action="store_true", help=f"run the tests marked {mark} as well")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for mark, option in ASKED_FOR_BY.items():
        skip = pytest.mark.skip(reason=f"{mark}: runs with {option}")
        for item in items:
            if item.get_closest_marker(mark) and not config.getoption(option):
                item.add_marker(skip)


@dataclass(frozen=True)
class Done:
    """How a command ended, and what it printed."""

    returncode: int
    stdout: str
    stderr: str


Program = Callable[..., Done]


@pytest.fixture
def program(tmp_path: Path) -> Program:
    """Run ``surge-sim`` as a person would, in a folder of its own, within this process.

    What is ``typed`` is all of the standard input.
    """

    def run(*arguments: str | Path, cwd: Path = tmp_path, typed: str = "") -> Done:
        from surge_sim.cli.main import exit_code_of

        words = [str(one) for one in arguments]
        with (
            contextlib.chdir(cwd),
            contextlib.redirect_stdout(io.StringIO()) as out,
            contextlib.redirect_stderr(io.StringIO()) as err,
            patch.object(sys, "stdin", io.StringIO(typed)),
            patch.object(sys, "argv", ["surge-sim", *words]),
            patch.dict(os.environ, ON_A_SCREEN),
        ):
            code = exit_code_of(words)
        return Done(code, out.getvalue(), err.getvalue())

    return run


@pytest.fixture
def process(tmp_path: Path) -> Callable[..., subprocess.CompletedProcess[str]]:
    """The same as a process of its own, where the claim is about the process."""

    def run(*arguments: str | Path, cwd: Path = tmp_path) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "surge_sim", *map(str, arguments)],
            cwd=cwd,
            env=plain_environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            timeout=600,
        )

    return run


@contextlib.contextmanager
def undrawn() -> Iterator[None]:
    """Leave the files of figures out, where nothing is claimed of them: drawing takes longest."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with patch.object(FigureCanvasAgg, "print_png", lambda *_, **__: None):
        yield


@pytest.fixture(name="undrawn")
def undrawn_in_this_test() -> Iterator[None]:
    """Leave the files of figures out in one test."""
    with undrawn():
        yield


#: the terminal of all tests
ON_A_SCREEN = {"COLUMNS": "80", "NO_COLOR": "1"}


def plain_environment() -> dict[str, str]:
    """Environment in which the program prints the same on every machine."""
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    return {**os.environ, "PYTHONPATH": path, **ON_A_SCREEN}


@pytest.fixture
def limits_however_few_surges(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give limits to numbers of two or three surges too, which show a rule best."""
    import numpy as np

    from surge_sim.statistics import intervals

    def enough(x: np.ndarray, *_: object, **__: object) -> np.ndarray:
        return np.full(x.shape[1], intervals.FEWEST)

    monkeypatch.setattr(intervals, "telling", enough)
