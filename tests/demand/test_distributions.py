"""Distributions of times against their own definitions and scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate, stats

from surge_sim.demand.distributions import LONGEST_DRAWN_S, NO_TIME, fitted, mean_s, whole_seconds
from surge_sim.scenario.spread import Quantile, TimeSpread
from tests.demand.chance import agrees, follows

SHAPES = ["lognormal", "gamma", "weibull"]
SPREADS = {
    **{f"{s} by mean": TimeSpread(shape=s, mean=36_000, cv=0.6) for s in SHAPES},
    **{
        f"{s} by quantiles": TimeSpread(
            shape=s, quantiles=(Quantile(p=0.5, time_s=9_000), Quantile(p=0.9, time_s=50_000))
        )
        for s in SHAPES
    },
    "exponential": TimeSpread(shape="exponential", mean=36_000),
    "exponential by quantile": TimeSpread.model_construct(
        shape="exponential", quantiles=(Quantile(p=0.5, time_s=9_000),)
    ),
}


def twin(spread):
    """The same distribution in scipy."""
    fit = fitted(spread)
    return {
        "lognormal": lambda: stats.lognorm(fit.deviation, scale=np.exp(fit.mean)),
        "gamma": lambda: stats.gamma(fit.shape, scale=fit.scale_s),
        "weibull": lambda: stats.weibull_min(fit.power, scale=fit.scale_s),
        "exponential": lambda: stats.expon(scale=fit.scale_s),
    }[spread.shape]()


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("cv", [0.05, 0.6, 1.0, 2.5])
def test_mean_and_cv_are_those_asked_for(shape, cv):
    spread = TimeSpread(shape=shape, mean=36_000, cv=cv)
    mean, variance = twin(spread).stats("mv")
    assert_allclose([mean, np.sqrt(variance) / mean], [36_000, cv], rtol=1e-6)
    assert mean_s(spread) == pytest.approx(36_000)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("high_s", [600, 4_000, 500_000])
def test_both_quantiles_are_those_asked_for_whatever_their_order(shape, high_s):
    points = (Quantile(p=0.9, time_s=high_s), Quantile(p=0.5, time_s=500))
    spread = TimeSpread.model_construct(shape=shape, quantiles=points)
    assert_allclose(twin(spread).cdf([high_s, 500]), [0.9, 0.5], rtol=1e-7)


def test_exponential_takes_a_mean_or_one_quantile():
    assert mean_s(SPREADS["exponential by quantile"]) == pytest.approx(9_000 / np.log(2))


def test_stay_of_tuberculosis_rule_out_is_the_published_lognormal():
    """Lippincott et al., Clin Infect Dis 2014;59:186-192: median 68.0 h, quartiles 47.1, 97.5 h.

    The lognormal through the median and the upper quartile has the lower one as well.
    """
    hour = 3_600
    points = (Quantile(p=0.5, time_s=68 * hour), Quantile(p=0.75, time_s=round(97.5 * hour)))
    spread = TimeSpread(shape="lognormal", quantiles=points)
    assert fitted(spread).quantile(np.array([0.25]))[0] / hour == pytest.approx(47.1, abs=0.5)


@pytest.mark.parametrize("name", SPREADS)
def test_draws_quantiles_survival_and_mean_are_of_one_distribution(name):
    spread = SPREADS[name]
    reference = twin(spread)
    drawn = fitted(spread).sample(np.random.default_rng(3), 20_000)
    # a whole second on hours moves the distribution by far less than this test can see
    assert follows(drawn, reference.cdf)
    shares = np.array([0.001, 0.3, 0.5, 0.99])
    assert_allclose(fitted(spread).quantile(shares), reference.ppf(shares), rtol=1e-9)
    ages = np.array([-5.0, 0.0, 100.0, 36_000.0, 400_000.0])
    assert_allclose(fitted(spread).longer_than(ages), reference.sf(ages), rtol=1e-9, atol=1e-12)
    assert mean_s(spread) == pytest.approx(float(reference.mean()))


@pytest.mark.parametrize("name", SPREADS)
def test_weighting_by_length_is_the_density_times_the_time_over_the_mean(name):
    """P(S > t) weighted by length = integral of s f(s) from t on, over E[S]: by integration."""
    times, reference = fitted(SPREADS[name]), twin(SPREADS[name])
    ages = np.array([0.0, 900.0, 9_000.0, 60_000.0])
    grid_s = np.geomspace(1e-3, 1e9, 400_001)
    weighted = grid_s * reference.pdf(grid_s) / reference.mean()
    summed = integrate.cumulative_simpson(weighted, x=grid_s, initial=0.0)
    assert_allclose(
        times.by_length().longer_than(ages), 1 - np.interp(ages, grid_s, summed), atol=1e-6
    )


@pytest.mark.parametrize("name", SPREADS)
def test_longer_draw_begins_with_the_shorter_one(name):
    short, long = (fitted(SPREADS[name]).sample(np.random.default_rng(5), n) for n in (100, 1_000))
    assert_array_equal(short, long[:100])


def test_empirical_times_are_the_values_and_nothing_else():
    spread = TimeSpread(shape="empirical", values=(60, 120, 120, 600))
    drawn = fitted(spread).sample(np.random.default_rng(1), 40_000)
    assert set(drawn.tolist()) == {60, 120, 600}
    assert agrees((drawn == 120).mean(), 0.5, 0.5 / 200)
    shares = np.array([0, 0.3, 0.74, 0.76, 1 - 1e-12])
    assert fitted(spread).quantile(shares).tolist() == [60, 120, 120, 600, 600]
    assert mean_s(spread) == 225
    assert fitted(spread).longer_than(np.array([0.0, 60, 119, 120, 600])).tolist() == [
        1,
        0.75,
        0.75,
        0.25,
        0,
    ]


def test_no_spread_is_a_fixed_time():
    for spread in (
        TimeSpread(shape="fixed", mean=90),
        TimeSpread.model_construct(shape="lognormal", mean=90, cv=0),
        TimeSpread.model_construct(
            shape="gamma", quantiles=(Quantile(p=0.5, time_s=90), Quantile(p=0.9, time_s=90))
        ),
    ):
        assert not fitted(spread).varies
        assert fitted(spread).sample(np.random.default_rng(1), 3).tolist() == [90, 90, 90]
        assert fitted(spread).longer_than(np.array([0.0, 89, 90])).tolist() == [1, 1, 0]


def test_times_are_whole_seconds_of_the_least_length_or_more():
    spread = TimeSpread(shape="exponential", mean=2)
    drawn = fitted(spread).sample(np.random.default_rng(1), 10_000, least_s=1)
    assert drawn.dtype == np.int64
    assert drawn.min() == 1
    assert NO_TIME.sample(np.random.default_rng(1), 2, least_s=1).tolist() == [1, 1]


def test_times_are_rounded_to_the_nearest_second():
    assert whole_seconds(np.array([0.2, 0.4, 0.6, 1.4, 1.6]), 0).tolist() == [0, 0, 1, 1, 2]
    assert whole_seconds(np.array([0.2, 1e99]), 1).tolist() == [1, LONGEST_DRAWN_S]
