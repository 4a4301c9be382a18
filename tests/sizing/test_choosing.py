"""Sample A plays little, and knows what playing everything would say. Numbers are invented."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise, product

import numpy as np
import pytest

from surge_sim.equipment.stock import Stock, poorest, within
from surge_sim.scenario.schema import Target
from surge_sim.sizing.choosing import SampleA
from surge_sim.sizing.player import Work
from surge_sim.sizing.search import rising, search_region
from tests.sizing.known import Known, smooth
from tests.sizing.stand_in import LIMITS, PRICES, TARGET, StandIn, row_of_counts

SURGES = 60


def sample_a(seed: int = 2) -> SampleA:
    return SampleA(Known(seed, smooth), SURGES, Work())


def off_target(stocks: list[Stock], seed: int = 2) -> list[int]:
    """How many surges each stock misses, by playing all."""
    surges = [Known(seed, smooth).surge(1, number) for number in range(SURGES)]
    return [sum(not surge.kept(stock) for surge in surges) for stock in stocks]


def test_the_poorest_of_some_has_as_much_as_each_at_least() -> None:
    stocks = [Stock(3, 5, 1, extra_hoods=2), Stock(2, 9, 4, extra_hoods=1)]
    assert poorest(stocks) == Stock(2, 5, 1, extra_hoods=1)
    assert all(within(poorest(stocks), one) for one in stocks)


def test_what_the_poorest_of_some_keeps_is_played_for_none_of_the_others() -> None:
    """Seven stocks: one play a surge of which the poorest is kept, and fewer than 8 of another."""
    stocks = [Stock(kits, 30 - kits, 12) for kits in range(12, 19)]
    sample = sample_a()
    least = off_target([poorest(stocks)])[0]
    sample.missed(stocks, SURGES)
    assert 0 < least < SURGES
    assert SURGES - least < sample.plays <= SURGES - least + 8 * least


@pytest.mark.parametrize("first", [0, 3, 9])
def test_what_was_found_by_halving_needs_no_play_any_more(first: int) -> None:
    """Of 10 stocks four plays a surge at most, or five where the first one is not the middle."""
    stocks = [Stock(kits, 2 * kits, 12) for kits in range(8, 18)]
    sample = sample_a()
    sample.find_poorest(stocks, first)
    played = sample.plays
    assert played <= 5 * SURGES
    counts = [SURGES - sample.passes(one) for one in stocks]
    assert counts == off_target(stocks) and len(set(counts)) > 3
    assert sample.plays == played
    # what is richer than one that is kept, and poorer than one that is missed, is known too
    beside = Stock(stocks[-1].kits + 1, stocks[-1].batteries, 12)
    sample.passes(beside)
    assert sample.plays - played <= off_target([stocks[-1]])[0]


def test_surges_that_were_missed_most_often_come_first_and_change_no_answer() -> None:
    """Which stocks serve a share, and which are missed least, is what playing all says."""
    stocks = [Stock(kits, packs, 12) for kits, packs in product(range(8, 14), range(13, 22, 2))]
    counts = np.array(off_target(stocks))
    for share in (0.5, 0.75, 0.9):
        enough = [one for one, count in zip(stocks, counts, strict=True)
                  if count <= SURGES * (1 - share) + 1e-9]  # fmt: skip
        assert 0 < len(enough) < len(stocks)
        assert sample_a().serving(stocks, share) == enough
    # of all stocks two miss one surge more than the best, which is not enough
    assert (counts == counts.min() + 1).sum() == 2
    for some in (12, len(stocks)):
        near = stocks[:some]
        fewest = counts[:some].min()
        least = [one for one, count in zip(near, counts, strict=False) if count == fewest]
        sample = sample_a()
        sample.find_poorest(stocks[::7], 0)
        assert sample.least_missed(near) == least


def test_what_does_not_serve_is_soon_left_out_where_most_often_missed_surges_come_first() -> None:
    """144 plays; 199 if the surges came in the order of their numbers."""
    stocks = [Stock(kits, packs, 12) for kits, packs in product(range(8, 14), range(13, 22, 2))]
    sample = sample_a()
    sample.find_poorest(stocks[::7], 0)
    played = sample.plays
    sample.serving(stocks, 0.9)
    assert sample.plays - played <= 160


def test_stocks_rise_a_lot_at_a_time_from_what_is_owned_through_one_to_plenty() -> None:
    """From 2 kits and 3 batteries through 4 and 5 to 6 and 7, and then all that may be tried."""
    both = search_region(Stock(2, 3, 12), ("kits", "batteries"), PRICES, LIMITS)
    stocks, place = rising(both, Stock(4, 5, 12))
    assert stocks[0] == both.owned and stocks[place] == Stock(4, 5, 12) and place == 4
    assert stocks[-2:] == [Stock(6, 7, 12), both.ample]
    for less, more in pairwise(stocks[:-1]):
        assert within(less, more) and more.kits + more.batteries == less.kits + less.batteries + 1


def test_halving_and_leaving_out_give_the_same_as_playing_all_of_a_model() -> None:
    """Kits and batteries that queue, where more of them never hurts."""
    stocks = [Stock(kits, packs, 12) for kits, packs in product(range(6, 12), range(10, 20, 3))]
    surges = [StandIn(5).surge(1, number) for number in range(40)]
    counts = [sum(one.kept(stock) for one in surges) for stock in stocks]
    sample = SampleA(StandIn(5), 40, Work())
    both = search_region(Stock(2, 3, 12), ("kits", "batteries"), PRICES, LIMITS)
    sample.find_poorest(*rising(both, Stock(10, 18, 12)))
    assert [sample.passes(stock) for stock in stocks] == counts
    assert len(set(counts)) > 5


@dataclass(frozen=True)
class ListedSurge:
    """One surge that only some stocks keep, and what was played of it."""

    number: int
    missed_by: dict[Stock, set[int]]
    played: dict[Stock, list[int]]

    def kept(self, stock: Stock) -> bool:
        self.played.setdefault(stock, []).append(self.number)
        return stock in self.missed_by and self.number not in self.missed_by[stock]

    def missed(self, stock: Stock) -> float:
        return 0.0 if self.kept(stock) else 1.0

    def row(self, stock: Stock) -> np.ndarray:
        return row_of_counts(self.kept(stock), 100, 0)


@dataclass(frozen=True)
class Listed:
    """Which surges each stock misses; one that is not listed misses all."""

    missed_by: dict[Stock, set[int]]
    played: dict[Stock, list[int]] = field(default_factory=dict)
    target: Target = TARGET

    def surge(self, sample: int, number: int) -> ListedSurge:
        return ListedSurge(number, self.missed_by, self.played)


def test_of_those_missed_least_one_that_was_a_surge_behind_at_first_is_found() -> None:
    """Of 20 surges 3, 5, 10 and all are looked at. The best misses the first one and no other; the
    second misses two late ones. The last is two behind after the first three and is played no more.
    """
    best, late, last = Stock(3, 9, 9), Stock(4, 8, 9), Stock(5, 7, 9)
    player = Listed({best: {0}, late: {12, 13}, last: {0, 1}})
    sample = SampleA(player, 20, Work())
    assert sample.least_missed([late, best, last]) == [best]
    assert set(player.played[last]) == {0, 1, 2}
    assert set(player.played[best]) == set(range(20))


def test_of_those_missed_least_all_are_found_that_miss_as_few() -> None:
    """One surge behind the others over all of them is one too many."""
    one, other, behind = Stock(3, 9, 9), Stock(4, 8, 9), Stock(5, 7, 9)
    player = Listed({one: {0}, other: {15}, behind: {8, 9}})
    assert SampleA(player, 20, Work()).least_missed([behind, one, other]) == [one, other]


def test_what_cannot_serve_a_share_any_more_is_played_no_more() -> None:
    """Nine in ten of 20 surges: two may be missed, and after three the one has missed three."""
    poor, fair = Stock(3, 9, 9), Stock(4, 8, 9)
    player = Listed({poor: {0, 1, 2}, fair: {0, 19}})
    assert SampleA(player, 20, Work()).serving([poor, fair], 0.9) == [fair]
    assert set(player.played[poor]) == {0, 1, 2}


def test_a_surge_that_is_only_just_missed_is_missed() -> None:
    """By how much is known to be 1, no entry too many being late: as with too many alarms."""
    poor, fair, rich = Stock(3, 9, 9), Stock(4, 8, 9), Stock(3, 9, 12)
    player = Listed({poor: {5, 6, 7}, fair: {6}, rich: {6, 7}})
    sample = SampleA(player, 8, Work())
    assert [row.max() for row in sample.missed([fair, rich], 8, amount=True)] == [1, 1]
    # what a richer stock misses, a poorer one misses
    played = sample.plays
    assert sample.missed([poor], 8)[0].tolist() == [0, 0, 0, 0, 0, np.inf, np.inf, np.inf]
    assert sample.plays == played + 6
    assert sample.serving([fair, rich, poor], 7 / 8) == [fair]
    assert sample.least_missed([fair, rich, poor]) == [fair]
    # surges that were missed most often come first: one by three, one by two, one by one
    other = Stock(2, 12, 9)
    player.missed_by[other] = {5, 6, 7}
    sample.serving([other], 1.0)
    assert player.played[other] == [6]


def test_the_poorest_of_some_is_played_where_several_are_not_known() -> None:
    """It keeps two surges of four, and so do all. Where one alone is not known, that is played."""
    one, other = Stock(3, 9, 9), Stock(4, 8, 9)
    least = Stock(3, 8, 9)
    player = Listed({one: set(), other: set(), least: {0, 1}})
    sample = SampleA(player, 4, Work())
    sample.missed([one], 1)
    sample.missed([one, other], 4)
    assert player.played == {one: [0, 1], other: [0, 1], least: [1, 2, 3]}
