"""The method on cases whose truth is known: choosing, the chain, its test, the least cost."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from surge_sim.equipment.stock import Stock, money, within
from surge_sim.errors import OutOfReach
from surge_sim.sizing.choosing import SampleA
from surge_sim.sizing.least import least_cost
from surge_sim.sizing.ledger import CONFIRMED, NOT_MET, UNDECIDED, Ledger, looks
from surge_sim.sizing.player import Work
from surge_sim.sizing.search import best_for, buying, search_region
from surge_sim.sizing.size import Sizing, find_stock
from tests.sizing.known import Known, slippery, smooth
from tests.sizing.stand_in import LIMITS, PRICES, StandIn, stand_in_case
from tests.studies.selection import SHARE, known_case, optimum

#: wrong stocks in 40 sizings of each of two cases, at most: P(Binomial(40, 0.05) > 9) is 1.6e-5,
#: and as many bounds of the least cost
FALSE_ALARM = 4 * 1.6e-5


@pytest.mark.parametrize("chance", [smooth, pytest.param(slippery, marks=pytest.mark.slow)])
def test_stock_and_least_cost_are_wrong_in_few_sizings(chance) -> None:  # type: ignore[no-untyped-def]
    """`python -m tests.studies.selection` does it at full length."""
    wrong = missed = 0
    best = optimum(known_case(0, chance, 100, 300), chance)
    for seed in range(40):
        case = known_case(seed, chance, 60, 150)
        found = find_stock(case, Work())
        wrong += chance(found.recommended) < SHARE
        bounds = least_cost(found.sample, found.ledger, case.region, found.recommended)
        missed += bounds.low > best + 1e-9
    assert wrong <= 9 and missed <= 9


def test_every_confirmed_stock_is_dearer_than_the_next_and_tested_before_it() -> None:
    found = find_stock(stand_in_case(3, choose=60, surges=150), Work())
    prices = [money(Stock(0, 0, 12), one, PRICES) for one in found.chain]
    assert prices == sorted(prices, reverse=True) and len(set(prices)) == len(prices)
    verdicts = [found.ledger.entry(one).verdict for one in found.chain]
    place = found.chain.index(found.recommended)
    assert set(verdicts[: place + 1]) == {CONFIRMED} and CONFIRMED not in verdicts[place + 1 :]


def test_the_order_of_buying_begins_with_what_is_owned_and_ends_with_the_answer() -> None:
    case = stand_in_case(3, owned=Stock(7, 16, 12), choose=60, surges=150)
    found = find_stock(case, Work())
    way = found.way
    assert way[0] == case.region.owned and found.recommended in way
    assert all(within(less, more) for less, more in pairwise(way))


def test_a_stock_in_hand_that_is_enough_asks_for_nothing() -> None:
    case = stand_in_case(3, owned=Stock(30, 60, 20), choose=60, surges=150)
    assert find_stock(case, Work()).recommended == case.region.owned


def test_each_lot_gains_most_for_its_price_on_the_surges_that_rank() -> None:
    """From 11 kits and 20 batteries a battery does more for its fifth of a kit's price."""
    case = stand_in_case(3, owned=Stock(11, 20, 12))
    sample = SampleA(case.player, 50, Work())
    step = buying(sample, case.region, Stock(12, 24, 12))[1]
    rows = {
        stock: sample.missed([stock], 50, amount=True)[0].sum()
        for stock in (case.region.owned, Stock(12, 20, 12), Stock(11, 21, 12))
    }
    base = rows[case.region.owned]
    assert base - rows[Stock(12, 20, 12)] < 5 * (base - rows[Stock(11, 21, 12)])
    assert step == Stock(11, 21, 12)


def test_a_larger_number_of_surges_goes_on_from_where_a_smaller_one_stood() -> None:
    """The same candidates, the same surges: what was confirmed stays so, and more may be."""
    short = find_stock(known_case(5, smooth, 60, 150), Work())
    longer = find_stock(known_case(5, smooth, 60, 900), Work())
    assert short.digest == longer.digest
    for stock in short.chain[: short.chain.index(short.recommended) + 1]:
        assert short.ledger.entry(stock) == longer.ledger.entry(stock)
    assert longer.chain.index(longer.recommended) >= short.chain.index(short.recommended)


def test_a_stock_is_counted_up_to_the_surge_that_decides_it() -> None:
    player = Known(1, lambda stock: 0.99)
    ledger = Ledger(player, 0.9, 0.05, 400, Work())
    ledger.play([Stock(1, 1, 1)], 400, "candidate")
    assert ledger.entry(Stock(1, 1, 1)).surges == 100
    assert looks(60) == [60] and looks(150)[-1] == 150


def test_what_follows_from_richer_and_poorer_stocks_is_not_played() -> None:
    sample = SampleA(StandIn(1), 40, Work())
    poor, middle, rich = Stock(10, 24, 12), Stock(11, 27, 12), Stock(12, 30, 12)
    before = {stock: sample.passes(stock) for stock in (poor, rich)}
    plays = sample.plays
    passes = sample.passes(middle)
    assert sample.plays - plays == before[rich] - before[poor] < 40
    alone = SampleA(StandIn(1), 40, Work())
    assert alone.passes(middle) == passes and alone.plays == 40


def test_the_walk_stops_at_the_first_stock_that_is_not_confirmed() -> None:
    player = Known(2, lambda stock: {9: 0.999, 8: 0.5, 7: 0.999}[stock.kits])
    ledger = Ledger(player, 0.9, 0.05, 200, Work())
    chain = [Stock(kits, 9, 9) for kits in (9, 8, 7)]
    ledger.walk(chain)
    assert ledger.recommended == chain[0]
    assert [ledger.entry(one).verdict for one in chain] == [CONFIRMED, NOT_MET, UNDECIDED]
    # it would be confirmed if it had been tested alone
    assert ledger.entry(chain[2]).above


def test_a_period_played_once_is_confirmed_by_its_play_candidate_or_not() -> None:
    """One play says all: no chance of error, and none that must be shared by an order of tests."""
    player = Known(2, lambda stock: float(stock.kits > 8))
    ledger = Ledger(player, 0.9, 0.05, 1, Work(), alike=True)
    stocks = [Stock(kits, 9, 9) for kits in (9, 8)]
    ledger.play_whole(stocks, "stage")
    assert [ledger.entry(one).verdict for one in stocks] == [CONFIRMED, NOT_MET]


def test_surges_that_choose_and_surges_that_test_are_not_the_same() -> None:
    surges = [StandIn(1).surge(sample, 0) for sample in (1, 2)]
    assert not np.array_equal(surges[0].due, surges[1].due)


def test_all_stocks_below_the_least_cost_are_within_one_that_is_ruled_out() -> None:
    case = stand_in_case(4, owned=Stock(8, 20, 12), choose=100, surges=300)
    found = find_stock(case, Work())
    bounds = least_cost(found.sample, found.ledger, case.region, found.recommended)
    assert 0 < bounds.low <= bounds.high == case.region.money(found.recommended)
    for one in bounds.ruled_out:
        assert found.ledger.entry(one).verdict == NOT_MET
    cheaper = (Stock(k, b, 12) for k in range(8, 20) for b in range(20, 45))
    for stock in cheaper:
        if case.region.money(stock) < bounds.low - 1e-9:
            assert any(within(stock, one) for one in bounds.ruled_out), stock


def test_the_best_use_of_money_is_that_of_trying_all() -> None:
    case = stand_in_case(4, owned=Stock(9, 22, 12))
    sample, amount = SampleA(case.player, 60, Work()), 2.0
    found = best_for(sample, case.region, amount)
    assert case.region.money(found) <= amount
    tried = [
        Stock(9 + kits, 22 + batteries, 12)
        for kits in range(3)
        for batteries in range(11)
        if kits + 0.2 * batteries <= amount + 1e-9
    ]
    missed = {one: sample.missed([one], 60, amount=True)[0].sum() for one in tried}
    assert missed[found] == pytest.approx(min(missed.values()), rel=0.1)


def test_limits_that_leave_one_stock() -> None:
    limits = LIMITS.model_copy(update={"kits": 14, "batteries": 40})
    owned = Stock(14, 40, 12)
    case = Sizing(StandIn(1), search_region(owned, ("kits", "batteries"), PRICES, limits), limits,
                choose=40, surges=100)  # fmt: skip
    assert find_stock(case, Work()).recommended == owned


def test_a_target_out_of_reach_is_recognised() -> None:
    limits = LIMITS.model_copy(update={"kits": 6})
    space = search_region(Stock(0, 0, 12), ("kits", "batteries"), PRICES, limits)
    case = Sizing(StandIn(1), space, limits, choose=40, surges=100, spend=5.0)
    with pytest.raises(OutOfReach, match=r"(?s)no stock within the limits.*widen.*best use of 5"):
        find_stock(case, Work())


def test_nothing_confirmed_is_said_not_guessed() -> None:
    chance = lambda stock: 0.91 if stock.kits >= 5 else 0.1  # noqa: E731
    case = known_case(1, chance, 40, 100)
    with pytest.raises(OutOfReach, match=r"No stock could be confirmed\.\nThe richest candidate"):
        find_stock(case, Work())
