"""Entries that are postponed past the end of the simulation count as late: this is told."""

from __future__ import annotations

import pytest

from surge_sim.scenario.load import scenario_from_text
from tests.scenario.base import BASE

POSTPONED = "- {what: routine entries postponed, at: AT, by: BY}\n"


def told(*changes: str, before: str = "") -> list[str]:
    """The base lasts 14 d, its run-out a day."""
    text = f"{before}{BASE}timeline:\n{''.join(changes)}"
    return [one for one in scenario_from_text(text, "ward").warnings if "postponed" in text]


def change(at: str, by: str) -> str:
    return POSTPONED.replace("AT", at).replace("BY", by)


@pytest.mark.parametrize(
    ("at", "by", "lasts", "run_out"),
    [
        ("12 d", "24 h", "", ""),
        ("12 d", "25 h", "", "25 h"),
        # those that are due in the last second become due at 13 d + 2 d or before
        ("12 d", "2 d", ", lasts: 1 d", ""),
        ("12 d", "2 d", ", lasts: 25 h", "25 h"),
        # none of them is postponed
        ("12 d", "25 h", ", share: 0 %", ""),
    ],
)
def test_a_change_that_takes_entries_past_the_run_out_is_told(
    at: str, by: str, lasts: str, run_out: str
) -> None:
    found = told(change(at, by + lasts))
    if not run_out:
        assert found == []
        return
    assert found == [
        f"ward.yaml:19: timeline[1].by is {by}: some entries become due after the simulation "
        "ends, and count as late although nobody waits. Write `run_out: "
        f"{run_out}` or more."
    ]
    assert told(change(at, by + lasts), before=f"run_out: {run_out}\n") == []


def test_entries_may_be_postponed_twice() -> None:
    """Of 14 d, by 20 h each: some become due 14 d and 40 h after the start."""
    (found,) = told(change("12 d", "20 h"), change("13 d", "20 h"))
    assert "timeline[2].by is 20 h" in found and "`run_out: 40 h`" in found


def test_the_order_in_which_changes_begin_counts() -> None:
    """The one that begins first is written last: what it postpones is postponed again."""
    (found,) = told(change("13 d", "20 h"), change("12 d", "20 h"))
    assert "timeline[1].by is 20 h" in found and "`run_out: 40 h`" in found
