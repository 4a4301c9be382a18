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


def test_a_cluster_that_comes_at_once_in_the_last_second_of_an_hour_comes_in_that_hour():
    """A second before 6 h; an hour's patients come evenly through it: half of 8 are there."""
    cluster = {"patients": 8, "at": "21599 s"}
    course = expected_course(
        settings(horizon="12 h", arrivals={"baseline": "0 per day", "clusters": [cluster]})
    )
    assert_allclose(course.census, [0] * 5 + [4] + [8] * 6, atol=2e-3)


def test_entries_of_a_log_count_up_to_the_last_hour_also_when_the_horizon_cuts_it(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n59,5,nurse\n149,7,nurse\n")
    one = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None,
                   horizon="150 min")  # fmt: skip
    course = expected_course(one.settings)
    assert course.entries.tolist() == [1, 0, 1]
    assert course.by_role[0].room_s.tolist() == [300, 0, 420]


def test_log_of_entries_is_counted_as_it_is(tmp_path):
    rows = [(30, 6), (40, 10), (90, 2), (1_500, 4)]
    text = "requested,room_minutes,role\n" + "".join(f"{a},{b},nurse\n" for a, b in rows)
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


ROOMS = {
    "count": 50,
    "air_changes": "2 per h",
    "terminal_clean": {"role": "cleaner", "when": "with a kit", "room_time": "20 min"},
}
CLEANER = {"nurse": {"room_time": "6 min"}, "cleaner": {"room_time": "9 min"}}


def of_role(course, name):
    return sum(one.entries for one in course.by_role if one.role == name)


def test_those_present_at_the_start_are_there_and_leave_as_their_stays_say():
    """6 patients for a whole stay of 30 h each, nobody else: all rooms are cleaned in hour 30.

    For the rest of their stay, even over 30 h, 6 / 30 leave in each hour, and in the middle of
    hour n 6 x (1 - (n + 1/2) / 30) are there.
    """
    ward = {
        "horizon": "2 d",
        "arrivals": {"baseline": "0 per day", "initial_census": 6},
        "classes": {"ward": {"length_of_isolation": "30 h"}},
        "rooms": ROOMS,
        "roles": CLEANER,
    }
    whole = expected_course(
        settings(**ward | {"arrivals": ward["arrivals"] | {"initial_stay": "full"}})
    )
    assert_allclose(whole.census, [6] * 30 + [0] * 18, atol=1e-9)
    cleans = of_role(whole, "cleaner")
    assert cleans.sum() == pytest.approx(6) and cleans[29:31].sum() == pytest.approx(6)
    assert_allclose(of_role(whole, "nurse"), whole.census * 20 / 24, atol=1e-9)
    rest = expected_course(settings(**ward))
    assert_allclose(
        rest.census, np.maximum(6 * (1 - (np.arange(48) + 0.5) / 30), 0), rtol=1e-3, atol=1e-3
    )
    assert_allclose(of_role(rest, "cleaner"), [6 / 30] * 30 + [0] * 18, rtol=1e-3, atol=1e-3)
    assert whole.patients_total == rest.patients_total == 6


def test_expected_entries_of_two_classes_add_up_by_their_rates_shares_and_hours():
    """Steady: 10 a day, of whom 3 in 10 stay 2 d and 7 in 10 stay 1 d: 6 and 7 patients.

    The nurse goes 20 and 8 times a day to them, a quarter without a kit, thrice as often from 12
    to 24 as before: weights 0.5 and 1.5. An urgent event brings two nurses to the first class
    (0.5 a day) and three to the second (0.2 a day), at any hour.
    """
    course = expected_course(
        settings(
            start="2031-03-03T10:00",
            horizon="6 d",
            arrivals={"baseline": "10 per day"},
            classes={
                "ward": None,
                "long": {
                    "share": "30 %", "length_of_isolation": "2 d",
                    "entries": {"nurse": "20 per day"},
                    "urgent": {"per_patient": "0.5 per day", "team": 2, "role": "nurse"},
                },
                "short": {
                    "share": "70 %", "length_of_isolation": "1 d",
                    "entries": {"nurse": "8 per day"},
                    "urgent": {"per_patient": "0.2 per day", "team": 3, "role": "nurse"},
                },
            },
            roles={"nurse": {"hours_of_day": [1] * 12 + [3] * 12, "kit_share": "75 %",
                             "room_time": "9 min"}},
        )
    )  # fmt: skip
    hours = np.arange(72, 144)
    assert_allclose(course.census[hours], 6 + 7, rtol=1e-9)
    clock = (hours + 10) % 24
    visits = (6 * 20 + 7 * 8) / 24 * 0.75 * np.where(clock < 12, 0.5, 1.5)
    teams = (6 * 0.5 * 2 + 7 * 0.2 * 3) / 24
    assert_allclose(course.entries[hours], visits + teams, rtol=1e-9)
    in_room_s = sum(one.room_s for one in course.by_role)
    assert_allclose(in_room_s[hours], (visits + teams) * 9 * 60, rtol=1e-9)


def test_cleans_come_later_by_their_delay_and_with_their_own_time():
    """4 a day for 1 d each: from hour 24 on 1/6 leave an hour; cleaned 3 h later, 20 min each."""
    rooms = ROOMS | {"terminal_clean": ROOMS["terminal_clean"] | {"delay": "3 h"}}
    course = expected_course(
        settings(
            horizon="3 d",
            classes={"ward": {"length_of_isolation": "1 d", "entries": {"nurse": "0 per day"}}},
            rooms=rooms | {"air_changes": "1 per h"},
            roles=CLEANER,
        )
    )
    (cleans,) = [one for one in course.by_role if one.entries.any()]
    assert cleans.role == "cleaner"
    assert_allclose(cleans.entries, [0] * 27 + [1 / 6] * 45, atol=1e-9)
    assert_allclose(cleans.room_s, cleans.entries * 20 * 60)


def test_a_last_hour_that_the_horizon_cuts_has_its_part_of_the_cleans():
    """4 a day for 1 d each: 1/6 leave in hour 24, and a tenth of that in 6 min of hour 25."""
    course = expected_course(
        settings(
            horizon="25 h 6 min",
            classes={"ward": {"length_of_isolation": "1 d"}},
            rooms=ROOMS,
            roles=CLEANER,
        )
    )
    cleans = of_role(course, "cleaner")
    assert_allclose(cleans, [0] * 24 + [1 / 6, 1 / 60], atol=1e-9)


@pytest.mark.parametrize("minutes", [5, 30, 50, 90])
def test_stays_of_a_part_of_an_hour_are_summed_without_an_error(minutes):
    """Each hour 10 come: after t hours those of the last ``minutes`` are there, 10 t at most."""
    course = expected_course(
        settings(
            horizon="6 h",
            arrivals={"baseline": "240 per day"},
            classes={"ward": {"length_of_isolation": f"{minutes} min"}},
            rooms=ROOMS,
            roles=CLEANER,
        )
    )
    hours, stay = np.arange(7), minutes / 60
    patient_hours = np.where(hours < stay, hours**2 / 2, stay * hours - stay**2 / 2)
    assert_allclose(course.census, 10 * np.diff(patient_hours))
    have_left = 10 * np.maximum(hours - stay, 0)
    assert_allclose(of_role(course, "cleaner"), np.diff(have_left), atol=1e-9)


def test_diverted_patients_are_not_counted_beyond_the_rooms():
    """4 a day for 3 d would be 12; 9 rooms: 9, who get 9 x 20 / 24 visits an hour."""
    course = expected_course(
        settings(rooms={"count": 9, "air_changes": "12 per h", "when_full": "divert"})
    )
    assert_allclose(course.census[100:], 9)
    assert_allclose(course.entries[100:], 9 * 20 / 24)
    assert_allclose(course.census[:40], (np.arange(40) + 0.5) / 72 * 12)


def test_diverted_patients_leave_no_room_to_clean():
    """12 would be there, 4 a day leave; of them 9 of 12 had a room: 3 cleans a day."""
    rooms = ROOMS | {"count": 9, "when_full": "divert"}
    course = expected_course(settings(rooms=rooms, roles=CLEANER))
    assert_allclose(of_role(course, "cleaner")[100:], 3 / 24)


@pytest.mark.parametrize("baseline", ["0 per day", "1 per day"])
def test_without_any_room_all_are_diverted(baseline):
    rooms = ROOMS | {"count": 0, "when_full": "divert"}
    with np.errstate(all="raise"):
        course = expected_course(
            settings(arrivals={"baseline": baseline}, rooms=rooms, roles=CLEANER)
        )
    assert not course.census.any() and not course.entries.any()


def test_bundled_visits_are_longer_and_urgent_entries_are_not():
    """12 patients, 20 visits a day halved to 10, of 6 min and half as long again: 9 min."""
    urgent = {"per_patient": "0.5 per day", "team": 2, "role": "nurse"}
    bundled = {"bundled_care": {"entries": "50 %", "room_time": "150 %"}}
    course = expected_course(settings(classes={"ward": {"urgent": urgent}}, policy=bundled))
    in_room_s = sum(one.room_s for one in course.by_role)
    assert_allclose(course.entries[100:], 12 * (10 + 1) / 24)
    assert_allclose(in_room_s[100:], 12 * (10 * 9 + 1 * 6) * 60 / 24)


def test_extra_patients_are_expected_in_their_time():
    """24 a day who stay for an hour; on day 2 half as many more: 1 and 1.5 an hour."""
    event = {"what": "extra patients", "at": "1 d", "lasts": "1 d", "arrivals": "150 %"}
    course = expected_course(
        settings(
            horizon="3 d",
            arrivals={"baseline": "24 per day"},
            classes={"ward": {"length_of_isolation": "1 h"}},
            timeline=[event],
        )
    )
    assert course.patients_total == pytest.approx(24 + 36 + 24)
    assert_allclose(course.census[[12, 36, 60]], [1, 1.5, 1])
    # on average half of an hour's patients are there in it, and half of those of the hour before
    assert_allclose(course.census[[24, 48]], [1.25, 1.25], atol=1e-3)


def test_a_cluster_comes_evenly_within_its_time_in_its_class():
    """8 patients come within 2 h from hour 6 on and stay 12 h each.

    Those of the class that is not named are the ones of the baseline, who stay.
    """
    ward = {"share": "50 %", "entries": {"nurse": "20 per day"}}
    course = expected_course(
        settings(
            horizon="2 d",
            arrivals={
                "baseline": "0 per day",
                "clusters": [
                    {"patients": 8, "at": "6 h", "within": "2 h", "patient_class": "short"},
                ],
            },
            classes={
                "ward": ward | {"length_of_isolation": "9 d"},
                "short": ward | {"length_of_isolation": "12 h"},
            },
        )
    )
    expected = [0] * 6 + [2, 6] + [8] * 10 + [6, 2] + [0] * 28
    assert_allclose(course.census, expected, atol=2e-3)
    assert course.patients_total == pytest.approx(8)
