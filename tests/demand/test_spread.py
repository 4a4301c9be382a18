"""Distributions of times against their own definitions and scipy."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from surge_sim.demand.spread import (
    LONGEST_S,
    Lot,
    fitted,
    mean_s,
    quantile,
    sample,
    sample_lots,
    still_going,
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
    "exponential by quantile": TimeSpread.model_construct(
        shape="exponential", quantiles=(Quantile(p=0.5, time_s=9_000),)
    ),
}


def twin(spread):
    """The same distribution in scipy."""
    fit = fitted(spread)
    return {
        "lognormal": lambda: stats.lognorm(fit.second, scale=np.exp(fit.first)),
        "gamma": lambda: stats.gamma(fit.first, scale=fit.second),
        "weibull": lambda: stats.weibull_min(fit.first, scale=fit.second),
        "exponential": lambda: stats.expon(scale=fit.first),
    }[fit.shape]()


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
    assert quantile(fitted(spread), np.array([0.25]))[0] / hour == pytest.approx(47.1, abs=0.5)


@pytest.mark.parametrize("name", SPREADS)
def test_draws_quantiles_survival_and_mean_are_of_one_distribution(name):
    spread = SPREADS[name]
    reference = twin(spread)
    drawn = sample(spread, np.random.default_rng(3), 20_000)
    # a whole second on hours moves the distribution by far less than this test can see
    assert follows(drawn, reference.cdf)
    shares = np.array([0.001, 0.3, 0.5, 0.99])
    assert_allclose(quantile(fitted(spread), shares), reference.ppf(shares), rtol=1e-9)
    ages = np.array([-5.0, 0.0, 100.0, 36_000.0, 400_000.0])
    assert_allclose(still_going(spread, ages), reference.sf(ages), rtol=1e-9, atol=1e-12)
    assert mean_s(spread) == pytest.approx(float(reference.mean()))


@pytest.mark.parametrize("name", SPREADS)
def test_longer_draw_begins_with_the_shorter_one(name):
    short, long = (sample(SPREADS[name], np.random.default_rng(5), n) for n in (100, 1_000))
    assert_array_equal(short, long[:100])


def test_empirical_times_are_the_values_and_nothing_else():
    spread = TimeSpread(shape="empirical", values=(60, 120, 120, 600))
    drawn = sample(spread, np.random.default_rng(1), 40_000)
    assert set(drawn.tolist()) == {60, 120, 600}
    assert agrees((drawn == 120).mean(), 0.5, 0.5 / 200)
    shares = np.array([0, 0.3, 0.74, 0.76, 1 - 1e-12])
    assert quantile(fitted(spread), shares).tolist() == [60, 120, 120, 600, 600]
    assert mean_s(spread) == 225
    assert still_going(spread, np.array([0.0, 60, 119, 120, 600])).tolist() == [
        1,
        0.75,
        0.75,
        0.25,
        0,
    ]


def test_no_spread_is_a_fixed_time_that_needs_no_stream():
    for spread in (
        TimeSpread(shape="fixed", mean=90),
        TimeSpread.model_construct(shape="lognormal", mean=90, cv=0),
        TimeSpread.model_construct(
            shape="gamma", quantiles=(Quantile(p=0.5, time_s=90), Quantile(p=0.9, time_s=90))
        ),
    ):
        assert fitted(spread).shape == "fixed"
        assert sample(spread, None, 3).tolist() == [90, 90, 90]
        assert still_going(spread, np.array([0.0, 89, 90])).tolist() == [1, 1, 0]


def test_times_are_whole_seconds_of_the_least_length_or_more():
    spread = TimeSpread(shape="exponential", mean=2)
    drawn = sample(spread, np.random.default_rng(1), 10_000, least_s=1)
    assert drawn.dtype == np.int64
    assert drawn.min() == 1
    assert sample(TimeSpread(shape="fixed", mean=0), None, 2, least_s=1).tolist() == [1, 1]


def test_times_are_rounded_to_the_nearest_second():
    assert whole_seconds(np.array([0.2, 0.4, 0.6, 1.4, 1.6]), 0).tolist() == [0, 0, 1, 1, 2]
    assert whole_seconds(np.array([0.2, 1e99]), 1).tolist() == [1, LONGEST_S]


def test_lots_stand_one_behind_the_other_as_if_drawn_alone():
    spreads = [*SPREADS.values(), TimeSpread(shape="fixed", mean=90)]
    counts = [7 * number for number in range(len(spreads))]
    lots = [
        Lot(fitted(spread), np.random.default_rng(number), count)
        for number, (spread, count) in enumerate(zip(spreads, counts, strict=True))
    ]
    alone = [
        sample(spread, np.random.default_rng(number), count)
        for number, (spread, count) in enumerate(zip(spreads, counts, strict=True))
    ]
    assert_array_equal(sample_lots(lots), np.concatenate(alone))
    assert len(sample_lots([])) == 0
