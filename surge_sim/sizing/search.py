"""Where to look: a cheap stock that serves a share of sample A, and the order of buying it.

Greedy steps and a local search on the same surges. The answer is a chain of stocks, each with
more than the one before, from what is owned to one that is rich and dear. It is fixed before any
fresh surge is seen.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations, permutations
from typing import TYPE_CHECKING

import numpy as np

from surge_sim.equipment.stock import ITEMS, PARTS, Item, money, within
from surge_sim.randomness import Sample

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.schema import Prices, SearchLimits
    from surge_sim.sizing.choosing import SampleA
    from surge_sim.sizing.player import Player

#: surges that rank what to buy next
_RANKED = 50
#: part of the way from the share to all surges that the stock of the search serves: some of it is
#: luck, and fresh surges must show the share itself
_AIM = 0.4
#: and from which on candidates go down lot by lot
_SAFE = 0.75
#: an item that costs nothing counts as so much of the dearest lot
_FREE = 1e-6
#: the first, dear candidate has so much more of everything than all of sample A asks for, and so
#: many others lie between it and those that go down lot by lot
_OVER, _BETWEEN = 0.1, 4
#: of candidates with equal passes in sample A, the cheapest so many are all tested
_ALIKE = 12
#: the last candidate serves less than the share by this part of what may be missed
_BELOW = 0.25


@dataclass(frozen=True)
class Axis:
    """One item that may be bought: from how many, up to how many, in which lots."""

    item: Item
    low: int
    high: int
    lot: int
    price: float

    def more(self, stock: Stock, lots: int = 1) -> Stock:
        """Return the stock with so many lots more (fewer), within the limits."""
        number = self.item.of(stock) + lots * self.lot
        top = self.low + (self.high - self.low) // self.lot * self.lot
        return self.item.put(stock, min(max(number, self.low), top))

    def lots(self, less: Stock, more: Stock) -> int:
        """Return how many lots one stock has beyond another."""
        return (self.item.of(more) - self.item.of(less)) // self.lot


@dataclass(frozen=True)
class SearchRegion:
    """What may be bought, beyond what is owned."""

    owned: Stock
    axes: tuple[Axis, ...]
    prices: Prices

    @property
    def ample(self) -> Stock:
        """The stock with everything at its limit."""
        stock = self.owned
        for axis in self.axes:
            stock = axis.more(stock, axis.high)
        return stock

    def money(self, stock: Stock) -> float:
        """Return the price of what a stock has beyond what is owned."""
        return money(self.owned, stock, self.prices)

    def order(self, stock: Stock) -> tuple[float, int, Stock]:
        """Return what decides between stocks: the price, then fewer things, then their counts."""
        return self.money(stock), sum(item.of(stock) for item in ITEMS.values()), stock


def search_region(
    owned: Stock, names: Sequence[str], prices: Prices, limits: SearchLimits
) -> SearchRegion:
    """Return what may be bought of some items; what is owned is the least of each."""
    found = []
    dearest = max([ITEMS[name].lot_price(prices) for name in names])
    for name in names:
        item = ITEMS[name]
        low, lot = item.of(owned), item.lot(prices)
        price = item.lot_price(prices) or _FREE * (dearest or 1.0)
        found.append(Axis(item, low, max(low, item.limit(limits)), lot, price))
    return SearchRegion(owned, tuple(found), prices)


def find_rich(sample: SampleA, region: SearchRegion, guess: dict[str, int]) -> Stock:
    """Return a stock that serves all surges: half as much more until it does."""
    stock = region.owned
    for axis in region.axes:
        gap = guess.get(axis.item.name, 0) - axis.low
        stock = axis.more(stock, max(math.ceil(gap / axis.lot), 1))
    while stock != region.ample:
        if sample.passes(stock) == sample.surges:
            break
        for axis in region.axes:
            stock = axis.more(stock, max(math.ceil(axis.item.of(stock) / (2 * axis.lot)), 2))
    return stock


@dataclass(frozen=True)
class MinimumPassingTask:
    """Find how many lots of each item one surge needs with plenty of the others; picklable."""

    player: Player
    region: SearchRegion
    rich: Stock

    def __call__(self, number: int) -> tuple[int, ...]:
        """Return lots by axis, beyond what is owned."""
        surge = self.player.surge(Sample.CHOOSE, number)
        found = []
        for axis in self.region.axes:
            low, high = 0, axis.lots(self.region.owned, self.rich)
            bare = axis.item.put(self.rich, axis.low)
            # what is owned is enough of most items, which one play tells
            middle = 0
            while low < high:
                if surge.kept(axis.more(bare, middle)):
                    high = middle
                else:
                    low = middle + 1
                middle = (low + high) // 2
            found.append(low)
        return tuple(found)


def lots_between(region: SearchRegion, less: Stock, more: Stock) -> list[Stock]:
    """Return the stocks from one to another, one lot at a time, all items at an even pace."""
    lots = {axis: axis.lots(less, more) for axis in region.axes}
    steps = sorted(
        ((lot + 0.5) / count, place, axis)
        for place, (axis, count) in enumerate(lots.items())
        for lot in range(count)
    )
    found, stock = [], less
    for _, _, axis in steps:
        stock = axis.more(stock)
        found.append(stock)
    return found


def rising(region: SearchRegion, stock: Stock) -> tuple[list[Stock], int]:
    """Return stocks from what is owned through one to plenty, and its place among them.

    Each has a lot more than the one before, up to twice what is added for the one.
    """
    twice = stock
    for axis in region.axes:
        twice = axis.more(twice, axis.lots(region.owned, stock))
    less = [region.owned, *lots_between(region, region.owned, stock)]
    return [*less, *lots_between(region, stock, twice), region.ample], len(less) - 1


def aim_of(sample: SampleA, region: SearchRegion, share: float) -> float:
    """Return the share of sample A to look for: above the share, as far as there is a stock."""
    return min(share + _AIM * (1.0 - share), max(sample.share(region.ample), share))


def from_minimum_passing(sample: SampleA, region: SearchRegion, rich: Stock, share: float) -> Stock:
    """Return a stock with so much of each item as a share of the surges need by itself."""
    task = MinimumPassingTask(sample.player, region, rich)
    needs = np.array(sample.work(task, range(sample.surges), "what surges need"))
    stock = region.owned
    for axis, lots in zip(region.axes, np.sort(needs, axis=0).T, strict=True):
        stock = axis.more(stock, int(lots[min(math.ceil(share * len(lots)), len(lots)) - 1]))
    return stock


def find_cheap(sample: SampleA, region: SearchRegion, stock: Stock, share: float) -> Stock:
    """Return a cheap stock that serves a share of sample A: an estimate that flatters.

    From a stock on, what gains most for its price is added until it serves the share.
    """
    while stock != region.ample and not sample.serving([stock], share):
        stock = next_step(sample, region, stock, region.ample)
    return _improved(sample, region, stock, share)


def next_step(
    sample: SampleA,
    region: SearchRegion,
    stock: Stock,
    most: Stock,
    lots: Callable[[Axis], int] = lambda axis: 1,
    ranked: int | None = None,
) -> Stock:
    """Return the stock with the lot that gains most for its price, or the two that only help
    together.

    Parameters
    ----------
    stock, most : Stock
        Where to begin, and what not to go beyond.
    lots : callable
        Lots of an item that are bought at once.
    ranked : int, optional
        Surges that rank; all of the sample by default.
    """  # noqa: D205
    surges = min(ranked or sample.surges, sample.surges)
    axes = [axis for axis in region.axes if axis.lots(stock, most) > 0]
    steps = [axis.more(stock, min(lots(axis), axis.lots(stock, most))) for axis in axes]
    pairs = [
        other.more(step, 1)
        for (axis, step), (other, _) in combinations(zip(axes, steps, strict=True), 2)
        if axis is not other
    ]
    base = sample.missed([stock], surges, amount=True)[0]

    def gains(tried: Sequence[Stock]) -> list[float]:
        found = sample.missed(tried, surges, amount=True)
        return [
            float((base - row).sum()) / max(_price(region, stock, step), 1e-12)
            for step, row in zip(tried, found, strict=True)
        ]

    for tried in (steps, pairs):
        values = gains(tried)
        if values and max(values) > 0:
            return min(zip(tried, values, strict=True), key=lambda one: (-one[1], one[0]))[0]
    # nothing helps that can be seen: a lot of each
    for axis in axes:
        stock = axis.more(stock, min(lots(axis), axis.lots(stock, most)))
    return stock


def _price(region: SearchRegion, less: Stock, more: Stock) -> float:
    return sum(axis.price * axis.lots(less, more) for axis in region.axes)


def _improved(sample: SampleA, region: SearchRegion, stock: Stock, share: float) -> Stock:
    """Leave lots out, and give dear ones for cheap ones, as long as the share is served."""
    while True:
        less = [axis.more(stock, -1) for axis in region.axes if axis.lots(region.owned, stock) > 0]
        better = sample.serving(less, share)
        if not better:
            swaps = [
                swap for swap in _swaps(region, stock) if region.order(swap) < region.order(stock)
            ]
            better = sample.serving(swaps, share)
        if not better:
            return stock
        stock = min(better, key=region.order)


def _swaps(region: SearchRegion, stock: Stock) -> list[Stock]:
    """Return stocks with lots of one item for lots of another, a little cheaper than before.

    Parts are not swapped: what a hood does, no kit and no battery does.
    """
    found = []
    axes = [axis for axis in region.axes if axis.item.name not in PARTS]
    for more, less in permutations(axes, 2):
        ratio = more.price / less.price
        for lots, given in ((1, math.floor(ratio) + 1), (math.ceil(1 / ratio) - 1, 1)):
            swapped = more.more(stock, lots)
            if lots > 0 and given <= less.lots(region.owned, stock) and swapped != stock:
                found.append(less.more(swapped, -given))
    return found


def make_chain(
    sample: SampleA, region: SearchRegion, cheap: Stock, share: float
) -> tuple[Stock, ...]:
    """Return the candidates in the order of their tests: each costs less than the one before.

    The first is rich and dear, the next lie between it and a stock with little to spare. Then it
    goes down lot by lot, always to the stock next to the last one that sample A serves best, as
    far as one that serves less of it than the share.
    """
    safe, ample = cheap, region.ample
    # what is not searched may keep some surges from the target whatever is added
    most = sample.passes(ample)
    with_spare = min(share + _SAFE * (1.0 - share), most / sample.surges)
    while safe != ample and sample.share(safe) < with_spare:
        safe = next_step(sample, region, safe, ample)
    top = safe
    while top != ample and sample.passes(top) < most:
        top = next_step(sample, region, top, ample)
    for axis in region.axes:
        if axis.lots(region.owned, top) > 0:
            top = axis.more(top, max(math.ceil(_OVER * axis.item.of(top) / axis.lot), 1))
    chain = [top]
    # each half as far from the stock with little to spare as the one before
    for place in range(1, _BETWEEN + 1):
        stock = safe
        for axis in region.axes:
            stock = axis.more(stock, axis.lots(safe, top) // 2**place)
        chain.append(stock)
    chain = list(dict.fromkeys([*chain, safe]))
    while sample.share(chain[-1]) > share - _BELOW * (1.0 - share):
        stock = chain[-1]
        cheaper = [
            one for one in _next_to(region, stock) if region.money(one) < region.money(stock)
        ]
        if not cheaper:
            break
        best = sample.least_missed(cheaper)
        # a swap has to be better than what leaves something out
        best = [one for one in best if within(one, stock)] or best
        chain.append(max(best, key=region.order))
    # a cheaper one that sample A serves better takes the place of a dearer one; of many that it
    # serves alike the cheapest are tested, then each next one about twice as far away
    kept: list[Stock] = []
    alike = 0
    for stock in reversed(chain):
        passes, last = sample.passes(stock), sample.passes(kept[-1]) if kept else -1
        if passes < last:
            continue
        alike = alike + 1 if passes == last else 0
        if alike < _ALIKE or alike & (alike + 1) == 0 or stock == top:
            kept.append(stock)
    return tuple(reversed(kept))


def _next_to(region: SearchRegion, stock: Stock) -> list[Stock]:
    """Return stocks with a lot less, or with lots of one item for lots of another."""
    fewer = [axis.more(stock, -1) for axis in region.axes if axis.lots(region.owned, stock) > 0]
    return [*fewer, *_swaps(region, stock)]


def buying(sample: SampleA, region: SearchRegion, goal: Stock) -> list[Stock]:
    """Return the stocks from what is owned to a goal: each next lot gains most for its price.

    Far from the goal several lots are bought at once.
    """
    stocks = [region.owned]
    while stocks[-1] != goal:
        stock = stocks[-1]
        step = next_step(
            sample, region, stock, goal,
            lambda axis: max(axis.lots(stock, goal) // 4, 1),  # noqa: B023
            _RANKED,
        )  # fmt: skip
        stocks.append(step)
    return stocks


def best_for(sample: SampleA, region: SearchRegion, amount: float) -> Stock:
    """Return the stock that serves sample A best for so much money: steps, then swaps."""

    def better(stock: Stock, tried: Sequence[Stock]) -> list[tuple[float, Stock]]:
        """Return by how much those that can be paid miss the target less."""
        paid = [one for one in dict.fromkeys(tried) if region.money(one) <= amount + 1e-9]
        base, *rows = sample.missed([stock, *paid], sample.surges, amount=True)
        gains = [float(base.sum() - row.sum()) for row in rows]
        return [(gain, one) for gain, one in zip(gains, paid, strict=True) if gain > 1e-9]

    stock = region.owned
    while True:
        steps = [axis.more(stock) for axis in region.axes]
        pairs = [b.more(a.more(stock)) for a, b in combinations(region.axes, 2)]
        found = better(stock, steps) or better(stock, pairs)
        if found:
            stock = max(found, key=lambda one: one[0] / _price(region, stock, one[1]))[1]
            continue
        found = better(stock, _exchanges(region, stock))
        if not found:
            return stock
        stock = max(found, key=lambda one: one[0])[1]


def _exchanges(region: SearchRegion, stock: Stock) -> list[Stock]:
    """Return stocks with a lot of one item for so many of another as cost the same or less."""
    found = []
    for more, less in permutations(region.axes, 2):
        ratio = more.price / less.price
        for lots, given in ((1, math.ceil(ratio - 1e-9)), (math.floor(1 / ratio + 1e-9), 1)):
            if lots > 0 and given <= less.lots(region.owned, stock):
                found.append(more.more(less.more(stock, -given), lots))
    return found
