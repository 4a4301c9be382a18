"""When no cleaner is there, whether somebody enters then, and who always needs a kit."""

from __future__ import annotations

import pytest

from surge_sim.scenario import advice
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.schema import CrewShift
from tests.scenario.base import changed

HOUR = 3_600
#: nurses go in from 07:00 to 19:00 only, when there is a cleaner
BY_DAY = f"[{', '.join(['0'] * 7 + ['1'] * 12 + ['0'] * 5)}]"
NIGHT = [*range(7), *range(19, 24)]
DAYTIME = (
    ("by: wearer", "by: crew, crew: [{start: 07:00, end: 19:00, cleaners: 1}]"),
    ("nurse: {room_time: 5 min}", f"nurse: {{room_time: 5 min, hours_of_day: {BY_DAY}}}"),
)
URGENT = (
    "{nurse: 20 per day}",
    "{nurse: 20 per day}\n    urgent: {per_patient: RATE, team: 2, role: nurse}",
)
CLEAN = (
    "air_changes: 12 per h",
    "air_changes: 12 per h, terminal_clean: {role: nurse, when: WHEN, room_time: 9 min, "
    "delay: 5 min}",
)
WITH_A_KIT, LATER = ((CLEAN[0], CLEAN[1].replace("WHEN", w)) for w in (
    "with a kit", "after clearance",
))  # fmt: skip
NO_KIT = ("nurse: {room_time: 5 min", "nurse: {kit_share: 0 %, room_time: 5 min")


@pytest.mark.parametrize(
    ("shifts", "gaps"),
    [
        ([(7, 19, 1)], [(19, 7)]),
        ([(7, 12, 1), (14, 19, 2)], [(12, 14), (19, 7)]),
        # the second shift has nobody
        ([(7, 12, 1), (12, 19, 0)], [(12, 7)]),
        ([(0, 8, 1), (8, 16, 1)], [(16, 24)]),
        ([(24, 8, 1)], [(8, 24)]),
        ([(19, 7, 1), (6, 20, 1)], []),
        ([(7, 7, 1)], []),
        ([(7, 7, 0)], [(0, 24)]),
    ],
)
def test_no_cleaner_is_there_between_the_shifts(
    shifts: list[tuple[int, int, int]], gaps: list[tuple[int, int]]
) -> None:
    crew = [CrewShift(start=a * HOUR, end=b * HOUR, cleaners=n) for a, b, n in shifts]
    found = advice.times_without_cleaner(crew)
    assert found == [(from_h * HOUR, to_h * HOUR) for from_h, to_h in gaps]


@pytest.mark.parametrize(
    ("start", "end", "hours"), [(7, 19, 12), (19, 7, 12), (7, 7, 24), (24, 8, 8), (16, 24, 8)]
)
def test_a_shift_that_ends_when_it_begins_lasts_a_day(start: int, end: int, hours: int) -> None:
    one = CrewShift(start=start * HOUR, end=end * HOUR, cleaners=1)
    assert one.length_s == hours * HOUR


@pytest.mark.parametrize(
    ("changes", "hours"),
    [
        ((), []),
        # at any hour
        (((URGENT[0], URGENT[1].replace("RATE", "1 per day")),), NIGHT),
        (((URGENT[0], URGENT[1].replace("RATE", "0 per day")),), []),
        ((WITH_A_KIT,), NIGHT),
        # no kit is needed for it
        ((LATER,), []),
        # the air is cleared after 23 min already
        (((WITH_A_KIT[0], WITH_A_KIT[1].replace("delay: 5 min", "delay: 24 min")),), []),
    ],
)
def test_urgent_entries_and_cleans_in_a_kit_may_come_at_any_hour(
    changes: tuple[tuple[str, str], ...], hours: list[int]
) -> None:
    settings = scenario_from_text(changed(*DAYTIME, *changes)).settings
    assert advice.hours_without_cleaners(settings) == hours


def test_visits_without_a_kit_are_no_entries() -> None:
    """The nurses go in at any hour; nothing of theirs is to be wiped down."""
    text = changed(DAYTIME[0])
    assert advice.hours_without_cleaners(scenario_from_text(text).settings) == NIGHT
    without = changed(DAYTIME[0], NO_KIT)
    assert advice.hours_without_cleaners(scenario_from_text(without).settings) == []


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ((), True),
        ((LATER,), True),
        ((WITH_A_KIT,), False),
        (((URGENT[0], URGENT[1].replace("RATE", "1 per day")),), False),
        (((URGENT[0], URGENT[1].replace("RATE", "0 per day")),), True),
    ],
)
def test_a_role_without_a_kit_on_its_visits_may_need_one_else(
    changes: tuple[tuple[str, str], ...], told: bool
) -> None:
    warnings = scenario_from_text(changed(NO_KIT, *changes)).warnings
    assert any("this role never needs a kit" in one for one in warnings) is told
