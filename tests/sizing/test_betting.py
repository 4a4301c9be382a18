"""The test by betting: its stakes by hand, its limits, and how often it errs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from surge_sim.sizing.betting import at_risk, block_ends, by_block, decided_at, limits

SHARE, ALPHA = 0.9, 0.05


def kept(passes: int, surges: int) -> np.ndarray:
    """So many surges on target, spread evenly."""
    return np.diff(np.arange(surges + 1) * passes // surges) > 0


def test_blocks_end_at_500_800_2000_and_then_go_on_2_5_times_as_far() -> None:
    assert block_ends(1) == block_ends(500) == (500,)
    assert block_ends(501) == (500, 800)
    assert block_ends(5_001) == (500, 800, 2_000, 5_000, 12_500)


def test_what_is_at_risk_by_hand() -> None:
    """U = sqrt(2 ln 20 x 9 / 300) = 0.4240 and v = sqrt(2 ln 20 / 9 / 300) = 0.0471."""
    assert at_risk(SHARE, ALPHA, 300) == pytest.approx((0.42395, 0.04710), abs=1e-4)
    assert at_risk(0.99, ALPHA, 300)[0] == 0.75


def test_at_each_limit_the_stake_is_20_counted_surge_by_surge() -> None:
    surges = kept(760, 810)
    low, high = limits(by_block(surges), SHARE, ALPHA)
    for p, ours in ((low, True), (high, False)):
        stake = 1.0
        for number, on_target in enumerate(surges):
            end = 500 if number < 500 else 800 if number < 800 else 2_000
            u, v = at_risk(SHARE, ALPHA, end)
            if ours:
                stake *= 1 + u * (1 - p) / p if on_target else 1 - u
            else:
                stake *= 1 - v if on_target else 1 + v * p / (1 - p)
        assert stake == pytest.approx(20, rel=1e-6)
    assert low < 760 / 810 < high


@pytest.mark.parametrize(
    ("passes", "surges", "shown"),
    [(84, 84, True), (83, 83, False), (283, 300, True), (282, 300, False), (741, 800, True),
     (740, 800, False)],
)  # fmt: skip
def test_so_many_surges_show_nine_in_ten(passes: int, surges: int, shown: bool) -> None:
    """3 / ln(1 + u / 9) = 83.6 clean surges; at 300, 94.3 % of them and at 800, 92.6 %."""
    assert (limits(by_block(kept(passes, surges)), SHARE, ALPHA)[0] >= SHARE) == shown


@pytest.mark.parametrize("first", [1, 100])
@pytest.mark.parametrize(("passes", "surges"), [(600, 600), (580, 600), (400, 600), (540, 600)])
def test_a_stock_is_decided_where_a_limit_first_reaches_the_share(
    passes: int, surges: int, first: int
) -> None:
    on_target = kept(passes, surges)
    place, above, below = surges, False, False
    for number in range(first, surges + 1):
        low, high = limits(by_block(on_target[:number]), SHARE, ALPHA)
        if low >= SHARE or high <= SHARE:
            place, above, below = number, low >= SHARE, high <= SHARE
            break
    assert decided_at(on_target, SHARE, ALPHA, first) == (place, above, below)


def test_nothing_played_or_all_alike_leaves_the_limit_open() -> None:
    assert limits(by_block(kept(0, 5)), SHARE, ALPHA)[0] == 0.0
    assert limits(by_block(kept(5, 5)), SHARE, ALPHA)[1] == 1.0
    assert limits(by_block(np.zeros(0, dtype=bool)), SHARE, ALPHA) == (0.0, 1.0)


def ever(true: float, most: int, above: bool) -> float:
    """Chance, worked out exactly, that the stake against a true share ever reaches 20."""
    chance = {0: 1.0}
    reached = 0.0
    u, v = at_risk(SHARE, ALPHA, most)
    for number in range(1, most + 1):
        rolled: dict[int, float] = {}
        for passes, weight in chance.items():
            for more, part in ((1, true), (0, 1 - true)):
                count = passes + more
                won = math.log1p(u * (1 - true) / true) if above else math.log1p(-v)
                lost = math.log1p(-u) if above else math.log1p(v * true / (1 - true))
                if count * won + (number - count) * lost >= math.log(20):
                    reached += weight * part
                else:
                    rolled[count] = rolled.get(count, 0.0) + weight * part
        chance = rolled
    return reached


@pytest.mark.parametrize("above", [True, False])
def test_the_stake_ever_reaches_20_in_at_most_5_of_100_cases_however_often_one_looks(
    above: bool,
) -> None:
    """Exact chances over 300 surges, looked at after each; they use most of the 5 %."""
    assert 0.02 < ever(0.9, 300, above) <= 0.05
    assert ever(0.8, 300, above) <= 0.05


def test_more_surges_go_on_with_the_same_bet() -> None:
    """What 500 surges came to does not depend on how many may follow."""
    surges = kept(760, 810)
    assert by_block(surges)[0] == by_block(surges[:500])[0]
    assert block_ends(810)[0] == block_ends(500)[0]
