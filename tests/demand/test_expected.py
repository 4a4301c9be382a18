"""Expected patients and entries by hand, and beside the mean of drawn surges."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from surge_sim.demand.draw import draw_demand
from surge_sim.demand.expected import expected_course
from tests.demand.chance import agrees
from tests.demand.test_draw import FULL
from tests.demand.ward import scenario, settings

HOUR_S, DAY_S = 3_600, 86_400


def test_steady_arrivals_reach_littles_law():
    """4 a day for 3 days each: 12 patients, reached on the dot after 3 days."""
    course = expected_course(settings(horizon="8 d"))
    assert_allclose(course.census[72:], 12)
    assert_allclose(course.census[:72], (np.arange(72) + 0.5) / 72 * 12)
    assert course.patients_total == pytest.approx(32)


def test_recorded_outbreak_with_exponential_stays_peaks_at_79_5_patients_on_29_may(tmp_path):
    """Probable cases of SARS, Canada 2003 (source in test_patients), stays of mean 23.5 d.

    Worked out from the daily counts, each day's patients together at one moment: greatest
    expected census 79.5 on 29 May (day 95). Here they come evenly through the day, so at its end
    they are fewer by the mean of exp(-age) over ages of 0 to 1 day of 23.5: 0.979.
    """
    from tests.demand.test_patients import SARS_2003

    rows = "\n".join(f"{day},{count}" for day, count in enumerate(SARS_2003, 1))
    (tmp_path / "cases.csv").write_text(f"day,patients\n{rows}\n")
    one = scenario(
        tmp_path,
        start="2003-02-23T00:00",
        horizon="110 d",
        arrivals={"baseline": None, "daily_counts": {"file": "cases.csv", "exact": "yes"}},
        classes={"ward": {"length_of_isolation": {"shape": "exponential", "mean": "564 h"}}},
    )
    census = expected_course(one.settings).census
    at_end = census[23::24]
    assert np.argmax(at_end) == 95
    evenly = 23.5 * -np.expm1(-1 / 23.5)
    assert at_end.max() / evenly == pytest.approx(79.5, abs=0.15)


def test_log_of_entries_is_counted_as_it_is(tmp_path):
    rows = [(30, 6), (40, 10), (90, 2), (1_500, 4)]
    text = "need,room_minutes,role\n" + "".join(f"{a},{b},nurse\n" for a, b in rows)
    (tmp_path / "log.csv").write_text(text)
    one = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None,
                   horizon="2 d")  # fmt: skip
    course = expected_course(one.settings)
    assert course.entries[[0, 1, 25]].tolist() == [2, 1, 1] and course.entries.sum() == 4
    (nurse,) = course.by_role
    assert nurse.room_s[[0, 1, 25]].tolist() == [16 * 60, 2 * 60, 4 * 60]
    assert course.patients_total == 0 and not course.census.any()


def test_expected_course_is_the_mean_of_drawn_surges():
    """150 surges of a ward with everything: entries, cleans and patients; one z-test each."""
    one = scenario(**(FULL | {"rooms": FULL["rooms"] | {"count": 200}}))
    course = expected_course(one.settings)
    traces = [draw_demand(one, seed=51, surge=surge) for surge in range(150)]

    def near(values, expected):
        return agrees(np.mean(values), expected, np.std(values, ddof=1) / np.sqrt(len(values)))

    hours = len(course.entries)
    by_hour = np.array([np.bincount(t.due_s // HOUR_S, minlength=hours) for t in traces])
    assert near([len(t.patients.arrive_s) for t in traces], course.patients_total)
    assert near(by_hour.sum(axis=1), course.entries.sum())
    for part in range(0, hours, 60):
        window = slice(part, part + 60)
        assert near(by_hour[:, window].sum(axis=1), course.entries[window].sum())
    in_room_s = [int(t.room_s.sum()) for t in traces]
    assert near(in_room_s, sum(one.room_s.sum() for one in course.by_role))
    middle_s = hours // 2 * HOUR_S + HOUR_S // 2
    here = [
        ((t.patients.arrive_s <= middle_s) & (t.patients.leave_s > middle_s)).sum() for t in traces
    ]
    assert near(here, course.census[hours // 2])
