"""Every interval follows the confidence that is asked for, not only 95 %."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from surge_sim.statistics.intervals import (
    clopper_pearson,
    quantile_over_surges,
    ratio_interval,
    student_quantile,
)


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.99])
def test_exact_limits_of_a_share(confidence: float) -> None:
    theirs = stats.binomtest(17, 20).proportion_ci(confidence, method="exact")
    assert clopper_pearson(17, 20, confidence) == pytest.approx((theirs.low, theirs.high))


def test_students_quantile() -> None:
    """Tabled for 9 degrees of freedom, two-sided 80, 90 and 99 %: 1.383, 1.833, 3.250."""
    found = [student_quantile(10, confidence) for confidence in (0.8, 0.9, 0.99)]
    assert found == pytest.approx([1.383, 1.833, 3.250], abs=5e-4)


def test_a_surer_interval_holds_a_less_sure_one() -> None:
    """Ratio and quantile, at 80, 95 and 99 %."""
    values = np.arange(200)
    kinds = [
        lambda sure: ratio_interval([3, 5, 4, 9, 2, 6] * 3, [10, 12, 9, 20, 8, 11] * 3, sure)[1:],
        lambda sure: quantile_over_surges(values, 0.9, sure)[1:],
    ]
    for interval in kinds:
        (low_80, high_80), (low_95, high_95), (low_99, high_99) = map(interval, (0.8, 0.95, 0.99))
        assert low_99 < low_95 < low_80 < high_80 < high_95 < high_99


@pytest.mark.parametrize("surges", [60, 100, 333])
@pytest.mark.parametrize("share", [0.5, 0.8, 0.9])
def test_limits_of_a_quantile_are_the_closest_that_miss_rarely_on_either_side(
    surges: int, share: float
) -> None:
    """The (j + 1)-th smallest lies above the quantile when at most j lie below it."""
    _, low, high = quantile_over_surges(np.arange(surges), share, 0.95)
    at_most = stats.binom(surges, share).cdf
    assert at_most(low) <= 0.025 < at_most(low + 1)
    assert at_most(high - 1) < 0.975 <= at_most(high)
