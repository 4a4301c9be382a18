"""Which of the two is rare where a share of entries has no limits."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from surge_sim.statistics.intervals import ratio_interval
from surge_sim.statistics.warnings import few_surges, no_entries

ENTRIES = np.full(30, 10)


@pytest.mark.parametrize(
    ("in_time", "said"),
    [
        (np.zeros(30, dtype=int), "entries were in time in only 0 of 30 surges."),
        (np.arange(30) // 27, "entries were in time in only 3 of 30 surges."),
        (10 - np.arange(30) // 27, "entries were late in only 3 of 30 surges."),
    ],
    ids=["never in time", "rarely in time", "rarely late"],
)
def test_the_warning_names_what_is_rare(in_time: np.ndarray, said: str) -> None:
    level = ratio_interval(in_time, ENTRIES, highest=1.0)
    *_, last = few_surges(ENTRIES, in_time, level)
    assert last == f"No limits are given for the share of entries in time: {said}"


def test_no_entry_at_all_is_told_of_surges_and_of_a_period() -> None:
    none, log = np.zeros(3, dtype=int), SimpleNamespace(file="log.csv")
    period: Any = log
    assert list(no_entries(none)) == ["No surge had any entry: this says nothing about the stock."]
    assert list(no_entries(none, period)) == [
        "No entry lies in the recorded period: this says nothing about the stock."
    ]
    assert not list(no_entries(ENTRIES))
