"""The initial census stays for the rest of a stay, as in a unit in its steady state."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import integrate

from surge_sim.demand.distributions import fitted
from surge_sim.demand.expected import expected_course
from surge_sim.demand.patients import residual_stays, still_there
from surge_sim.scenario.spread import TimeSpread
from tests.demand.chance import agrees, follows, share_agrees
from tests.demand.ward import draw, settings

HOUR_S, DAY_S = 3_600, 86_400

#: stay -> E[S] and E[S^2] by its textbook formulas, in hours
STAYS = {
    "fixed": ("60 h", 60.0, 3_600.0),
    "exponential": ({"shape": "exponential", "mean": "60 h"}, 60.0, 2 * 3_600.0),
    "lognormal": ({"shape": "lognormal", "mean": "60 h", "cv": "80 %"}, 60.0, 3_600 * 1.64),
    "gamma": ({"shape": "gamma", "mean": "60 h", "cv": "50 %"}, 60.0, 3_600 * 1.25),
    # shape 2: E[S^2] = scale^2, E[S] = scale x sqrt(pi) / 2
    "weibull": (
        {"shape": "weibull", "median": f"{60 * math.sqrt(math.log(2)):.9f} h",
         "p75": f"{60 * math.sqrt(math.log(4)):.9f} h"},
        30 * math.sqrt(math.pi), 3_600.0,
    ),
    "empirical": ({"values": ["10 h", "20 h", "150 h"]}, 60.0, (100 + 400 + 22_500) / 3),
}  # fmt: skip
shapes = pytest.mark.parametrize("shape", STAYS)


def initial_stays(stay, patients=20_000, seed=31):
    """Stays [h] of an initial census drawn through the scenario."""
    table = draw(
        seed=seed,
        horizon="1 d",
        arrivals={"baseline": None, "initial_census": patients},
        classes={"ward": {"length_of_isolation": stay, "entries": {"nurse": "0 per day"}}},
    ).patients
    assert (table.arrive_s == 0).all() and (table.leave_s >= 1).all()
    return table.leave_s / HOUR_S


@shapes
def test_the_mean_residual_stay_is_e_s2_over_2_e_s(shape):
    """20,000 patients a shape; false alarm 1 in a million each."""
    stay, first, second = STAYS[shape]
    left_h = initial_stays(stay)
    error = left_h.std() / math.sqrt(len(left_h))
    assert agrees(left_h.mean(), second / (2 * first), error)


@shapes
def test_the_closed_form_of_who_still_stays_is_the_integral_of_the_stay_beyond(shape):
    """P(R > t) = integral of P(S > u) from t on, over E[S]: by numerical integration."""
    stay = fitted(TimeSpread.model_validate(STAYS[shape][0]))
    mean = stay.mean_s()
    grid_s = np.linspace(0.0, 3_000 * HOUR_S, 1_200_001)
    beyond = stay.longer_than(grid_s)
    summed = integrate.cumulative_trapezoid(beyond, grid_s, initial=0.0)
    places = [0, 800, 4_000, 16_000, 40_000, 100_000]
    assert_allclose(
        still_there(stay, grid_s[places]), (summed[-1] - summed[places]) / mean, atol=2e-4
    )


@shapes
def test_drawn_residual_stays_follow_the_closed_form(shape):
    """Kolmogorov and Smirnov over 20,000 patients; false alarm 1 in a million each."""
    stay = fitted(TimeSpread.model_validate(STAYS[shape][0]))
    left_h = initial_stays(STAYS[shape][0], seed=32)
    assert follows(left_h, lambda hours: 1 - still_there(stay, np.asarray(hours) * HOUR_S))


def test_an_exponential_stay_is_memoryless():
    left_h = initial_stays({"shape": "exponential", "mean": "60 h"}, seed=33)
    assert follows(left_h, lambda hours: 1 - np.exp(-np.asarray(hours) / 60))


def test_a_fixed_stay_of_five_seconds_ends_after_one_to_five_each_as_likely():
    """Five counts of 20,000; false alarm 1 in a million each."""
    left_s = np.rint(initial_stays("5 s", seed=34) * HOUR_S).astype(int)
    assert set(left_s) == {1, 2, 3, 4, 5}
    for seconds in range(1, 6):
        assert share_agrees(int((left_s == seconds).sum()), len(left_s), 0.2)


def test_the_last_moment_of_a_stay_is_never_passed():
    """The largest number below 1 gives the whole stay, 0 gives one second."""
    fit = fitted(TimeSpread.model_validate("60 h"))
    part = np.array([0.0, np.nextafter(1.0, 0.0)])
    assert residual_stays(fit, np.zeros(2), part).tolist() == [1, 60 * HOUR_S]


def test_a_stay_of_no_time_is_one_second_and_leaves_nobody_expected():
    stay = fitted(TimeSpread.model_validate("0 min"))
    assert residual_stays(stay, np.array([0.5]), np.array([0.5])).tolist() == [1]
    assert still_there(stay, np.array([0.0, 1.0])).tolist() == [0.0, 0.0]


TWO = {
    "ward": {"share": "75 %", "length_of_isolation": "1 d", "entries": {"nurse": "1 per day"}},
    "long": {"share": "25 %", "length_of_isolation": "9 d", "entries": {"nurse": "1 per day"}},
}


def test_who_is_found_present_is_of_a_class_by_its_share_and_its_stay():
    """0.75 x 1 d against 0.25 x 9 d: one of four; a whole stay: three of four.

    Two counts of 20,000; false alarm 1 in a million each.
    """
    for stay, share in (("residual", 0.25), ("full", 0.75)):
        arrivals = {"baseline": None, "initial_census": 20_000, "initial_stay": stay}
        table = draw(seed=35, horizon="1 h", arrivals=arrivals, classes=TWO).patients
        assert share_agrees(int((table.patient_class == 0).sum()), 20_000, share)


def test_a_ward_in_its_steady_state_stays_in_it():
    """10 a day, 3 d on average: 30 patients expected in every hour, and drawn on average.

    Without the residual the census would rise first: a whole stay keeps the first 30 too long.
    """
    ward = dict(
        horizon="12 d",
        arrivals={"baseline": "10 per day", "initial_census": 30},
        classes=TWO,
    )
    assert_allclose(expected_course(settings(**ward)).census, 30.0, rtol=1e-9)
    full = dict(ward, arrivals=ward["arrivals"] | {"initial_stay": "full"})
    assert expected_course(settings(**full)).census.max() > 35
    counts = []
    for surge in range(200):
        table = draw(seed=36, surge=surge, **ward).patients
        here = (table.arrive_s <= 2 * DAY_S) & (table.leave_s > 2 * DAY_S)
        counts.append(int(here.sum()))
    error = np.std(counts) / math.sqrt(len(counts))
    assert agrees(float(np.mean(counts)), 30.0, error)


def test_the_choice_moves_no_patient_who_comes_later():
    """Streams are named: only the initial census changes."""
    later = []
    for stay in ("residual", "full"):
        table = draw(
            seed=37,
            arrivals={"initial_census": 5, "initial_stay": stay},
            classes={
                "ward": {"length_of_isolation": {"shape": "gamma", "mean": "3 d", "cv": "80 %"}}
            },
        ).patients
        later.append(
            list(zip(table.arrive_s[5:].tolist(), table.leave_s[5:].tolist(), strict=True))
        )
    assert later[0] == later[1]
