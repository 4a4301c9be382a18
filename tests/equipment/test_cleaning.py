"""What the clock brings to those who clean: shifts and collection rounds. Moments in hours."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
import pytest

from surge_sim.equipment.cleaning import Calendar, calendar_of, calendar_rows
from surge_sim.equipment.timeline import InForce
from surge_sim.scenario.schema import Cleaning, CrewShift
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.timeline import CleanersAbsent, ExtraCleaners
from tests.engine.tiny import settings

HOUR, DAY = 3_600, 86_400
MONDAY = datetime(2031, 1, 6)
WIPE = TimeSpread(shape="fixed", mean=240)


def steps(rows: np.ndarray, name: str = "wipers") -> list[tuple[float, int]]:
    """When a number changes, and to what."""
    found: list[tuple[float, int]] = []
    for at_s, which, value in rows.tolist():
        if which == InForce._fields.index(name) and (not found or value != found[-1][1]):
            found.append((at_s / HOUR, value))
    return found


def crew(*shifts: tuple[int, int, int]) -> Cleaning:
    return Cleaning(
        by="crew",
        wipe_down=WIPE,
        crew=tuple(CrewShift(start=a * HOUR, end=b * HOUR, cleaners=n) for a, b, n in shifts),
    )


def test_a_shift_comes_on_every_day_of_a_play_also_of_one_that_begins_in_it() -> None:
    """From 20 to 23; the play begins at 22: on duty until 1, from 22 to 25 and from 46 to 49."""
    rows = calendar_rows(crew((20, 23, 2)), (), 0, datetime(2031, 1, 6, 22), 2 * DAY)
    assert steps(rows)[:5] == [(0, 2), (1, 0), (22, 2), (25, 0), (46, 2)]


def test_a_shift_that_begins_in_the_first_second_of_a_play_is_not_there_before() -> None:
    rows = calendar_rows(crew((7, 19, 2)), (), 0, datetime(2031, 1, 6, 6, 59, 59), DAY)
    assert rows[:2, [0, 2]].tolist() == [[0, 0], [1, 2]]
    just = calendar_rows(crew((7, 19, 2)), (), 0, datetime(2031, 1, 6, 7), DAY)
    assert steps(just)[:2] == [(0, 2), (12, 0)]


@pytest.mark.parametrize("shift", [(8, 8, 3), (0, 24, 3)])
def test_a_shift_of_a_whole_day_is_always_there(shift: tuple[int, int, int]) -> None:
    rows = calendar_rows(crew(shift), (), 1, datetime(2031, 1, 6, 5), 3 * DAY)
    assert [step for step in steps(rows) if step[0] <= 72] == [(0, 4)]


def absent(at: float, lasts: float, **more: Any) -> CleanersAbsent:
    return CleanersAbsent(
        what="cleaning crew absent", at=round(at * HOUR), lasts=round(lasts * HOUR), **more
    )


def test_shifts_that_overlap_add_up_and_so_do_absences() -> None:
    """2 from 7 to 19, 3 from 15 to 23; one of all is absent from 16 to 18, two from 17 to 20.

    Of five on duty four, two and then three are left; from 19 on one of three.
    """
    changes = (absent(16, 2, cleaners=1), absent(17, 3, cleaners=2))
    rows = calendar_rows(crew((7, 19, 2), (15, 23, 3)), changes, 0, MONDAY, DAY)
    assert steps(rows)[:9] == [
        (0, 0), (7, 2), (15, 5), (16, 4), (17, 2), (18, 3), (19, 1), (20, 3), (23, 0),
    ]  # fmt: skip


def test_extra_cleaners_come_on_top_of_an_absence_of_all() -> None:
    """All of a shift of 2 are absent from 8 to 12; three others come from 10 to 11, and at 20."""
    extra = [
        ExtraCleaners(what="extra cleaners", at=at * HOUR, lasts=lasts, cleaners=3)
        for at, lasts in ((10, HOUR), (20, None))
    ]
    rows = calendar_rows(crew((7, 19, 2)), (absent(8, 4), *extra), 0, MONDAY, DAY)
    assert steps(rows)[:8] == [
        (0, 0), (7, 2), (8, 0), (10, 3), (11, 0), (12, 2), (19, 0), (20, 3),
    ]  # fmt: skip


def test_wearers_wipe_at_so_many_places_or_without_a_limit() -> None:
    wearers = Cleaning(by="wearer", wipe_down=WIPE)
    assert len(calendar_rows(wearers, (), 0, MONDAY, DAY)) == 0
    few = Cleaning(by="wearer", wipe_down=WIPE, places=2)
    assert steps(calendar_rows(few, (), 0, MONDAY, DAY)) == [(0, 2)]


def central(turnaround: float, *rounds: int) -> Cleaning:
    return Cleaning(
        by="central", rounds=tuple(at * HOUR for at in rounds), turnaround=round(turnaround * HOUR)
    )


def back(rows: np.ndarray) -> list[tuple[float, float]]:
    """Rounds, and when what they collect comes back, within two days."""
    moments, returns = (
        rows[rows[:, 1] == InForce._fields.index(name)][:, [0, 2]] / HOUR
        for name in ("round_s", "round_back_s")
    )
    assert (moments[:, 0] == moments[:, 1]).all() and (moments[:, 0] == returns[:, 0]).all()
    return [(at, then) for at, then in returns.tolist() if at < 48]


def test_rounds_collect_and_bring_back_with_the_first_one_after_the_turnaround() -> None:
    """The play begins at 06:00 with a round; 14:00 is hour 8. Given twice, a round is one."""
    start = datetime(2031, 1, 6, 6)
    rows = calendar_rows(central(8, 14, 6, 14), (), 0, start, 2 * DAY)
    assert back(rows) == [(0, 8), (8, 24), (24, 32), (32, 48)]
    later = calendar_rows(central(8 + 1 / 3_600, 6, 14), (), 0, start, 2 * DAY)
    assert back(later) == [(0, 24), (8, 24), (24, 48), (32, 48)]


def test_what_takes_longer_than_the_play_comes_back_after_it() -> None:
    """Three days of turnaround, in a play of two."""
    rows = calendar_rows(central(72, 6, 14), (), 0, MONDAY, 2 * DAY)
    assert back(rows) == [(6, 78), (14, 86), (30, 102), (38, 110)]


def test_a_round_takes_place_unless_cleaners_are_absent_in_its_second() -> None:
    """Absent from 6:00 to the second before 14:00, and in the second of the next 6:00 alone.

    What 14:00 of the first day collects comes back with 14:00 of the second.
    """
    changes = (absent(6, 8), absent(30, 1 / 3_600))
    rows = calendar_rows(central(4, 6, 14), changes, 0, MONDAY, 2 * DAY)
    assert back(rows) == [(14, 38), (38, 54)]
    # extra cleaners of a crew bring no round back
    extra = ExtraCleaners(what="extra cleaners", at=0, cleaners=3)
    assert back(calendar_rows(central(4, 6, 14), (extra,), 0, MONDAY, 2 * DAY))[0] == (6, 14)


def calendar(**cleaning: Any) -> Calendar:
    """Of a play with two days of run-in before it."""
    return calendar_of(settings(cleaning=cleaning, run_in="2 d", start="2031-01-06 05:00"))


CREW = {"by": "crew", "wipe_down": "4 min",
        "crew": [{"start": "07:00", "end": "19:00", "cleaners": "2"}]}  # fmt: skip


def test_changes_of_a_surge_come_so_much_later_in_a_play_with_a_run_in() -> None:
    """Absent from 3 to 5 of the surge, which are 51 to 53 of the play; both begin at 05:00."""
    one = calendar(**CREW)
    assert (one.run_in_s, one.closing_s) == (2 * DAY, 4 * DAY)
    assert steps(one.rows)[:5] == [(0, 0), (2, 2), (14, 0), (26, 2), (38, 0)]
    changed = steps(one.rows_with([absent(3, 2)], 0))
    assert changed[4:9] == [(38, 0), (50, 2), (51, 0), (53, 2), (62, 0)]
    both = steps(one.rows_with([absent(3, 2, cleaners=1)], 1))
    assert both[4:9] == [(38, 0), (50, 3), (51, 2), (53, 3), (62, 0)]


def test_what_the_clock_brings_is_shared_by_plays_and_cannot_be_written_to() -> None:
    """Whatever a wipe-down takes; with more cleaners the rows are others."""
    one = calendar(**CREW)
    slow = CREW | {"wipe_down": "9 min", "contact_time": "3 min", "drying_time": "8 min"}
    assert calendar(**slow) is one
    assert one.rows_with((), 0) is one.rows
    assert not one.rows.flags.writeable and not one.more.flags.writeable
    assert steps(one.rows_with((), 3))[:3] == [(0, 0), (2, 5), (14, 0)]
    assert steps(one.rows)[:3] == [(0, 0), (2, 2), (14, 0)]
    wearers = calendar(by="wearer", wipe_down="4 min", places="2")
    assert steps(wearers.rows_with((), 3)) == [(0, 2)]
    assert not calendar_rows(crew((7, 19, 2)), (), 0, MONDAY, DAY).flags.writeable
