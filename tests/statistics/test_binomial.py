"""Exact limits and tests of shares, against published numbers, scipy, statsmodels and counting."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from surge_sim.statistics.binomial import (
    clopper_pearson,
    least_surges,
    lower_limit,
    paired_difference_interval,
    paired_p_value,
    quantile_limits,
    upper_limit,
)


def test_twenty_nine_clean_surges_are_the_least_that_show_nine_in_ten() -> None:
    """0.9^28 = 0.052 and 0.9^29 = 0.047; with misses allowed 46, 61, 76, 89, 103."""
    assert [least_surges(0.9, 0.05, misses) for misses in range(6)] == [29, 46, 61, 76, 89, 103]


@pytest.mark.parametrize(("passes", "surges"), [(0, 10), (3, 10), (10, 10), (190, 200), (465, 500)])
def test_interval_is_that_of_two_other_programs(passes: int, surges: int) -> None:
    low, high = clopper_pearson(passes, surges, 0.95)
    theirs = stats.binomtest(passes, surges).proportion_ci(0.95, method="exact")
    assert (low, high) == pytest.approx((theirs.low, theirs.high), abs=1e-9)
    assert (low, high) == pytest.approx(
        proportion_confint(passes, surges, 0.05, method="beta"), abs=1e-9, nan_ok=True
    )


def test_one_sided_limits_mirror_each_other() -> None:
    assert lower_limit(190, 200, 0.05) == pytest.approx(0.916665, abs=5e-7)
    assert lower_limit(465, 500, 0.05) == pytest.approx(0.908260, abs=5e-7)
    assert upper_limit(10, 200, 0.05) == pytest.approx(1 - lower_limit(190, 200, 0.05))
    assert lower_limit(0, 5, 0.05) == 0.0
    assert upper_limit(5, 5, 0.05) == 1.0
    with pytest.raises(ValueError, match="not possible"):
        lower_limit(3, 2, 0.05)


def test_paired_interval_solves_the_score_equation() -> None:
    """At its ends the score statistic of Tango (1998), worked out afresh, is 1.96."""

    def score(gained: int, lost: int, surges: int, d: float) -> float:
        a, b = 2 * surges, -gained - lost + (2 * surges - gained + lost) * d
        q = (math.sqrt(b * b - 4 * a * (-lost * d * (1 - d))) - b) / (2 * a)
        return (gained - lost - surges * d) / math.sqrt(surges * (2 * q + d * (1 - d)))

    low, high = paired_difference_interval(30, 8, 200)
    assert score(30, 8, 200, low) == pytest.approx(1.959964, abs=1e-4)
    assert score(30, 8, 200, high) == pytest.approx(-1.959964, abs=1e-4)
    assert 0.0 < low < 22 / 200 < high


def test_paired_interval_and_sign_test_never_disagree() -> None:
    for gained in range(12):
        for lost in range(12):
            low, high = paired_difference_interval(gained, lost, 60)
            if paired_p_value(gained, lost) > 0.05:
                assert low <= 0.0 <= high, (gained, lost)
            assert low <= (gained - lost) / 60 <= high


def test_paired_interval_mirrors_when_gains_and_losses_change_places() -> None:
    low, high = paired_difference_interval(9, 2, 100)
    assert paired_difference_interval(2, 9, 100) == pytest.approx((-high, -low), abs=1e-8)


@pytest.mark.parametrize(
    ("surges", "rank"), [(50, 49), (100, 96), (200, 188), (300, 279), (500, 462), (1000, 916)]
)
def test_upper_limit_of_the_nine_in_ten_quantile_is_this_order_statistic(
    surges: int, rank: int
) -> None:
    """Least j with P(Binomial(n, 0.9) < j) >= 0.95: a one-sided 95 % limit (90 % two-sided)."""
    assert quantile_limits(np.arange(1, surges + 1), 0.9, 0.90)[2] == rank


def test_a_quantile_without_enough_surges_has_no_limit() -> None:
    low, middle, high = quantile_limits(np.array([3, 1, 2]), 0.9)
    assert (middle, high) == (3, None)
    assert low is None or low <= 3
    assert quantile_limits(np.array([], dtype=np.int64), 0.5) == (None, None, None)
