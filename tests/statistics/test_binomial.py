"""Exact limits and tests of shares, against published numbers, scipy, statsmodels and counting."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from surge_sim.statistics.binomial import (
    anytime_limits,
    clopper_pearson,
    least_passes,
    least_surges,
    log_evidence_above,
    log_evidence_below,
    lower_limit,
    paired_difference_interval,
    paired_p_value,
    quantile_limits,
    upper_limit,
)

#: most wrong walks of 800 at 5 %; the chance of more although the program is right
MOST_WRONG = 68
FALSE_ALARM = float(stats.binom.sf(MOST_WRONG, 800, 0.05))


def test_twenty_nine_clean_surges_are_the_least_that_show_nine_in_ten() -> None:
    """0.9^28 = 0.052 and 0.9^29 = 0.047; with misses allowed 46, 61, 76, 89, 103."""
    assert [least_surges(0.9, 0.05, misses) for misses in range(6)] == [29, 46, 61, 76, 89, 103]
    assert least_passes(29, 0.9, 0.05) == 29
    assert least_passes(28, 0.9, 0.05) == 29  # not even all of them


@pytest.mark.parametrize(("surges", "share"), [(20, 0.5), (300, 0.9), (800, 0.9), (1000, 0.95)])
def test_least_passes_is_the_first_that_would_be_rare_at_the_share(
    surges: int, share: float
) -> None:
    needed = least_passes(surges, share, 0.05)
    assert (
        stats.binom.sf(needed - 1, surges, share)
        <= 0.05
        < stats.binom.sf(needed - 2, surges, share)
    )


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


def test_evidence_is_the_averaged_likelihood_ratio() -> None:
    """The integral over shares above 0.9, done by summing over a fine grid."""
    p = np.linspace(0.9, 1.0, 200_001)
    p = (p[1:] + p[:-1]) / 2
    expected = np.log(np.mean(p**95 * (1 - p) ** 5)) - (95 * math.log(0.9) + 5 * math.log(0.1))
    assert log_evidence_above(95, 100, 0.9) == pytest.approx(expected, abs=1e-6)
    p = np.linspace(0.45, 0.9, 200_001)
    p = (p[1:] + p[:-1]) / 2
    expected = np.log(np.mean(p**80 * (1 - p) ** 20)) - (80 * math.log(0.9) + 20 * math.log(0.1))
    assert log_evidence_below(80, 100, 0.9) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("evidence", [log_evidence_above, log_evidence_below])
def test_evidence_is_one_on_average_at_the_share_itself(evidence) -> None:  # type: ignore[no-untyped-def]
    """A fair game: summed over all outcomes of 60 surges at share 0.9 it comes to 1."""
    passes = np.arange(61)
    weights = stats.binom.pmf(passes, 60, 0.9)
    values = [math.exp(evidence(int(k), 60, 0.9)) for k in passes]
    assert float(np.dot(weights, values)) == pytest.approx(1.0, abs=1e-9)


def test_looking_after_every_surge_certifies_wrongly_in_at_most_one_case_of_twenty() -> None:
    """800 walks of 400 surges at share 0.9, looked at after each surge. By Ville at most 5 %
    err; more than 68 of 800 would come by chance in about 1 of 90,000 runs.
    """
    rng = np.random.default_rng(20)
    table = np.array(
        [
            [log_evidence_above(k, n, 0.9) if k <= n else -9.0 for k in range(401)]
            for n in range(401)
        ]
    )
    passes = np.cumsum(rng.random((800, 400)) < 0.9, axis=1)
    ever = (table[np.arange(1, 401)[None, :], passes] >= math.log(20)).any(axis=1)
    assert ever.sum() <= MOST_WRONG


def test_anytime_limits_are_where_the_evidence_reaches_the_bar() -> None:
    low, high = anytime_limits(751, 800, 0.05)
    assert log_evidence_above(751, 800, low) == pytest.approx(math.log(20), abs=1e-6)
    assert log_evidence_below(751, 800, high) == pytest.approx(math.log(20), abs=1e-6)
    assert low < lower_limit(751, 800, 0.05) < 751 / 800 < upper_limit(751, 800, 0.05) < high
    assert anytime_limits(0, 20, 0.05)[0] == 0.0
    assert anytime_limits(20, 20, 0.05)[1] == 1.0


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
