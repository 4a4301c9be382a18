"""Differences and their limits, by hand, against scipy, and in repetitions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from surge_sim.whatif.differences import MEASURES, differences
from surge_sim.whatif.outcome import ROW
from tests.studies.differences import alike_found_different, found, power_of_t

HOURS = next(one for one in MEASURES if one.name == "hours_waited")
TARGET = next(one for one in MEASURES if one.name == "share_on_target")
IN_TIME = next(one for one in MEASURES if one.name == "service_level")


def rows(**columns):
    """Outcomes of surges with these columns; the others are 0."""
    table = np.zeros(len(next(iter(columns.values()))), dtype=ROW)
    for name, values in columns.items():
        table[name] = values
    table["surge"] = np.arange(len(table))
    return table


def one_difference(base, other, measure, confidence=0.95):
    ((found_one,),) = differences(base, [other], confidence, [measure])
    return found_one


def test_hours_are_means_of_paired_differences_with_students_limits():
    rng = np.random.default_rng(5)
    before = rng.integers(0, 90_000, 60)
    by = np.rint(rng.normal(-3_600, 5_000, 60)).astype(int)
    told = one_difference(rows(wait_s=before), rows(wait_s=before + by), HOURS)
    t = stats.ttest_1samp(by / 3_600, 0.0).confidence_interval(0.95)
    assert told.by.estimate == pytest.approx(by.mean() / 3_600)
    # never narrower than Student's; wider on the side to which the surges lean
    assert told.by.low <= t.low + 1e-9
    assert told.by.high >= t.high - 1e-9
    assert told.by.high - told.by.low < 1.3 * (t.high - t.low)


def test_a_share_is_a_ratio_of_sums():
    base = rows(in_time=[8, 50] * 10, entries=[10, 100] * 10)
    other = rows(in_time=[9, 80] * 10, entries=[10, 100] * 10)
    told = one_difference(base, other, IN_TIME)
    assert told.base == pytest.approx(58 / 110)
    assert told.by.estimate == pytest.approx(31 / 110)


def test_shares_of_another_demand_use_their_own_entries():
    base = rows(in_time=[5, 60] * 10, entries=[10, 100] * 10)
    other = rows(in_time=[60, 5] * 10, entries=[100, 10] * 10)
    told = one_difference(base, other, IN_TIME)
    assert told.by.estimate == 0.0
    assert told.surges == 20
    assert told.finding == "undecided"


def test_surges_on_target_count_only_those_that_changed():
    base = rows(missed=[1] * 12 + [0] * 188)
    told = one_difference(base, rows(missed=[0] * 200), TARGET)
    # 12 gains of 12: exact limits of the share of gains 0.02^(1/12), of gains in all 200
    # by Clopper and Pearson; 4/5 and 1/5 of the error of 5 %
    sign = 2 * 0.02 ** (1 / 12) - 1
    assert told.by.low == pytest.approx(sign * stats.beta.ppf(0.005, 12, 189))
    assert told.by.high == pytest.approx(stats.beta.ppf(0.995, 13, 188))
    assert told.by.estimate == pytest.approx(0.06)
    assert told.finding == "better"


def test_the_sign_of_a_change_on_target_is_that_of_an_exact_test():
    for gains, losses in ((9, 1), (8, 2), (14, 4), (5, 0), (20, 8)):
        base = rows(missed=[1] * gains + [0] * losses + [0] * 100)
        other = rows(missed=[0] * gains + [1] * losses + [0] * 100)
        told = one_difference(base, other, TARGET)
        p = stats.binomtest(gains, gains + losses).pvalue
        # the exact test doubles the smaller tail, as the limits do; 4/5 of the error is the sign's
        assert (told.finding == "better") == (p <= 0.04), (gains, losses)


def test_all_limits_share_the_error():
    rng = np.random.default_rng(7)
    base = rows(wait_s=rng.integers(0, 90_000, 50))
    others = [rows(wait_s=base["wait_s"] + rng.integers(-900, 900, 50)) for _ in range(5)]
    alone = one_difference(base, others[0], HOURS, 1.0 - 0.05 / 5)
    among = differences(base, others, 0.95, [HOURS])[0][0]
    assert among == alone
    assert one_difference(base, others[0], HOURS).by.high < among.by.high


@pytest.mark.parametrize("differing", [1, 7])
def test_too_few_surges_that_differ_have_no_limits(differing):
    base = rows(wait_s=np.arange(40) * 60)
    other = rows(wait_s=base["wait_s"] + 3_600 * (np.arange(40) < differing))
    told = one_difference(base, other, HOURS)
    assert (told.by.low, told.by.high) == (None, None)
    assert told.finding == "undecided"
    assert told.surges == differing


def test_nothing_that_differs_is_told_as_such():
    base = rows(wait_s=np.arange(40) * 60, entries=np.full(40, 9), in_time=np.full(40, 9))
    assert {one.finding for one in differences(base, [base.copy()])[0]} == {"none"}


def test_without_entries_there_is_no_share():
    base = rows(wait_s=[0, 0], entries=[0, 0])
    told = one_difference(base, base.copy(), IN_TIME)
    assert told.value is None
    assert told.by.estimate is None


def test_plays_of_a_recorded_period_have_no_limits():
    base = rows(wait_s=np.arange(40) * 60)
    other = rows(wait_s=np.arange(40) * 90)
    (told,) = differences(base, [other], measures=[HOURS], limited=False)[0]
    assert told.by.low is None
    assert told.by.estimate == pytest.approx(-told.base * -0.5)


# --- in repetitions -------------------------------------------------------------------------

#: each random claim below fails by chance with this probability at most
EACH = 1e-5
REPETITIONS = 300
FALSE_ALARM = 4 * EACH


def heavy_tailed(surges, seed=11):
    """Outcomes with long-tailed waits, rare alarms and few urgent entries, as surges have them."""
    rng = np.random.default_rng(seed)
    entries = rng.integers(80, 120, surges)
    late = rng.binomial(entries, rng.beta(0.5, 6, surges))
    worst = rng.integers(5, 20, surges)
    return rows(
        missed=(late > 0.05 * entries).astype(int),
        entries=entries,
        in_time=entries - late,
        urgent_late=rng.poisson(rng.gamma(0.3, 1.0, surges)),
        wait_s=np.rint(rng.lognormal(8, 1.5, surges) * (late > 0)).astype(int),
        worst_entries=worst,
        worst_in_time=worst - rng.binomial(worst, 0.2),
        alarms=rng.poisson(0.1, surges),
    )


@pytest.mark.parametrize("surges", [20, 100])
def test_alternatives_that_are_alike_are_rarely_found_different(surges):
    share = alike_found_different(heavy_tailed(30_000), surges, 4, REPETITIONS)
    assert share * REPETITIONS <= stats.binom.isf(EACH, REPETITIONS, 0.05)


@pytest.mark.parametrize("surges", [40, 80])
def test_a_known_small_difference_is_found_with_the_power_of_theory(surges):
    rng = np.random.default_rng(13)
    before = rng.integers(0, 90_000, 20_000)
    shifted = before + np.rint(rng.normal(-1_200, 3_600, 20_000)).astype(int)
    pair = np.stack([rows(wait_s=before), rows(wait_s=shifted)])
    theory = power_of_t(pair, HOURS, surges, 0.05)
    seen = found(pair, HOURS, surges, REPETITIONS)
    # limits that allow for skewness are a little wider than Student's: less than a tenth of power
    assert seen * REPETITIONS <= stats.binom.isf(EACH / 2, REPETITIONS, theory)
    assert seen * REPETITIONS >= stats.binom.ppf(EACH / 2, REPETITIONS, theory - 0.1)
    assert 0.3 < theory < 0.99
