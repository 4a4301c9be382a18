"""What stands beside something that it cannot go with is refused, and what can is not."""

from __future__ import annotations

from pathlib import Path

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from tests.scenario.base import BASE, changed

LOG = changed(("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}"))
DAY = "{start: 07:00, end: 15:00, cleaners: 2}, {start: 15:00, end: 07:00, cleaners: 1}"


def fault_of(text: str, folder: Path = Path(".")) -> str:
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(text, "ward", folder)
    (fault,) = error.value.faults
    return str(fault)


def test_extra_patients_do_not_go_with_a_log(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("requested,room_minutes\n5,5\n")
    extra = "{what: extra patients, at: 1 d, lasts: 5 d, arrivals: +100 %}"
    assert fault_of(f"{LOG}timeline:\n- {extra}\n", tmp_path) == (
        "ward.yaml:19: timeline[1].what does not go with a log of entries.\n"
        "  A log has its own entries: leave this change out."
    )
    bundled = "{what: care bundled, at: 1 d, lasts: 5 d, dropped: 20 %}"
    assert scenario_from_text(f"{LOG}timeline:\n- {bundled}\n", "ward", tmp_path)


def with_crew(crew: str, change: str) -> str:
    return changed(("by: wearer", f"by: crew, crew: [{crew}]")) + f"timeline:\n- {change}\n"


@pytest.mark.parametrize(
    "change",
    [
        "{what: extra cleaners, at: 1 d, cleaners: 1, shift: 07:00}",
        "{what: cleaning crew absent, at: 1 d, lasts: 1 d, shift: 07:00}",
    ],
)
def test_a_shift_is_named_by_its_beginning_if_one_begins_then(change: str) -> None:
    """Of two the change would hold for both: 2 extra cleaners where 1 is written."""
    scenario_from_text(with_crew(DAY, change))
    twice = f"{DAY}, {{start: 07:00, end: 19:00, cleaners: 2}}"
    assert fault_of(with_crew(twice, change)).startswith(
        "ward.yaml:19: timeline[1].shift is 07:00, and 2 shifts of the crew begin then.\n"
        "  Let one shift begin at 07:00"
    )
    scenario_from_text(with_crew(twice, change.replace(", shift: 07:00", "")))


@pytest.mark.parametrize(("begins", "named"), [("24:00", "00:00"), ("00:00", "24:00")])
def test_midnight_is_the_beginning_and_the_end_of_a_day(begins: str, named: str) -> None:
    crew = f"{{start: {begins}, end: 12:00, cleaners: 2}}"
    absent = f"{{what: cleaning crew absent, at: 1 d, lasts: 1 d, shift: '{named}'}}"
    (change,) = scenario_from_text(with_crew(crew, absent)).settings.timeline
    assert change.shift % 86_400 == 0  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("written", "told"),
    [
        (", turnaround: 0 min", " is 0 min.\n  It must be above 0.\n  Write for example"),
        ("", " is missing, and cleaning is by central.\n  Write for example"),
    ],
)
def test_a_turnaround_of_nothing_is_not_a_missing_one(written: str, told: str) -> None:
    text = changed(("by: wearer", f"by: central, rounds: [06:00]{written}"))
    assert fault_of(text).startswith(f"ward.yaml:15: cleaning.turnaround{told}")


@pytest.mark.parametrize("median", range(100, 130))
def test_a_battery_lasts_beyond_half_of_the_donnings_by_quantiles(median: int) -> None:
    """As much as the alarm's 10 min and the median is too little, a second more is enough."""
    don = ("don: 2 min", f"don: {{shape: gamma, median: {median} s, p90: 8 min}}")
    for more in (0, 1):
        least = ("minimum_run_time: 30 min", f"minimum_run_time: {600 + median + more} s")
        if more:
            scenario_from_text(changed(don, least))
        else:
            assert "must last through donning" in fault_of(changed(don, least))


def test_the_base_of_these_is_good() -> None:
    assert scenario_from_text(BASE).warnings == ()
