"""Waits of all surges: exact quantiles from a sparse histogram, and limits from the surges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from surge_sim.statistics.waits import COARSE_FROM_S, coarse, quantile, rungs, tally, within
from tests.statistics.coverage import waits_of


def arrays(*surges: list[int]) -> list[np.ndarray]:
    return [np.array(waits, dtype=np.int64) for waits in surges]


def quantile_of(values: list[int], share: float) -> int | None:
    one = np.array(values, dtype=np.int64)
    return quantile(*tally(one, np.ones_like(one)), share)


def test_a_quantile_is_the_least_wait_with_that_share_at_or_below_it():
    """Of 1 .. 10 the 90 % quantile is 9, and the 91 % quantile is 10."""
    values = list(range(10, 0, -1))
    wanted = {0.0: 1, 0.1: 1, 0.11: 2, 0.5: 5, 0.9: 9, 0.91: 10, 1.0: 10}
    assert {share: quantile_of(values, share) for share in wanted} == wanted
    assert quantile_of([], 0.5) is None


@given(st.lists(st.integers(0, 50), min_size=1, max_size=200), st.integers(1, 100))
def test_quantiles_from_counts_are_those_of_the_list(values, percent):
    """The rank is ceil(n p), here in whole numbers, whatever 0.07 is in binary fractions."""
    rank = -(-len(values) * percent // 100)
    assert quantile_of(values, percent / 100) == sorted(values)[rank - 1]


def test_a_tally_has_each_value_once_with_all_of_its_counts():
    found = tally(np.array([7, 0, 7, 3]), np.array([1, 5, 2, 1]))
    assert found.tolist() == [[0, 3, 7], [5, 1, 3]]


def test_a_wait_counts_at_its_own_rung_and_all_above():
    ladder = np.array([0, 1, 6, 11])
    assert within(ladder, np.array([6, 0, 1, 0, 2, 0, 6, 0, 6])).tolist() == [4, 5, 9, 9]


def test_only_waits_beyond_hours_are_kept_coarsely_and_never_shorter():
    waits = np.array([0, 301, COARSE_FROM_S, COARSE_FROM_S + 1, COARSE_FROM_S + 60])
    kept = coarse(waits)
    assert (kept - waits).tolist() == [0, 0, 0, 59, 0]


def test_the_ladder_of_waits_reaches_the_longest_and_holds_the_marks():
    ladder = rungs(1_000_000, 300, 77)
    assert {0, 77, 300} <= set(ladder.tolist())
    assert ladder[-1] >= 1_000_000
    far = ladder[ladder > 600]
    assert (np.diff(far) / far[:-1]).max() < 0.0501
    assert len(ladder) < 400


def test_mean_and_shares_are_ratios_over_all_needs():
    """Surges with waits (0, 0, 60) and (600): mean 165 s; 3 of 4 wait 300 s or less."""
    sums = waits_of(arrays([0, 0, 60], [600]))
    assert sums.mean().estimate == 165.0
    within = dict(sums.share_within())
    assert within[0].estimate == 0.5
    assert within[300].estimate == 0.75
    assert sums.longest_s == 600
    assert sums.requests.tolist() == [3, 1]


def test_the_longest_wait_is_exact_though_it_is_kept_coarsely():
    assert waits_of(arrays([COARSE_FROM_S + 1])).longest_s == COARSE_FROM_S + 1


def test_one_surge_has_quantiles_without_limits_and_none_has_nothing():
    assert waits_of(arrays([1, 2, 3])).quantile(0.5) == (2.0, None, None)
    assert waits_of([]).quantile(0.5) == (None, None, None)
    assert waits_of(arrays([], [])).mean() == (None, None, None)
    assert waits_of(arrays([], [])).longest_s == -1


def test_a_heap_of_waits_of_nothing_makes_a_median_of_nothing_with_limits_of_nothing():
    """Nine in ten do not wait, in each of 30 surges: the median is 0, surely."""
    surges = arrays(*([0] * 9 + [60 + surge] for surge in range(30)))
    assert waits_of(surges).quantile(0.5) == (0.0, 0.0, 0.0)


def test_limits_of_a_quantile_follow_the_surges_not_the_entries():
    """Twenty surges, in half of them everybody waits 100 s, in the others nobody.

    The share that does not wait is 1/2 with error sqrt(1/4 x 20/19 / 20) = 0.1147 over surges;
    t(19) = 2.093, so the limits of the 70 % quantile lie at 46 % and 94 %: 0 and 100 s, though
    among 20,000 entries a binomial limit would have been sure of 100 s.
    """
    surges = arrays(*([100 * (surge % 2)] * 1000 for surge in range(20)))
    assert waits_of(surges).quantile(0.7) == (100.0, 0.0, 100.0)


def test_no_upper_limit_where_even_the_longest_wait_may_be_too_short():
    """99 % plus the reach is beyond all waits seen."""
    surges = arrays(*([0] * 95 + [60, 120, 180, 240, 300 + surge] for surge in range(12)))
    estimate, low, high = waits_of(surges).quantile(0.99)
    assert estimate is not None and low is not None and low <= estimate
    assert high is None or high >= estimate
    spread = arrays(*[[0] * 50, [900] * 50, [0] * 50] * 8)
    assert waits_of(spread).quantile(0.9).high is None


def test_the_limits_are_those_of_the_ladder_by_hand():
    """Twelve surges of 4 needs; 300 s or less: 4, 3 and 2 of them in turn, 36 of 48 in all.

    Error of the share 0.75: residuals 1, 0, -1; sqrt(8/11/12)/4 = 0.0615; t(11) = 2.2010. Eight
    surges have a longer wait, just enough for limits.
    """
    sums = waits_of(4 * arrays([0, 0, 0, 0], [0, 0, 0, 400], [0, 0, 400, 400]))
    within = dict(sums.share_within())[300]
    assert within.estimate == 0.75
    reach = 2.200985 * math.sqrt(8 / 11 / 12) / 4
    assert within[1:] == pytest.approx((0.75 - reach, 0.75 + reach), abs=1e-5)


def test_waits_that_few_surges_have_give_a_quantile_no_limits():
    """In 7 of 100 surges half of the needs wait: 96.5 % do not, and nobody knows how rare it is."""
    assert waits_of(arrays(*[[0, 60]] * 7, *[[0, 0]] * 93)).quantile(0.9) == (0.0, None, None)
    assert waits_of(arrays(*[[0, 60]] * 8, *[[0, 0]] * 92)).quantile(0.9) == (0.0, 0.0, 0.0)
