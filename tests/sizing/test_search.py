"""Where the search looks, held against trying all stocks of small cases. Numbers are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise, product

import numpy as np
import pytest

from surge_sim.equipment.stock import Stock, money, within
from surge_sim.scenario.schema import Prices, SearchLimits, Target
from surge_sim.sizing.choosing import SampleA
from surge_sim.sizing.least import _beyond
from surge_sim.sizing.ledger import Ledger
from surge_sim.sizing.player import Work
from surge_sim.sizing.search import (
    SearchRegion,
    aim_of,
    best_for,
    buying,
    find_cheap,
    find_rich,
    from_minimum_passing,
    make_chain,
    next_step,
    search_region,
)
from tests.sizing.known import Known, KnownSurge, smooth
from tests.sizing.stand_in import LIMITS, PRICES, TARGET, StandIn

OWNED = Stock(2, 3, 4)
CHARGERS = Prices(kit=7.0, battery=2.0, charger=3.0, bays_per_charger=4)
NARROW = SearchLimits(kits=40, batteries=50, bays=19)


@dataclass(frozen=True)
class Certain:
    """A player of whom a stock keeps the target in a known part of the surges: the first ones."""

    #: parts that a stock serves, 0 to 1, of so many surges; by how much it misses all others
    part: Callable[[Stock], float]
    surges: int
    target: Target = TARGET

    def surge(self, sample: int, number: int) -> KnownSurge:
        return KnownSurge(self.part, lambda stock: (number + 0.5) / self.surges)


def certain(part: Callable[[Stock], float], surges: int = 100) -> SampleA:
    return SampleA(Certain(part, surges), surges, Work())


def space(
    prices: Prices = CHARGERS, names: tuple[str, ...] = ("kits", "batteries", "bays")
) -> SearchRegion:
    return search_region(OWNED, names, prices, NARROW)


def test_what_may_be_bought_lies_between_what_is_owned_and_the_limits_in_whole_lots() -> None:
    """Bays come by four: from 4 up to 19 there are 3 chargers more, 16 bays."""
    kits, batteries, bays = space().axes
    assert [(one.low, one.high, one.lot) for one in space().axes] == [
        (2, 40, 1), (3, 50, 1), (4, 19, 4),
    ]  # fmt: skip
    assert space().ample == Stock(40, 50, 16)
    assert bays.more(OWNED, 2) == Stock(2, 3, 12)
    assert bays.more(OWNED, 99) == Stock(2, 3, 16) and bays.more(OWNED, -1) == OWNED
    assert kits.more(Stock(9, 3, 4), -3) == Stock(6, 3, 4)
    assert batteries.lots(Stock(1, 4, 4), Stock(1, 9, 4)) == 5
    assert bays.lots(OWNED, Stock(2, 3, 16)) == 3
    assert space().money(Stock(4, 3, 12)) == 2 * 7 + 2 * 3


def test_more_than_the_limit_that_is_owned_stays() -> None:
    (kits,) = search_region(Stock(60, 0, 0), ("kits",), CHARGERS, NARROW).axes
    assert (kits.low, kits.high) == (60, 60)


def test_what_costs_nothing_counts_as_a_millionth_of_the_dearest() -> None:
    free = Prices(kit=7.0, battery=0.0, charger=3.0)
    assert [one.price for one in space(free).axes] == [7.0, 7e-6, 3.0]


def test_a_rich_stock_has_half_as_much_again_until_it_serves() -> None:
    """Kits 8, then 8 + 4 and 12 + 6; bays 8, of which half is one charger, but two lots are least.

    Batteries are guessed below what is owned: one lot more than that, and then 2 at least.
    """
    sample = certain(lambda stock: 1.0 if stock.kits >= 13 else 0.5)
    found = find_rich(sample, space(), {"kits": 8, "batteries": 0, "bays": 8})
    assert found == Stock(18, 4 + 2 + 3, 16)
    everything = certain(lambda stock: 0.5)
    assert find_rich(everything, space(), {}) == space().ample


def test_how_much_a_share_of_surges_needs_of_each_by_itself() -> None:
    """Surge by surge the least number with plenty of the others, by trying all: 34 of 40 sorted."""
    sample = SampleA(StandIn(5), 40, Work())
    both = search_region(Stock(2, 3, 12), ("kits", "batteries"), PRICES, LIMITS)
    rich = Stock(30, 60, 12)
    surges = [StandIn(5).surge(1, number) for number in range(40)]
    assert all(one.kept(rich) for one in surges)
    kits = [next(n for n in range(2, 31) if one.kept(Stock(n, 60, 12))) for one in surges]
    packs = [next(n for n in range(3, 61) if one.kept(Stock(30, n, 12))) for one in surges]
    assert from_minimum_passing(sample, both, rich, 0.85) == Stock(
        sorted(kits)[33], sorted(packs)[33], 12
    )
    assert from_minimum_passing(sample, both, rich, 1.0) == Stock(max(kits), max(packs), 12)


@pytest.mark.parametrize(("plenty", "aim"), [(1.0, 0.94), (0.92, 0.92), (0.4, 0.9)])
def test_what_is_looked_for_in_sample_a_is_above_the_share_as_far_as_there_is_a_stock(
    plenty: float, aim: float
) -> None:
    """Four tenths of the way from 90 % to all surges; less where plenty serves less."""
    sample = certain(lambda stock: plenty)
    assert aim_of(sample, space(), 0.9) == pytest.approx(aim)


def shares(sample: SampleA, owned: Stock, most: Stock) -> dict[Stock, float]:
    """Share of sample A of each stock of kits and batteries, by playing all."""
    kits, batteries = range(owned.kits, most.kits + 1), range(owned.batteries, most.batteries + 1)
    stocks = [Stock(k, b, owned.bays) for k, b in product(kits, batteries)]
    alone = SampleA(sample.player, sample.surges, Work())
    return {one: alone.share(one) for one in stocks}


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_cheap_stock_is_as_cheap_as_any_of_all(seed: int) -> None:
    """Of all stocks that serve 90 % of 60 surges it is at most a kit's price dearer than the best.

    None with a lot less serves them, and none with a lot of one item for lots of the other that
    is cheaper.
    """
    sample = SampleA(Known(seed, smooth), 60, Work())
    both = search_region(Stock(0, 0, 12), ("kits", "batteries"), PRICES, LIMITS)
    found = find_cheap(sample, both, both.owned, 0.9)
    table = shares(sample, both.owned, Stock(25, 40, 12))
    enough = [one for one, share in table.items() if share >= 0.9]
    assert found in enough
    assert both.money(found) <= min(map(both.money, enough)) + PRICES.kit
    nearby = [
        Stock(found.kits + kits, found.batteries + packs, 12)
        for kits, packs in ((-1, 0), (0, -1), *((-1, n) for n in range(1, 5)), (1, -6))
    ]
    for one in nearby:
        assert both.money(one) < both.money(found)
        assert one not in enough


def test_the_next_lot_is_the_one_that_gains_most_for_its_price() -> None:
    """A kit (7) serves 30 more of 100 surges, a battery (2) 10, a charger (3) 8.

    Where the part c is served the others miss by 1 + 10 x (place - c), 100 (1 - c) + 500 (1 - c)^2
    in all: 400 at 0.2, and 175, 315, 331.2 with a lot more: 32.1, 42.5 and 22.9 for each unit of
    money.
    """

    def part(stock: Stock) -> float:
        gains = 30 * (stock.kits - 2) + 10 * (stock.batteries - 3) + 2 * (stock.bays - 4)
        return min(0.2 + gains / 100, 0.8)

    sample, ample = certain(part), space().ample
    assert next_step(sample, space(), OWNED, ample) == Stock(2, 4, 4)
    # not beyond what it may be
    assert next_step(sample, space(), OWNED, Stock(40, 3, 16)) == Stock(3, 3, 4)
    # several at once, as far as there are: 5 batteries for 10
    lots = next_step(certain(part), space(), OWNED, Stock(9, 5, 16), lambda axis: 5)
    assert lots == Stock(2, 5, 4)


def test_two_lots_that_only_help_together_are_bought_together() -> None:
    sample = certain(lambda stock: 0.9 if stock.kits > 2 and stock.batteries > 3 else 0.1)
    assert next_step(sample, space(), OWNED, space().ample) == Stock(3, 4, 4)


def test_where_nothing_helps_that_can_be_seen_there_is_a_lot_of_each() -> None:
    sample = certain(lambda stock: 0.1 if stock.kits < 9 else 1.0)
    assert next_step(sample, space(), OWNED, Stock(40, 50, 4)) == Stock(3, 4, 4)


def chain_of(seed: int = 4) -> tuple[SampleA, SearchRegion, tuple[Stock, ...], Stock]:
    sample = SampleA(Known(seed, smooth), 200, Work())
    both = search_region(Stock(0, 0, 12), ("kits", "batteries"), PRICES, LIMITS)
    cheap = find_cheap(sample, both, both.owned, aim_of(sample, both, 0.9))
    return sample, both, make_chain(sample, both, cheap, 0.9), cheap


def test_candidates_go_down_from_a_rich_one_to_one_that_sample_a_says_is_too_poor() -> None:
    """Each is cheaper and serves no more of sample A; the last serves 90 - 2.5 % or less of it."""
    sample, both, chain, _ = chain_of()
    prices = [both.money(one) for one in chain]
    assert all(more > less for more, less in pairwise(prices))
    served = [sample.share(one) for one in chain]
    assert all(more >= less for more, less in pairwise(served))
    assert served[-1] <= 0.875 < served[-2]


def test_candidates_by_hand() -> None:
    """Of 300 surges n kits serve n. 293 are the first with 97.5 %; 300 serve all, and 30 more.

    Between 293 and 330: half of the 37 (18), a quarter (9), an eighth (4), a sixteenth (2). Then
    one less each time, down to the first with no more than 87.5 %. No battery is bought.
    """
    limits = SearchLimits(kits=500, batteries=9, bays=9)
    kits = search_region(Stock(2, 9, 9), ("kits", "batteries"), CHARGERS, limits)
    sample = certain(lambda stock: min(stock.kits / 300, 1.0), 300)
    chain = make_chain(sample, kits, Stock(280, 9, 9), 0.9)
    assert [one.kits for one in chain] == [330, 311, 302, 297, 295, *range(293, 261, -1)]
    assert {one.batteries for one in chain} == {9}


def test_of_two_as_good_the_one_that_leaves_something_out_is_taken_before_an_exchange() -> None:
    """Batteries do nothing: 20 kits with 7 serve what 21 with 4 do, which cost more."""
    both = search_region(Stock(2, 3, 4), ("kits", "batteries"), CHARGERS, NARROW)
    sample = certain(lambda stock: min(stock.kits / 20, 1.0))
    chain = make_chain(sample, both, Stock(20, 8, 4), 0.9)
    place = chain.index(Stock(20, 8, 4))
    assert chain[place + 1 : place + 3] == (Stock(20, 7, 4), Stock(20, 6, 4))


def test_of_many_that_sample_a_serves_alike_few_are_tested() -> None:
    """15 kits serve 95 of 100 surges, 60 all, those between no more: 15 to 59 are alike."""
    kits = search_region(
        Stock(2, 9, 9), ("kits",), CHARGERS, SearchLimits(kits=80, batteries=9, bays=9)
    )
    sample = certain(lambda stock: 1.0 if stock.kits >= 60 else min(stock.kits / 15, 1.0) * 0.95)
    chain = make_chain(sample, kits, Stock(15, 9, 9), 0.9)
    far_apart = [46, 30, *range(26, 14, -1)]
    assert [one.kits for one in chain if 15 <= one.kits < 60] == far_apart
    assert [one.kits for one in chain if one.kits < 15] == [14, 13]


def test_the_first_candidate_stops_where_more_stock_serves_no_more_surges() -> None:
    """More than 20 kits serve nobody else: batteries, which are not searched, are too few."""
    kits = search_region(
        Stock(2, 9, 9), ("kits",), CHARGERS, SearchLimits(kits=400, batteries=9, bays=9)
    )
    sample = certain(lambda stock: min(stock.kits / 20, 1.0) * 0.96)
    assert make_chain(sample, kits, Stock(19, 9, 9), 0.9)[0].kits == 22


def test_a_cheap_stock_is_looked_for_from_where_one_begins() -> None:
    """Nothing beyond the first stock that serves is tried: 5 kits, and what lies a lot off."""
    tried: list[Stock] = []

    def part(stock: Stock) -> float:
        tried.append(stock)
        return min(stock.kits / 5, 1.0)

    assert find_cheap(certain(part), space(), OWNED, 0.9) == Stock(5, 3, 4)
    assert max(one.kits for one in tried) <= 6


def test_only_so_many_surges_rank() -> None:
    """A battery helps the first 15 of 100 surges, a kit 60: over 20 the one gains more, over all
    the other. By 1 + 10 x (place - part) for each that is missed: 426 / 7 and 100 / 2 of all,
    26.25 / 7 and 20 / 2 of the first 20.
    """

    def part(stock: Stock) -> float:
        return 0.6 if stock.kits > 2 else 0.15 if stock.batteries > 3 else 0.05

    most = Stock(40, 50, 4)
    assert next_step(certain(part), space(), OWNED, most) == Stock(3, 3, 4)
    assert next_step(certain(part), space(), OWNED, most, ranked=20) == Stock(2, 4, 4)


def test_of_few_the_first_candidate_has_one_lot_more() -> None:
    """So many kits serve so many fifths: 5 serve all, a tenth of them is less than a kit."""
    kits = search_region(Stock(1, 9, 9), ("kits",), CHARGERS, NARROW)
    sample = certain(lambda stock: min(stock.kits / 5, 1.0))
    assert [one.kits for one in make_chain(sample, kits, Stock(5, 9, 9), 0.9)] == [6, 5, 4]


def test_parts_are_not_given_for_other_things() -> None:
    """A hood costs 1, a battery 3: three hoods for a battery would be as cheap."""
    prices = Prices(kit=9.0, battery=3.0, charger=3.0, hood=1.0)
    owned = Stock(2, 3, 4, extra_hoods=0)
    with_hoods = search_region(owned, ("batteries", "hoods"), prices, NARROW)
    tried: list[Stock] = []

    def part(stock: Stock) -> float:
        tried.append(stock)
        return 1.0 if stock.batteries >= 9 and stock.extra_hoods >= 4 else 0.3

    found = find_cheap(certain(part, 20), with_hoods, Stock(2, 12, 4, extra_hoods=6), 0.9)
    assert found == Stock(2, 9, 4, extra_hoods=4)
    assert {one.batteries for one in tried} == set(range(8, 13))
    assert {one.extra_hoods for one in tried} == set(range(3, 7))


def test_candidates_with_little_to_spare_go_down_by_small_steps() -> None:
    """From 97.5 % of sample A on each next one has one lot less, or one for another."""
    sample, both, chain, _ = chain_of()
    low = [one for one in chain if sample.share(one) < 0.975]
    assert len(low) > 3
    for dear, cheap in pairwise(low):
        assert both.money(dear) - both.money(cheap) <= PRICES.kit + 1e-9
        assert abs(dear.kits - cheap.kits) <= 1


def test_a_large_part_of_the_way_to_a_goal_is_bought_at_once() -> None:
    """A quarter of the lots that lack of an item, one at least; each stock within the next."""
    sample, both, _, cheap = chain_of()
    way = buying(sample, both, cheap)
    assert way[0] == both.owned and way[-1] == cheap
    for less, more in pairwise(way):
        assert within(less, more)
        lacks = [cheap.kits - less.kits, cheap.batteries - less.batteries]
        steps = [more.kits - less.kits, more.batteries - less.batteries]
        for lack, step in zip(lacks, steps, strict=True):
            assert step <= max(lack // 4, 1) and step <= lack
    assert way[1].batteries - way[0].batteries > 1 or way[1].kits - way[0].kits > 1


@pytest.mark.parametrize("amount", [1.0, 3.0, 5.2, 8.0])
def test_the_best_use_of_money_on_a_smooth_case_is_that_of_trying_all(amount: float) -> None:
    """By how much 60 surges miss the target, at most a hundredth above the least of all."""
    sample = SampleA(Known(9, smooth), 60, Work())
    both = search_region(Stock(3, 6, 12), ("kits", "batteries"), PRICES, LIMITS)
    found = best_for(sample, both, amount)
    assert both.money(found) <= amount + 1e-9

    def missed(stock: Stock) -> float:
        return float(sample.missed([stock], 60, amount=True)[0].sum())

    tried = [Stock(3 + k, 6 + b, 12) for k, b in product(range(9), range(41))]
    least = min(missed(one) for one in tried if both.money(one) <= amount + 1e-9)
    assert missed(found) <= least * 1.01


def test_money_is_put_from_one_item_into_another_where_that_serves_more() -> None:
    """A kit for 5 serves what 5 batteries for 1 each do not, though these help at first."""
    prices = Prices(kit=5.0, battery=1.0, charger=1.0)

    def part(stock: Stock) -> float:
        return 0.9 if stock.kits else min(0.1 * stock.batteries, 0.5)

    both = search_region(Stock(0, 0, 4), ("kits", "batteries"), prices, LIMITS)
    sample = certain(lambda stock: part(stock) if stock.kits + stock.batteries else 0.0)
    found = best_for(sample, both, 5.0)
    assert found == Stock(1, 0, 4)


def test_money_is_put_from_a_dear_item_into_several_cheap_ones_where_that_serves_more() -> None:
    """One battery does nothing, five do more than a kit, which costs as much."""
    prices = Prices(kit=5.0, battery=1.0, charger=1.0)
    both = search_region(Stock(0, 0, 4), ("kits", "batteries"), prices, LIMITS)
    sample = certain(lambda s: 0.9 if s.batteries >= 5 else 0.6 if s.kits else 0.0)
    assert best_for(sample, both, 5.0) == Stock(0, 5, 4)


def test_prices_of_the_search_and_of_the_answer_are_the_same_where_nothing_is_free() -> None:
    for kits, batteries, chargers in product(range(3), repeat=3):
        stock = Stock(2 + kits, 3 + batteries, 4 + 4 * chargers)
        by_axes = sum(one.price * one.lots(OWNED, stock) for one in space().axes)
        assert np.isclose(money(OWNED, stock, CHARGERS), by_axes)


def test_beyond_a_stock_that_is_ruled_out_lies_the_first_whole_lot_that_it_does_not_have() -> None:
    """Bays come by four: past 8 there are 12, as there are past 9 or 11, and past 16 none."""
    bays = space().axes[2]
    assert [_beyond(bays, OWNED, Stock(5, 9, number)) for number in (4, 8, 9, 11)] == [
        Stock(2, 3, 8), *[Stock(2, 3, 12)] * 3,
    ]  # fmt: skip
    assert _beyond(bays, OWNED, Stock(5, 9, 16)) is None


def test_one_stock_is_not_compared_with_itself() -> None:
    """More stock made no surge worse, where there is no more stock."""
    player = Certain(lambda stock: 0.9, 50)
    ledger = Ledger(player, 0.9, 0.05, 50, Work())
    ledger.play([OWNED], 50, "once")
    assert ledger.monotonicity_violations() == (0, 0)
    ledger.play([Stock(3, 3, 4)], 40, "once")
    assert ledger.monotonicity_violations() == (0, 40)
