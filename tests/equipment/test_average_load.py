"""Average-rate arithmetic by hand."""

import pytest

from surge_sim.equipment.average_load import expected_load, run_in_shows_s, start_shows_s
from tests.demand.ward import scenario, settings

TEN_PATIENTS = {
    "arrivals": {"baseline": None, "initial_census": 10, "initial_stay": "full"},
    "classes": {"ward": {"length_of_isolation": "400 d", "entries": {"nurse": "24 per day"}}},
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
    load = expected_load(settings(batteries={"end_of_charge": "straight"}, **TEN_PATIENTS))
    bay_min = 11 / 480 / 0.2 * 0.4 * 180
    assert load.bays_busy_at_peak == pytest.approx(10 * bay_min / 60)
    assert load.batteries_busy_at_peak == pytest.approx(10 * (12 + bay_min) / 60)


def test_cool_down_and_connecting_keep_batteries_busy_and_connecting_bays():
    """Ten entries an hour, 10 min of cooling and 5 of connecting for each."""
    plain = expected_load(settings(**TEN_PATIENTS))
    slower = {"cool_down": "10 min", "time_to_connect": "5 min"}
    load = expected_load(settings(charging=slower, **TEN_PATIENTS))
    assert load.bays_busy_at_peak == pytest.approx(plain.bays_busy_at_peak + 10 * 5 / 60)
    assert load.batteries_busy_at_peak == pytest.approx(plain.batteries_busy_at_peak + 10 * 15 / 60)


def test_charging_below_a_threshold_costs_less_bay_time():
    """At 11 min an entry 50 % of 8 h are passed with the 22nd: 242 min, 0.5042 of the charge."""
    load = expected_load(settings(charging={"charge_below": "50 %"}, **TEN_PATIENTS))
    drained = 22 * 11 / 480
    bay_min = (0.4 + (drained - 0.2) / 0.8 * 0.6) * 180 / 22
    assert load.bays_busy_at_peak == pytest.approx(10 * bay_min / 60)


@pytest.mark.parametrize(
    ("changes", "hours"),
    [
        # five kits and eight batteries; 10 entries an hour, the eighth at 0.8 h, 3 h of charging
        ({}, 0.8 + 3),
        # each battery is used until half of its 8 h are gone, 11 min a time
        ({"charging": {"charge_below": "50 %"}}, 8 * 240 / 11 / 10 + 3),
        # in a held kit until less than the least of 1 h is left
        (
            {"policy": {"kit": "held for a shift"},
             "roles": {"nurse": {"patients_per_wearer": 4}}},
            8 * 420 / 11 / 10 + 3,
        ),
        # the kits come later: the 50th at 5 h, wiped down 5 min later
        ({"stock": {"kits": 50}}, 5 + 5 / 60),
        # never within the ten days
        ({"stock": {"batteries": 9_999}}, 240),
    ],
)  # fmt: skip
def test_a_start_shows_until_everything_has_been_used_once(changes, hours):
    settled = settings(**TEN_PATIENTS, **changes)
    assert start_shows_s(settled) == pytest.approx(hours * 3_600, abs=1)
    assert expected_load(settled).start_shows_s == start_shows_s(settled)


def test_a_run_in_is_judged_by_its_own_demand():
    """The wave comes in the surge alone; ten patients who stay bring 10 entries an hour."""
    wave = {"extra_at_peak": "500 per day", "peak": "1 d", "width": "3 d"}
    arrivals = TEN_PATIENTS["arrivals"] | {"wave": wave}
    waved = settings(**TEN_PATIENTS | {"arrivals": arrivals}, run_in="3 d")
    assert run_in_shows_s(waved) == pytest.approx(3.8 * 3_600, abs=1)
    assert start_shows_s(waved) < run_in_shows_s(waved)


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


def test_a_shape_of_stays_moves_the_peak_of_a_wave():
    wave = {"extra_at_peak": "10 per day", "peak": "15 d", "width": "4 d"}
    stays = {"fixed": "8 d", "long": {"shape": "exponential", "mean": "8 d"}}
    peaks = {
        name: expected_load(
            settings(horizon="40 d", arrivals={"baseline": None, "wave": wave},
                     classes={"ward": {"length_of_isolation": stay}})
        ).census_peak
        for name, stay in stays.items()
    }  # fmt: skip
    assert peaks["fixed"] > 1.1 * peaks["long"]


def test_diverting_caps_the_patients_and_boarding_does_not():
    rooms = {"count": 6, "air_changes": "12 per h"}
    board, divert = (
        expected_load(settings(rooms=rooms | {"when_full": how}, **TEN_PATIENTS))
        for how in ("board", "divert")
    )
    assert board.census_peak == pytest.approx(10) and divert.census_peak == pytest.approx(6)
    assert divert.entries_per_day_mean == pytest.approx(144)


def test_a_horizon_shorter_than_an_hour_is_scaled_to_a_day():
    load = expected_load(settings(horizon="30 min", **TEN_PATIENTS))
    assert load.entries_per_day_mean == pytest.approx(240)
    assert load.entries_per_day_peak == pytest.approx(240)
    assert load.kits_busy_in_busiest_hour == pytest.approx(10 * 17 / 60)


def test_nobody_is_expected_where_nobody_comes():
    load = expected_load(settings(arrivals={"baseline": "0 per day"}))
    assert load.entries_per_day_peak == load.kits_busy_at_peak == load.census_peak == 0


@pytest.mark.parametrize(
    ("rounds", "turnaround", "hours"),
    [
        # collected once a day, back a day later: half a day and a day
        (["08:00"], "4 h", 36.0),
        # every 6 h, back at the next round: 3 h and 6 h
        (["00:00", "06:00", "12:00", "18:00"], "4 h", 9.0),
        (["00:00", "06:00", "12:00", "18:00"], "6 h", 9.0),
        (["00:00", "06:00", "12:00", "18:00"], "7 h", 15.0),
        # midnight is told twice: every 8 h, back at the next round, 4 h and 8 h
        (["00:00", "08:00", "16:00", "24:00"], "4 h", 12.0),
    ],
)
def test_central_wipe_down_waits_for_rounds(rounds, turnaround, hours):
    cleaning = {"by": "central", "wipe_down": None, "rounds": rounds, "turnaround": turnaround}
    load = expected_load(settings(cleaning=cleaning, **TEN_PATIENTS))
    assert load.kits_busy_at_peak == pytest.approx(10 * (12 / 60 + hours))


def test_log_of_entries_is_counted_as_it_is(tmp_path):
    """Entries of 6, 10, 2 and 4 min in the room, 5 min to put on and take off, three on day 1."""
    (tmp_path / "log.csv").write_text(
        "requested,room_minutes,role\n30,6,nurse\n40,10,nurse\n90,2,nurse\n1500,4,nurse\n"
    )
    one = scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None,
                   horizon="2 d")  # fmt: skip
    load = expected_load(one.settings)
    assert load.entries_per_day_mean == 2
    assert load.entries_per_day_peak == 3
    assert load.battery_hours_per_day_peak == pytest.approx((6 + 10 + 2 + 3 * 5) / 60)
    assert load.patients_total == load.census_peak == 0
