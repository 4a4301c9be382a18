"""Exact limits and tests of shares, against published numbers, scipy, statsmodels and counting."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from surge_sim.statistics.intervals import (
    clopper_pearson,
    lower_limit,
    quantile_over_surges,
    upper_limit,
)


@pytest.mark.parametrize(
    ("surges", "misses"), [(29, 0), (46, 1), (61, 2), (76, 3), (89, 4), (103, 5)]
)
def test_these_are_the_least_surges_that_show_nine_in_ten(surges: int, misses: int) -> None:
    """Without a miss 0.9^28 = 0.052 and 0.9^29 = 0.047."""
    assert lower_limit(surges - misses, surges, 0.05) >= 0.9
    assert lower_limit(surges - 1 - misses, surges - 1, 0.05) < 0.9


@pytest.mark.parametrize(("passes", "surges"), [(0, 10), (3, 10), (10, 10), (190, 200), (465, 500)])
def test_interval_is_that_of_two_other_programs(passes: int, surges: int) -> None:
    low, high = clopper_pearson(passes, surges, 0.95)
    theirs = stats.binomtest(passes, surges).proportion_ci(0.95, method="exact")
    assert (low, high) == pytest.approx((theirs.low, theirs.high), abs=1e-9)
    assert (low, high) == pytest.approx(
        proportion_confint(passes, surges, 0.05, method="beta"), abs=1e-9, nan_ok=True
    )


def test_without_surges_a_share_may_be_anything() -> None:
    assert clopper_pearson(0, 0) == (0.0, 1.0)


def test_one_sided_limits_mirror_each_other() -> None:
    assert lower_limit(190, 200, 0.05) == pytest.approx(0.916665, abs=5e-7)
    assert lower_limit(465, 500, 0.05) == pytest.approx(0.908260, abs=5e-7)
    assert upper_limit(10, 200, 0.05) == pytest.approx(1 - lower_limit(190, 200, 0.05))
    assert lower_limit(0, 5, 0.05) == 0.0
    assert upper_limit(5, 5, 0.05) == 1.0
    with pytest.raises(ValueError, match="not possible"):
        lower_limit(3, 2, 0.05)


@pytest.mark.parametrize(
    ("surges", "rank"), [(50, 49), (100, 96), (200, 188), (300, 279), (500, 462), (1000, 916)]
)
def test_upper_limit_of_the_nine_in_ten_quantile_is_this_order_statistic(
    surges: int, rank: int
) -> None:
    """Least j with P(Binomial(n, 0.9) < j) >= 0.95: a one-sided 95 % limit (90 % two-sided)."""
    assert quantile_over_surges(np.arange(1, surges + 1), 0.9, 0.90).high == rank


def test_a_quantile_without_enough_surges_has_no_limit() -> None:
    middle, low, high = quantile_over_surges(np.array([3, 1, 2]), 0.9)
    assert (middle, high) == (3, None)
    assert low is None or low <= 3
    assert quantile_over_surges(np.array([], dtype=np.int64), 0.5) == (None, None, None)
