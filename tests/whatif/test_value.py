"""What knowing is worth, against cases with a closed form; the price of a missed surge by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import binom, norm

from surge_sim.whatif.value import LEAST, losses_of, price_of_missing, value_of_knowing

#: two closed forms, each with limits that miss with this chance
EACH = 1e-6
#: of 100 repetitions that may each err in 2.5 %
MOST_WRONG = 13
FALSE_ALARM = 2 * EACH + float(binom.sf(MOST_WRONG - 1, 100, 0.025))


def test_a_normal_input_of_a_linear_loss_is_worth_the_unit_normal_loss():
    """Two choices: 0, or x + noise with x normal (mean m, deviation s). Knowing x is worth
    s (phi(z) - |z| Phi(-|z|)), z = m / s: Raiffa and Schlaifer, "Applied statistical decision
    theory", 1961, the unit normal linear-loss integral (from memory).
    """
    rng, count, mean, spread = np.random.default_rng(11), 40_000, 0.3, 1.0
    x = rng.normal(mean, spread, count)
    losses = np.stack([np.zeros(count), x + rng.normal(0, 2.0, count)], axis=1)
    z = mean / spread
    true = spread * (norm.pdf(z) - z * norm.cdf(-z))
    found = value_of_knowing(losses, x, 1.0 - EACH)
    assert found.low <= true <= found.high
    assert found.high - found.low < 0.25 * true


def test_an_input_that_says_the_need_is_worth_what_is_bought_in_vain():
    """Need uniform on 0 to 10, one lot costs 1, a missed surge 20. Without knowing all 10 are
    bought, for 10 (each lot less costs 2 in missed surges); with knowing the need itself, for 5
    on average, half a lot more as lots are whole: worth 10 - 5.5 = 4.5. The rule is a
    polynomial, and buys a lot too many rather than miss.
    """
    rng, count = np.random.default_rng(12), 20_000
    x = rng.random(count)
    needs = np.ceil(10 * x).astype(int)
    losses = losses_of(np.arange(11.0), needs, 20.0)
    assert losses.mean(axis=0).argmin() == 10
    found = value_of_knowing(losses, x, 1.0 - EACH)
    # never above the truth; a smooth rule finds most of it
    assert 0.6 * 4.5 < found.low < found.high < 4.5 + 3 * 2.9 / math.sqrt(count)


def test_an_input_that_says_nothing_is_hardly_ever_found_worth_something():
    """100 repetitions at 95 %: the limit may be too high in 2.5 %."""
    rng, wrong = np.random.default_rng(13), 0
    money = np.arange(30) * 700.0
    for _ in range(100):
        needs = np.clip(rng.negative_binomial(1, 0.25, 200) - 2, 0, 30)
        missed = (np.arange(30)[:, None] < needs).mean(axis=1)
        price = price_of_missing(money, missed, 0.9)
        found = value_of_knowing(losses_of(money, needs, price), rng.random(200))
        wrong += found.low is not None and found.low > 0.0
    assert wrong < MOST_WRONG


def test_the_price_is_the_lowest_at_which_the_target_pays():
    """Missed 0.5, 0.4, 0.15, 0.05 for 0, 10, 20, 60. To come to 0.10 the last is needed; from
    0.15 to 0.05 the step costs 40 for 0.1, so 400. From 0 the step to 20 is the better one.
    """
    money, missed = np.array([0.0, 10.0, 20.0, 60.0]), np.array([0.5, 0.4, 0.15, 0.05])
    price = price_of_missing(money, missed, 0.9)
    assert price == pytest.approx(400.0)
    # at that price it is as good as the stock below, a little above it the best
    for more, best in ((0.99, 2), (1.01, 3)):
        assert int(np.argmin(money + more * price * missed)) == best
    assert price_of_missing(money, missed, 0.8) == pytest.approx(20 / 0.35)
    assert price_of_missing(money, missed, 0.5) == 0.0
    assert price_of_missing(money, missed, 0.99) is None


def test_a_loss_is_the_money_and_the_price_of_a_miss():
    losses = losses_of(np.array([0.0, 5.0]), np.array([0, 1, 2]), 100.0)
    assert losses.tolist() == [[0.0, 5.0], [100.0, 5.0], [100.0, 105.0]]


def test_too_few_surges_say_nothing():
    few = np.zeros((LEAST - 1, 2))
    assert value_of_knowing(few, np.arange(LEAST - 1.0)).estimate is None
