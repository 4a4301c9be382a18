"""Average-rate arithmetic by hand, and beside the mean of drawn surges."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from surge_sim.demand.draw import draw_demand
from surge_sim.demand.expected import expected_course, expected_load
from tests.demand.chance import agrees
from tests.demand.test_draw import FULL
from tests.demand.ward import scenario, settings

HOUR_S, DAY_S = 3_600, 86_400

TEN_PATIENTS = {
    "arrivals": {"baseline": None, "present_at_start": 10, "stay_at_start": "full"},
    "classes": {"ward": {"isolation": "400 d", "entries": {"nurse": "24 per day"}}},
}


def test_ten_steady_patients_by_hand():
    """240 entries a day; 1 + 2 + 6 + 3 min in use, 5 min wipe-down: 17 min bound, 11 min run."""
    load = expected_load(settings(**TEN_PATIENTS))
    assert load.patients_total == 10
    assert load.census_peak == pytest.approx(10)
    assert load.entries_per_day_mean == pytest.approx(240)
    assert load.entries_per_day_peak == pytest.approx(240)
    assert load.kit_hours_per_day_peak == pytest.approx(240 * 17 / 60)
    assert load.battery_hours_per_day_peak == pytest.approx(240 * 11 / 60)
    assert load.kits_busy_at_peak == pytest.approx(10 * 17 / 60)
    assert load.entries_in_busiest_hour == pytest.approx(10)
    assert load.kits_busy_in_busiest_hour == pytest.approx(10 * 17 / 60)


def test_topping_up_takes_the_slow_end_of_the_charge():
    """11 min of 8 h are within the last fifth of the charge, which takes 40 % of 3 h."""
    load = expected_load(settings(**TEN_PATIENTS))
    bay_min = 11 / 480 / 0.2 * 0.4 * 180
    assert load.bays_busy_at_peak == pytest.approx(10 * bay_min / 60)
    assert load.batteries_busy_at_peak == pytest.approx(10 * (12 + bay_min) / 60)


def test_charging_below_a_threshold_costs_less_bay_time():
    """At 11 min an entry 50 % of 8 h are passed with the 22nd: 242 min, 0.5042 of the charge."""
    load = expected_load(settings(charging={"charge_below": "50 %"}, **TEN_PATIENTS))
    drained = 22 * 11 / 480
    bay_min = (0.4 + (drained - 0.2) / 0.8 * 0.6) * 180 / 22
    assert load.bays_busy_at_peak == pytest.approx(10 * bay_min / 60)


def test_hours_of_the_day_move_the_busiest_hour():
    weights = [0] * 12 + [1] * 12
    load = expected_load(settings(roles={"nurse": {"hours_of_day": weights}}, **TEN_PATIENTS))
    assert load.entries_per_day_peak == pytest.approx(240)
    assert load.entries_in_busiest_hour == pytest.approx(20)
    assert load.busiest_hour % 24 >= 12


def test_a_busiest_hour_that_the_horizon_cuts_short_is_taken_at_its_rate():
    """All visits of a day come from 13:00; of that hour half an hour is left, with half of them."""
    weights = [1.0 if hour == 13 else 0.0 for hour in range(24)]
    load = expected_load(
        settings(
            start="2031-03-03T12:00", horizon="90 min", roles={"nurse": {"hours_of_day": weights}},
            **TEN_PATIENTS,
        )
    )  # fmt: skip
    # 240 entries a day, all within an hour, 17 min each
    assert load.kits_busy_in_busiest_hour == pytest.approx(240 * 17 / 60)
    assert load.busiest_hour == 1


def test_steady_arrivals_reach_littles_law():
    """4 a day for 3 days each: 12 patients, reached on the dot after 3 days."""
    course = expected_course(settings(horizon="8 d"))
    assert_allclose(course.census[72:], 12)
    assert_allclose(course.census[:72], (np.arange(72) + 0.5) / 72 * 12)
    assert course.patients_total == pytest.approx(32)


def test_a_shape_of_stays_moves_the_peak_of_a_wave():
    wave = {"extra_at_peak": "10 per day", "peak": "15 d", "width": "4 d"}
    stays = {"fixed": "8 d", "long": {"shape": "exponential", "mean": "8 d"}}
    peaks = {
        name: expected_load(
            settings(horizon="40 d", arrivals={"baseline": None, "wave": wave},
                     classes={"ward": {"isolation": stay}})
        ).census_peak
        for name, stay in stays.items()
    }  # fmt: skip
    assert peaks["fixed"] > 1.1 * peaks["long"]


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
        classes={"ward": {"isolation": {"shape": "exponential", "mean": "564 h"}}},
    )
    census = expected_course(one.settings).census
    at_end = census[23::24]
    assert np.argmax(at_end) == 95
    evenly = 23.5 * -np.expm1(-1 / 23.5)
    assert at_end.max() / evenly == pytest.approx(79.5, abs=0.15)


def test_diverting_caps_the_patients_and_boarding_does_not():
    rooms = {"count": 6, "air_changes": "12 per h"}
    board, divert = (
        expected_load(settings(rooms=rooms | {"when_full": how}, **TEN_PATIENTS))
        for how in ("board", "divert")
    )
    assert board.census_peak == pytest.approx(10) and divert.census_peak == pytest.approx(6)
    assert divert.entries_per_day_mean == pytest.approx(144)


def test_log_of_entries_is_counted_as_it_is(tmp_path):
    rows = [(30, 6), (40, 10), (90, 2), (1_500, 4)]
    text = "need,room_minutes,role\n" + "".join(f"{a},{b},nurse\n" for a, b in rows)
    (tmp_path / "log.csv").write_text(text)
    one = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None,
                   horizon="2 d")  # fmt: skip
    course = expected_course(one.settings)
    assert course.entries[[0, 1, 25]].tolist() == [2, 1, 1] and course.entries.sum() == 4
    assert course.run_s[0] == (6 + 10 + 2 * 5) * 60
    load = expected_load(one.settings)
    assert load.entries_per_day_mean == 2
    assert load.entries_per_day_peak == 3
    assert load.patients_total == load.census_peak == 0


def test_a_horizon_shorter_than_an_hour_is_scaled_to_a_day():
    load = expected_load(settings(horizon="30 min", **TEN_PATIENTS))
    assert load.entries_per_day_mean == pytest.approx(240)
    assert load.entries_per_day_peak == pytest.approx(240)
    assert load.kits_busy_in_busiest_hour == pytest.approx(10 * 17 / 60)


def test_nobody_is_expected_where_nobody_comes():
    load = expected_load(settings(arrivals={"baseline": "0 per day"}))
    assert load.entries_per_day_peak == load.kits_busy_at_peak == load.census_peak == 0


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
    worn_s = [int((t.don_s + t.room_s + t.doff_s).sum()) for t in traces]
    assert near(worn_s, course.run_s.sum())
    middle_s = hours // 2 * HOUR_S + HOUR_S // 2
    here = [
        ((t.patients.arrive_s <= middle_s) & (t.patients.leave_s > middle_s)).sum() for t in traces
    ]
    assert near(here, course.census[hours // 2])


@pytest.mark.parametrize(
    ("rounds", "turnaround", "hours"),
    [
        # collected once a day, back a day later: half a day and a day
        (["08:00"], "4 h", 36.0),
        # every 6 h, back at the next round: 3 h and 6 h
        (["00:00", "06:00", "12:00", "18:00"], "4 h", 9.0),
        (["00:00", "06:00", "12:00", "18:00"], "6 h", 9.0),
        (["00:00", "06:00", "12:00", "18:00"], "7 h", 15.0),
    ],
)
def test_central_wipe_down_waits_for_rounds(rounds, turnaround, hours):
    cleaning = {"by": "central", "wipe": None, "rounds": rounds, "turnaround": turnaround}
    load = expected_load(settings(cleaning=cleaning, **TEN_PATIENTS))
    assert load.kits_busy_at_peak == pytest.approx(10 * (12 / 60 + hours))
