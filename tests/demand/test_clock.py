"""Hours of the clock and weights that repeat daily."""

from datetime import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from surge_sim.demand.clock import (
    DAY_S,
    HOUR_S,
    DailyShape,
    clock_at_start_s,
    ends_of_shifts,
    hour_edges_s,
    hours_and_weekdays,
    mean_one,
)
from surge_sim.errors import ScenarioError
from tests.demand.ward import settings

SUNDAY_22_30 = datetime(2031, 3, 2, 22, 30)


def test_second_0_falls_on_a_second_of_the_day():
    """07:30:15 is 7 x 3,600 + 30 x 60 + 15 s of the day; a shift from 07:30:16 begins in 1 s."""
    start = datetime(2031, 3, 3, 7, 30, 15)
    assert clock_at_start_s(start) == 27_015
    assert ends_of_shifts([27_016], start, 60).tolist()[0] == 1


def test_slots_are_cut_at_the_full_hours_of_the_clock():
    assert hour_edges_s(SUNDAY_22_30, 3 * HOUR_S).tolist() == [0, 1_800, 5_400, 9_000, 10_800]
    assert hour_edges_s(datetime(2031, 3, 3), 1_000).tolist() == [0, 1_000]


def test_week_turns_at_midnight_of_the_calendar():
    hour, weekday = hours_and_weekdays(SUNDAY_22_30, np.array([0, 1_800, 5_400]))
    assert hour.tolist() == [22, 23, 0]
    assert weekday.tolist() == [6, 6, 0]


def test_weights_are_scaled_to_a_mean_of_one():
    assert mean_one([1, 2, 3]).tolist() == [0.5, 1.0, 1.5]


def test_busy_seconds_run_at_the_hours_weight():
    weights = [0.0] * 12 + [3.0] + [1.0] * 11  # mean 14 / 24
    shape = DailyShape(weights, datetime(2031, 3, 3, 11, 30))
    busy = shape.busy(np.array([0, 1_800, 5_400, 5_400 + HOUR_S, DAY_S]))
    assert_allclose(np.diff(busy)[:3], np.array([0, 3, 1]) * HOUR_S * 24 / 14)
    assert busy[-1] - busy[0] == DAY_S


def test_moment_undoes_busy_wherever_the_weight_is_above_zero():
    rng = np.random.default_rng(7)
    weights = rng.random(24) ** 4
    weights[[3, 4, 17]] = 0
    shape = DailyShape(weights.tolist(), SUNDAY_22_30)
    busy = rng.random(5_000) * 40 * DAY_S
    back = shape.moment(busy)
    assert_allclose(shape.busy(np.floor(back).astype(np.int64)), busy, atol=weights.max() * 200)
    hour, _ = hours_and_weekdays(SUNDAY_22_30, np.floor(back).astype(np.int64))
    assert not np.isin(hour, [3, 4, 17]).any()
    order = np.argsort(busy)
    assert (np.diff(back[order]) >= 0).all()


def test_the_last_busy_moment_of_a_day_lies_in_the_last_hour_that_has_a_weight():
    """Whatever the weights are rounded to: those of 200 days end with some hours of no weight."""
    rng = np.random.default_rng(1)
    for _ in range(200):
        weights, idle = rng.random(24), rng.integers(1, 8)
        weights[-idle:] = 0
        at_s = DailyShape(weights.tolist(), datetime(2031, 3, 3)).moment(np.nextafter([DAY_S], 0))
        assert at_s[0] < (24 - idle) * HOUR_S


def test_shifts_end_where_the_next_one_starts_in_any_order():
    """From 22:30 on: 7 and 19 of the next day are 8.5 h and 20.5 h later."""
    shifts = [19 * HOUR_S, 7 * HOUR_S]
    ends_h = [8.5, 20.5, 32.5, 44.5]
    assert (ends_of_shifts(shifts, SUNDAY_22_30, DAY_S) / HOUR_S).tolist() == ends_h
    assert ends_of_shifts((), SUNDAY_22_30, DAY_S).tolist() == []


@pytest.mark.parametrize("start_h", [0, 7, 23])
@pytest.mark.parametrize("horizon_s", [1, DAY_S - 1, DAY_S, 10 * DAY_S + 5])
def test_every_moment_of_the_horizon_lies_in_a_shift(start_h, horizon_s):
    start = datetime(2031, 3, 2, start_h)
    ends_s = ends_of_shifts([7 * HOUR_S], start, horizon_s)
    assert 0 < ends_s[0] <= DAY_S and ends_s[-1] >= horizon_s
    assert (np.diff(ends_s) == DAY_S).all()


def test_even_weights_leave_the_clock_as_it_is():
    shape = DailyShape([2.0] * 24, SUNDAY_22_30)
    at_s = np.array([0, 5, DAY_S])
    assert_array_equal(shape.moment(shape.busy(at_s)), at_s)


def test_weights_with_a_mean_of_0_are_refused_however_many_there_are():
    """The smallest number there is, and 23 times 0: of a 24th of it nothing is left."""
    least = f"0.{'0' * 323}5"
    for hour in (least, "0"):
        with pytest.raises(ScenarioError, match="no weight above 0"):
            settings(roles={"nurse": {"hours_of_day": [hour] + ["0"] * 23}})
    settings(roles={"nurse": {"hours_of_day": ["0.001"] + ["0"] * 23}})
