"""What all tests share: where the project is, how to run its program, slow tests on request."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

ROOT = Path(__file__).resolve().parent.parent

# the same examples on every machine: a test that failed once fails again
settings.register_profile("steady", derandomize=True, deadline=None)
settings.load_profile("steady")

# figures are drawn without a screen, also in the processes that tests start
os.environ.setdefault("MPLBACKEND", "Agg")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--slow", action="store_true", help="run the tests marked slow as well")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--slow"):
        return
    skip = pytest.mark.skip(reason="slow: runs with --slow")
    for item in items:
        if "slow" in item.keywords:
            item.add_marker(skip)


Program = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def program(tmp_path: Path) -> Program:
    """Run ``surge-sim`` as a person would, in a folder of its own; standard input is empty."""

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


def plain_environment() -> dict[str, str]:
    """Environment in which the program prints the same on every machine."""
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH")]))
    return {**os.environ, "PYTHONPATH": path, "COLUMNS": "80", "NO_COLOR": "1"}


@pytest.fixture
def limits_however_few_surges(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give limits to numbers of two or three surges too, which show a rule best."""
    import numpy as np

    from surge_sim.statistics import intervals

    def enough(x: np.ndarray, *_: object, **__: object) -> np.ndarray:
        return np.full(x.shape[1], intervals.FEWEST)

    monkeypatch.setattr(intervals, "telling", enough)
