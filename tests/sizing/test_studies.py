"""The coverage studies in short; tests/studies holds them at full length."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest

from surge_sim.statistics.intervals import mean_interval
from tests.studies import coverage
from tests.studies.known_waits import Loads, OneLine

#: chance that this file fails although the program is right: twenty lines
FALSE_ALARM = 20 * coverage.EACH


def slow(study: Callable[[], Iterable[coverage.Coverage]]) -> Any:
    return pytest.param(study, marks=pytest.mark.slow)


@pytest.mark.parametrize(
    "study",
    [
        lambda: coverage.run_ratios(OneLine(), 400, 100),
        lambda: coverage.run_ratios(Loads(), 400, 100),
        lambda: coverage.run_counts(Loads(), 400, 100),
        slow(lambda: coverage.run_quantiles(Loads(), 60, 50)),
        lambda: [coverage.over_surges(400, 200, 0.9)],
        lambda: [coverage.shares(400, 300, 0.9)],
        lambda: [coverage.needed(400, 200, 0.9)],
        slow(lambda: coverage.sized(30)),
    ],
    ids=["a line, shares and waits", "loads, shares and waits", "counts", "quantiles of waits",
         "quantile over surges", "share",
         "stock needed", "sizings"],
)  # fmt: skip
def test_intervals_cover_as_often_as_they_say(study) -> None:  # type: ignore[no-untyped-def]
    """Up to 400 repetitions each, on cases whose truth is worked out; a sound interval is called
    too narrow once in 200,000 lines. `python -m tests.studies.coverage` does it at full length.
    """
    for line in study():
        assert line.share >= line.least, line


def test_mean_interval_is_students_when_nothing_is_skewed() -> None:
    """Values -1, 0, 1 many times: no skewness, so mean 0 and 1.96... times the error."""
    values = np.tile([-1.0, 0.0, 1.0], 40)
    mean, low, high = mean_interval(values, 0.95)
    error = values.std(ddof=1) / np.sqrt(120)
    assert mean == 0.0
    assert high == pytest.approx(1.9801 * error, rel=1e-4)
    assert low == pytest.approx(-high)


def test_mean_interval_leans_towards_the_long_tail() -> None:
    values = np.concatenate([np.zeros(90), np.full(10, 0.05)])
    mean, low, high = mean_interval(values, 0.95)
    assert high - mean > mean - low > 0
