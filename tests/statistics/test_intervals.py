"""Intervals over surges, against sums done by hand and against independent software."""

import math
from fractions import Fraction

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from surge_sim.statistics.intervals import (
    NOTHING,
    Interval,
    mean_interval,
    quantile_over_surges,
    ratio_interval,
    ratios,
    spread,
    student_quantile,
    telling,
)

SHARES = np.array([97.1, 92.4, 99.0, 95.5, 88.2, 96.3])


def test_a_ratio_weighs_surges_by_their_entries():
    """8 of 10 and 90 of 90 entries in time: 98 % of all, though the mean of shares is 90 %."""
    assert ratio_interval([8, 90], [10, 90]).estimate == pytest.approx(0.98)
    assert mean_interval([0.8, 1.0]).estimate == pytest.approx(0.9)


def test_the_limits_of_a_ratio_by_hand():
    """X = 1, 2, 6 of y = 10, 10, 20: R = 9/40 = 0.225.

    Residuals x - R y: -1.25, -0.25, 1.5; squares add up to 3.875; variance 3.875 / 2 = 1.9375.
    Error = sqrt(1.9375 / 3) / (40 / 3) = 0.0602729; t(2) = 4.302653 (Fisher and Yates,
    Statistical Tables, 1938, Table III: 4.303). Plain reach 0.259333.
    Cubes add up to 1.40625, so the skewness is 0.46875 / (3.875/3)^1.5 x sqrt(6) = 0.782146 and,
    with three tenths more, g = 1.016790. Residuals times y add up to 15: the lean is
    5 / (13.3333 x 1.391941) = 0.269408. Hall's transform with a = (g/3 - lean) / sqrt(3)
    = 0.040140 and b = g / (6 sqrt(3)) = 0.097841, taken back from -t, reaches 5.5418 errors up.
    """
    estimate, low, high = ratio_interval([1, 2, 6], [10, 10, 20], highest=1.0, fewest=0)
    assert estimate == pytest.approx(0.225)
    a, b = 0.0401401, 0.0978409
    up = (1 - np.cbrt(1 + 3 * a * (-4.302653 - b))) / a
    assert up == pytest.approx(5.5418, abs=1e-4)
    assert high == pytest.approx(0.225 + up * 0.0602729, abs=2e-6)
    assert low == 0.0, "cut where no share can be"


def test_a_ratio_agrees_with_weighted_regression_through_the_origin():
    """With weights 1/y, regression of x on y through 0 has the ratio as its slope."""
    rng = np.random.default_rng(5)
    y = rng.integers(50, 200, 40)
    x = rng.binomial(y, 0.9)
    fit = sm.WLS(x, y.astype(float), weights=1.0 / y).fit()
    interval = ratio_interval(x, y)
    assert interval.estimate == pytest.approx(fit.params[0])
    # the textbook error of a ratio: residuals squared, not weighted
    error = (x - fit.params[0] * y).std(ddof=1) / y.mean() / math.sqrt(40)
    reach = stats.t.ppf(0.975, 39) * error
    down, up = interval.estimate - interval.low, interval.high - interval.estimate
    # Student's on one side, on the other farther for skewness
    assert min(down, up) == pytest.approx(reach, rel=1e-9)
    assert max(down, up) < 1.2 * reach


def test_a_ratio_over_ones_is_students_interval_of_the_mean():
    whole = np.round(10 * SHARES).astype(int)
    ratio = ratio_interval(whole, np.ones(6, dtype=int), fewest=0)
    assert ratio == pytest.approx(mean_interval(whole, fewest=0))


def test_the_interval_of_a_mean_agrees_with_independent_software():
    interval = mean_interval(SHARES, fewest=0)
    """The tail is long below: the upper limit is Student's, the lower one lies farther off."""
    low, high = sm.stats.DescrStatsW(SHARES).tconfint_mean(0.05)
    assert (interval.estimate, interval.high) == pytest.approx((SHARES.mean(), high))
    assert interval.low < low
    level = [90.0, 95.0, 100.0] * 4
    low, high = stats.t.interval(0.9, 11, 95.0, stats.sem(level))
    assert mean_interval(level, confidence=0.9, fewest=0) == pytest.approx((95.0, low, high))


def test_students_quantiles_are_the_tabled_ones():
    """Fisher and Yates, Statistical Tables, 1938, Table III, P = 0.05 (from memory)."""
    tabled = {2: 12.706, 3: 4.303, 6: 2.571, 11: 2.228, 31: 2.042, 121: 1.980}
    for surges, value in tabled.items():
        assert student_quantile(surges) == pytest.approx(value, abs=6e-4)


def test_one_surge_gives_no_limits_and_none_gives_nothing():
    assert ratio_interval([3], [4]) == Interval(0.75, None, None)
    assert mean_interval([0.75]) == Interval(0.75, None, None)
    assert ratio_interval([0, 0], [0, 0]) == NOTHING
    assert mean_interval([math.nan]) == NOTHING
    assert mean_interval([]) == quantile_over_surges([], 0.5) == NOTHING


def test_surges_without_entries_count_in_the_ratio_and_not_in_the_mean_of_shares():
    """A surge of 0 of 0 adds nothing to the sums, but it is a surge: t(2), mean of y 20/3."""
    with_empty = ratio_interval([8, 9, 0], [10, 10, 0], fewest=0)
    assert with_empty.estimate == pytest.approx(0.85)
    reach = student_quantile(3) * math.sqrt(0.5 / 2 / 3) / (20 / 3)
    assert with_empty.high == pytest.approx(0.85 + reach)
    assert mean_interval([0.8, 0.9, math.nan]) == pytest.approx(mean_interval([0.8, 0.9]))


def test_surges_that_are_all_the_same_have_an_interval_without_width():
    assert ratio_interval([7] * 30, [10] * 30, fewest=0) == Interval(0.7, 0.7, 0.7)
    assert mean_interval([0.1] * 30, fewest=0) == pytest.approx((0.1, 0.1, 0.1), abs=1e-15)


def test_a_small_number_does_not_get_lost_beside_a_large_one():
    """Ten thousand million million seconds in one surge, one second each in four others."""
    assert 1e16 + 1.0 == 1e16, "in binary fractions it would"
    assert ratio_interval([10**16, 1, 1, 1, 1], [1, 0, 0, 0, 0]).estimate == 10**16 + 4


def test_pairs_side_by_side_do_not_mix():
    x, y = np.array([[1, 5], [2, 6], [6, 1]]), np.array([[10, 5], [10, 8], [20, 9]])
    first, second = ratios(x, y, fewest=0)
    assert first == ratio_interval([1, 2, 6], [10, 10, 20], fewest=0)
    assert second == ratio_interval([5, 6, 1], [5, 8, 9], fewest=0)
    # one y for all pairs
    assert ratios(x, y[:, :1], fewest=0)[0] == first


@given(st.lists(st.tuples(st.integers(0, 10**6), st.integers(1, 10**6)), min_size=2, max_size=30))
def test_errors_are_those_of_exact_fractions(pairs):
    """Nothing cancels: squares of the residuals are summed, worked out here in whole numbers."""
    x, y = (np.array(side) for side in zip(*pairs, strict=True))
    whole = Fraction(int(x.sum()), int(y.sum()))
    squares = sum((one_x - whole * one_y) ** 2 for one_x, one_y in pairs)
    count = len(pairs)
    error = math.sqrt(squares / (count - 1) / count) / float(Fraction(int(y.sum()), count))
    found, _, _ = spread(x[:, None], y[:, None])
    assert found[0] == pytest.approx(error, rel=1e-9, abs=1e-12 * max(float(whole), 1e-9))


@given(st.lists(st.integers(0, 10**6), min_size=2, max_size=30), st.integers(1, 99))
def test_surges_with_the_same_ratio_have_no_error_at_all(y, factor):
    """Not even the last digits of binary fractions, whose shape would be noise."""
    y = np.array([*y, 1])[:, None]
    assert [part.tolist() for part in spread(factor * y, y)] == [[0.0]] * 3


def test_a_quantile_over_surges_has_limits_from_the_ranks():
    """Median of 1 .. 10: limits are the 2nd and 9th value, 97.9 % sure.

    David and Nagaraja, Order Statistics, 2003, section 7.1 (from memory); P(Bin(10, 1/2) <= 1)
    = 11/1024, under 2.5 %, and P(... <= 2) = 56/1024 is more.
    """
    values = np.arange(1, 11)
    assert quantile_over_surges(values[::-1], 0.5) == Interval(5.0, 2.0, 9.0)


def test_an_extreme_quantile_of_few_surges_has_no_upper_limit():
    assert quantile_over_surges(np.arange(10), 0.9).high is None
    assert quantile_over_surges(np.arange(10), 0.1).low is None


def test_intervals_change_units_as_a_whole():
    assert Interval(1.0, None, 3.0).scaled(60.0) == Interval(60.0, None, 180.0)


def test_no_limit_passes_what_is_possible():
    """Shares of 0.98, 1 and 0.99 would reach beyond 1, and those of 0, 0.03 and 0 below 0."""
    high = ratio_interval([98, 100, 99], [100, 100, 100], highest=1.0, fewest=0)
    assert high.low > 0.9 and high.high == 1.0
    low = ratio_interval([0, 3, 0], [100, 100, 100], fewest=0)
    assert low.low == 0.0


@pytest.mark.parametrize("late", [0, 1, 7])
def test_what_few_surges_carry_has_no_limits(late):
    """100 surges of 50 entries, in `late` of them one late: as service level, late share and mean.

    From 7 of 100 surges nobody can tell how much late entries vary.
    """
    x = np.array([49] * late + [50] * (100 - late))
    y = np.full(100, 50)
    assert ratio_interval(x, y, highest=1.0)[1:] == (None, None), "in time"
    assert ratio_interval(y - x, y, highest=1.0)[1:] == (None, None), "late"
    assert mean_interval(y - x)[1:] == (None, None), "late entries per surge"


def test_what_eight_surges_carry_has_limits():
    x = np.array([49] * 8 + [50] * 92)
    y = np.full(100, 50)
    assert None not in ratio_interval(x, y, highest=1.0)
    assert None not in ratio_interval(y - x, y, highest=1.0)
    assert None not in mean_interval(y - x)


@pytest.mark.parametrize("other", [5, 3])
def test_a_peak_that_rarely_differs_has_no_limits(other):
    """4 batteries in 93 of 100 surges, one more or one less in 7; in 8 it has limits."""
    ones = np.ones(100, dtype=int)
    peak = [4] * 93 + [other] * 7
    assert mean_interval(peak)[1:] == (None, None)
    assert ratio_interval(peak, ones)[1:] == (None, None)
    assert None not in ratio_interval([*peak[1:], other], ones)


def test_surges_that_differ_are_counted():
    """X is 0 in 60 surges, 2 of 5 in 20, whole in 40: 60 above the lowest, 80 short of whole."""
    x = np.repeat([0, 2, 5], [60, 20, 40])[:, None]
    assert telling(x, np.full_like(x, 5)) == telling(x, np.full_like(x, 5), share=True) == [60]
    # of means those that are not at the highest count, too
    assert telling(np.where(x == 2, 5, x), np.ones_like(x)) == [60]
    assert telling(np.where(x == 2, 0, x), np.ones_like(x)) == [40]
