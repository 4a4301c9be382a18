"""Times as people give them: a date and clock time, or a day of the surge."""

from __future__ import annotations

from datetime import datetime

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.timeline import seconds_after
from tests.scenario.base import BASE, changed

HOUR = 3_600
#: a Monday
START = datetime(2031, 1, 6, 7, 0)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("2031-01-06 07:00", 0),
        ("2031-01-08 18:00", 59),
        ("2031-01-08T18:00", 59),
        ("2031-01-08", 41),
        ("2031-01-08 24:00", 65),
        ("2031-01-06 06:00", -1),
        # day 1 begins with the surge, day 3 two days later, each at 07:00
        ("day 1", 0),
        ("day 3", 48),
        ("day 3, 18:00", 59),
        ("day 3 18:00", 59),
        ("Day 3 at 18:00", 59),
        ("day 3, 07:00", 48),
        ("day 3, 06:00", 71),
        ("day 3, 24:00", 65),
        ("day 3,18:00", 59),
    ],
)
def test_a_day_or_date_is_so_long_after_a_start_at_seven(text, hours):
    assert seconds_after(text, START) == hours * HOUR


@pytest.mark.parametrize(
    "text",
    [
        "day 112:00",
        "day 3at 18:00",
        "day 0",
        "day 3, 25:00",
        "day -1",
        "2031-02-30",
        "2031-01-08 18",
        "2031-01-08 18:00Z",
    ],
)
def test_what_is_no_day_or_date_is_none(text):
    assert seconds_after(text, START) is None


@pytest.mark.parametrize(("text", "hours"), [("day 3, 00:00", 48), ("day 3, 24:00", 72)])
def test_in_a_surge_from_midnight_a_day_begins_at_0_and_ends_at_24(text, hours):
    assert seconds_after(text, datetime(2031, 1, 6)) == hours * HOUR


def with_event(at: str, what: str = "{what: power outage, at: AT, lasts: 4 h}") -> str:
    return BASE + f"timeline:\n  - {what.replace('AT', at)}\n"


@pytest.mark.parametrize(
    "at", ["59 h", "day 3, 18:00", "day 3 18:00", "'day 3, 18:00'", "2031-01-08 18:00"]
)
def test_every_at_takes_a_day_or_a_date_in_braces_too(at):
    """A change and a cluster, 59 hours after the start at 07:00."""
    text = with_event(at).replace(
        "initial_census: 1", f"clusters: [{{patients: 2, at: {at}, within: 1 h}}]"
    )
    settings = scenario_from_text(text).settings
    assert settings.timeline[0].at == settings.arrivals.clusters[0].at == 59 * HOUR


def test_a_day_on_its_own_line_and_in_a_range_are_read():
    block = "timeline:\n  - what: power outage\n    at: day 3, 18:00\n    lasts: 4 h\n"
    assert scenario_from_text(BASE + block).settings.timeline[0].at == 59 * HOUR
    text = with_event("{low: day 2, high: 2031-01-08 07:00}")
    (one,) = scenario_from_text(text).ranges
    assert (one.low, one.high) == (24 * HOUR, 48 * HOUR)


def test_a_faulty_moment_in_a_range_is_told_once():
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(with_event("{low: day 3, high: day 40}"))
    (fault,) = error.value.faults
    assert fault.found == "timeline[1].at.high is 'day 40', after the surge ends."


def test_the_full_form_of_a_date_reads_back_the_same():
    scenario = scenario_from_text(with_event("2031-01-08 18:30"))
    again = scenario_from_text(scenario.full_form())
    assert again.settings == scenario.settings


@pytest.mark.parametrize(
    ("at", "found"),
    [
        ("2031-01-06 06:59", "is '2031-01-06 06:59', before the surge begins."),
        ("2031-01-20 07:00", "is '2031-01-20 07:00', after the surge ends."),
        ("day 15", "is 'day 15', after the surge ends."),
        ("day 0", "is 'day 0'."),
        ("08.01.2031 18:00", "is '08.01.2031 18:00'."),
        ("2031-02-30 18:00", "is '2031-02-30 18:00'."),
    ],
)
def test_a_time_outside_the_surge_is_refused_with_its_line(at, found):
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(with_event(at))
    (fault,) = error.value.faults
    assert (fault.line, fault.found) == (19, f"timeline[1].at {found}")


def test_a_date_beside_a_faulty_start_is_one_fault():
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(with_event("day 3").replace("2031-01-06 07:00", "tomorrow"))
    (fault,) = error.value.faults
    assert fault.found.startswith("start is 'tomorrow'")


def test_the_last_second_of_the_surge_is_inside():
    text = changed(("horizon: 14 d", "horizon: 13 d 1 min"))
    text += "timeline: [{what: power outage, at: 2031-01-19 07:00, lasts: 4 h}]\n"
    assert scenario_from_text(text).settings.timeline[0].at == 13 * 24 * HOUR
