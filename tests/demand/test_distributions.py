"""Distributions of times against their own definitions and scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import integrate, stats

from surge_sim.demand.distributions import (
    LONGEST_DRAWN_S,
    NO_TIME,
    GeneralisedGamma,
    Values,
    fitted,
    mean_s,
    whole_seconds,
)
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
@pytest.mark.parametrize("p", [0.1, 0.5, 0.6])
@pytest.mark.parametrize(("low_s", "high_s"), [(500, 600), (500, 4_000), (500, 500_000), (1, 9)])
def test_both_quantiles_are_those_asked_for_whatever_their_order(shape, p, low_s, high_s):
    points = (Quantile(p=0.9, time_s=high_s), Quantile(p=p, time_s=low_s))
    spread = TimeSpread.model_construct(shape=shape, quantiles=points)
    assert_allclose(twin(spread).cdf([high_s, low_s]), [0.9, p], rtol=1e-7)


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
    one = fitted(TimeSpread(shape="fixed", mean=90))
    assert not one.varies
    assert one.sample(np.random.default_rng(1), 3).tolist() == [90, 90, 90]
    assert one.longer_than(np.array([0.0, 89, 90])).tolist() == [1, 1, 0]


def test_times_are_whole_seconds_of_the_least_length_or_more():
    spread = TimeSpread(shape="exponential", mean=2)
    drawn = fitted(spread).sample(np.random.default_rng(1), 10_000, least_s=1)
    assert drawn.dtype == np.int64
    assert drawn.min() == 1
    assert NO_TIME.sample(np.random.default_rng(1), 2, least_s=1).tolist() == [1, 1]


def test_no_time_is_no_second_unless_there_is_a_least_one():
    assert NO_TIME.sample(np.random.default_rng(1), 2).tolist() == [0, 0]
    assert NO_TIME.by_length().mean_s() == 0


@pytest.mark.parametrize("shape", ["exponential", *SHAPES])
def test_times_of_a_second_in_the_mean_vary(shape):
    cv = {} if shape == "exponential" else {"cv": 0.6}
    spread = TimeSpread(shape=shape, mean=1, **cv)
    second = fitted(spread)
    assert second.varies and second.mean_s() == pytest.approx(1)
    ages = np.array([-1.0, 0.0, 0.5, 2.0])
    assert_allclose(second.longer_than(ages), twin(spread).sf(ages), rtol=1e-9)


def test_times_whose_square_is_exponential_are_the_weibull_times_of_shape_2():
    """Mean sqrt(pi) / 2 of the scale; exp(-1) of them are longer than it."""
    times, theirs = GeneralisedGamma(1.0, 100.0, 2.0), stats.weibull_min(2, scale=100)
    assert times.mean_s() == pytest.approx(50 * np.sqrt(np.pi))
    shares = np.array([0.1, 0.5, 0.99])
    assert_allclose(times.quantile(shares), theirs.ppf(shares), rtol=1e-9)
    assert times.longer_than(np.array([100.0]))[0] == pytest.approx(np.exp(-1))


@pytest.mark.parametrize("name", SPREADS)
def test_the_mean_of_times_weighted_by_length_is_that_of_their_squares_over_their_mean(name):
    mean, variance = twin(SPREADS[name]).stats("mv")
    weighted = fitted(SPREADS[name]).by_length().mean_s()
    assert weighted == pytest.approx(float((variance + mean**2) / mean))


def test_of_values_each_is_weighted_by_its_length():
    """1 and 3: one of four is 1, three of four are 3. Of none and a second: a second."""
    assert Values([3.0, 1.0]).by_length().mean_s() == 2.5
    assert Values([0.0, 1.0]).by_length().mean_s() == 1


def test_times_are_rounded_to_the_nearest_second():
    assert whole_seconds(np.array([0.2, 0.4, 0.6, 1.4, 1.6]), 0).tolist() == [0, 0, 1, 1, 2]
    assert whole_seconds(np.array([0.2, 1e99]), 1).tolist() == [1, LONGEST_DRAWN_S]


def test_a_spread_narrower_than_any_shape_is_nearly_a_fixed_time():
    """A cv of 1e-6; quantiles a second apart in 12 days: the narrowest shape keeps what it can."""
    weibull = fitted(TimeSpread.model_construct(shape="weibull", mean=36_000, cv=1e-6))
    assert weibull.mean_s() == pytest.approx(36_000)
    assert_allclose(weibull.quantile(np.array([0.001, 0.999])), 36_000, rtol=1e-3)
    points = (Quantile(p=0.5, time_s=10**6), Quantile(p=0.9, time_s=10**6 + 1))
    gamma = fitted(TimeSpread.model_construct(shape="gamma", quantiles=points))
    assert_allclose(gamma.quantile(np.array([0.001, 0.9])), [10**6, 10**6 + 1], rtol=2e-2)
    assert gamma.quantile(np.array([0.9]))[0] == pytest.approx(10**6 + 1, rel=1e-9)


def test_a_spread_wider_than_any_shape_keeps_its_mean():
    weibull = fitted(TimeSpread.model_construct(shape="weibull", mean=36_000, cv=1e40))
    assert weibull.mean_s() == pytest.approx(36_000)


def test_a_quantile_of_one_time_in_ten_thousand_fits():
    """Far out there the quantile of the widest shapes is below the smallest number there is."""
    points = (Quantile(p=1e-4, time_s=10), Quantile(p=0.9, time_s=50_000))
    spread = TimeSpread.model_construct(shape="gamma", quantiles=points)
    assert_allclose(twin(spread).cdf([10, 50_000]), [1e-4, 0.9], rtol=1e-7)


@pytest.mark.parametrize(
    ("given", "error", "said"),
    [
        ({"shape": "fixed"}, ValueError, "a fixed distribution of times needs a mean"),
        ({"shape": "gamma", "cv": 1}, ValueError, "a gamma distribution of times needs a mean"),
        ({"shape": "gamma", "mean": 5}, ValueError, "needs a cv beside its mean"),
        ({"shape": "triangle", "mean": 5, "cv": 1}, NotImplementedError, "to a mean and a cv"),
        ({"shape": "triangle", "quantiles": (Quantile(0.5, 5), Quantile(0.9, 9))},
         NotImplementedError, "to two quantiles"),
    ],
)  # fmt: skip
def test_what_fits_no_distribution_is_refused(given, error, said):
    """A scenario refuses these before; whoever makes a spread by hand is told here."""
    with pytest.raises(error, match=said):
        fitted(TimeSpread.model_construct(**given))
