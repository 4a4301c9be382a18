"""Cleaners on duty over time, where a shift begins at midnight."""

from __future__ import annotations

from datetime import datetime

import pytest

from surge_sim.equipment.cleaning import calendar_rows
from surge_sim.scenario.schema import Cleaning, CrewShift
from surge_sim.scenario.timeline import CleanersAbsent

DAY, HOUR = 86_400, 3_600


@pytest.mark.parametrize("begins", [0, DAY])
@pytest.mark.parametrize("named", [0, DAY])
def test_midnight_is_the_beginning_and_the_end_of_a_day(begins: int, named: int) -> None:
    """3 from 0 to 12, 2 from 12 to 24; on day 2 the first shift is absent."""
    crew = (
        CrewShift(start=begins, end=12 * HOUR, cleaners=3),
        CrewShift(start=12 * HOUR, end=DAY, cleaners=2),
    )
    absent = CleanersAbsent(what="cleaning crew absent", at=DAY, lasts=DAY, shift=named)
    cleaning = Cleaning(by="crew", wipe_down=240, crew=crew)
    rows = calendar_rows(cleaning, [absent], 0, datetime(2031, 1, 6), 3 * DAY)
    there = [
        rows[: rows[:, 0].searchsorted(hour * HOUR, side="right")][-1, 2]
        for hour in (0, 11, 12, 23, 24, 35, 36, 47, 48, 60)
    ]
    assert there == [3, 3, 2, 2, 0, 0, 2, 2, 3, 2]
