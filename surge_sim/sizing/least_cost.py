"""An interval for the least cost: below it every stock was shown to fail.

Stocks are taken cheapest first, line by line; each line climbs from a rung that clearly fails,
and the search ends at the first stock that cannot be shown to fail. Climbing costs no extra
chance of error, because more of one item does not lower the share of surges on target; the
lines share the chance between them. What the box leaves out is ruled out by one test per item:
too few of it, with plenty of everything else.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from surge_sim.sizing.items import ITEMS, stock_cost, within
from surge_sim.statistics.binomial import upper_limit

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.choose import Choice
    from surge_sim.sizing.ledger import Ledger

#: looks at one stock: (share of the certifying surges, share of the chance of error)
_LOOKS = ((0.125, 0.25), (0.375, 0.25), (1.0, 0.5))
#: a rung clearly fails when it served at most this share of sample A, times the target's
_CLEARLY = 0.72
#: how far below the share, in parts of what may be missed, a stock is given up as open
_HOPELESS = 0.25
#: stocks that are likely the richest of those that fail, tested before the lines
_LIKELY = 4
#: stocks played ahead of their turn at each look: one drawing of demand serves them all
_TOGETHER = (8, 3, 1)


@dataclass(frozen=True)
class LeastCost:
    """Bounds of the least cost of a stock that passes."""

    low: float
    #: price of the certified stock
    high: float
    #: stocks shown to fail
    failed: tuple[Stock, ...]
    #: cheapest stock that was not shown to fail; None: every cheaper one was
    cheapest_open: Stock | None
    #: tests that share the chance of error
    tests: int


def least_cost(
    ledger: Ledger, choice: Choice, certified: Stock, surges: int, share: float, alpha: float
) -> LeastCost:
    """Bound the least cost from below with sample B.

    Parameters
    ----------
    ledger : Ledger
        Sample B.
    choice : Choice
        Sample A: says which lines can matter and where to begin on each.
    certified : Stock
        The recommended stock; its price is the upper end.
    surges : int
        Surges of sample B.
    share : float
        Share of surges that a stock must keep.
    alpha : float
        Chance, at most, that the least cost lies below the bound.

    Returns
    -------
    LeastCost
        Needs that more of an item does not lower the share of surges on target.
    """
    high = stock_cost(certified, choice.prices)
    edges = _edges(choice)
    lines = _lines(choice, high)
    likely = likely_failing(choice, certified)
    count = max(len(edges) + len(lines) + len(likely), 1)
    tests = _Tests(ledger, surges, share, alpha / count)
    more_than = {name: _highest_failing(stocks, tests) for name, stocks in edges.items()}
    lines = [line for line in lines if not tests.known(line[-1].tested)]
    outside = _cost_outside(choice, more_than)
    many = _TOGETHER[0]
    for stock in likely:
        tests.fails(stock, likely)

    queue = [(line[0].cost, place, 0) for place, line in enumerate(lines)]
    heapq.heapify(queue)
    low, cheapest_open = min(high, outside), None
    while queue and queue[0][0] < low:
        ahead = [lines[place][rung].tested for _, place, rung in heapq.nsmallest(many, queue)]
        _, place, rung = heapq.heappop(queue)
        here = lines[place][rung]
        if tests.fails(here.tested, ahead):
            if rung + 1 < len(lines[place]):
                heapq.heappush(queue, (lines[place][rung + 1].cost, place, rung + 1))
            continue
        cheapest_open = here.stock
        if rung == 0:
            # it was to fail, and cheaper stocks of its line were never tested
            cheapest_open = _descend(choice, here, tests)
        low = min(low, stock_cost(cheapest_open, choice.prices))
    return LeastCost(low, high, tuple(tests.failed), cheapest_open, count)


def likely_failing(choice: Choice, certified: Stock) -> list[Stock]:
    """Return the richest stocks, cheaper than the certified one, that fail by sample A.

    One of them that is shown to fail takes every poorer stock with it.
    """
    high = stock_cost(certified, choice.prices) - 1e-9
    most = (choice.share - _HOPELESS * (1.0 - choice.share)) * choice.surges
    passing, costs = choice.passing(), choice.space.costs(choice.prices)
    found = []
    for number, line in enumerate(choice.space.lines):
        rungs = np.flatnonzero((passing[number] <= most) & (costs[number] < high))
        if choice.space.is_open(number) and rungs.size:
            found.append(choice.space.stock(line, int(rungs[-1])))
    richest = [
        stock
        for stock in found
        if not any(within(stock, other) for other in found if other != stock)
    ]
    richest.sort(key=lambda stock: -(choice.share_of(stock) or 0.0))
    return richest[:_LIKELY]


class _Rung(NamedTuple):
    """One stock of a line, its price, and the stock that is tested for it.

    On the last line of an item the tested stock has plenty of that item: when it fails, so do
    all stocks with more of the item than the box holds.
    """

    stock: Stock
    cost: float
    tested: Stock


class _Tests:
    """Stocks shown to fail; a stock with no more of anything fails with them."""

    def __init__(self, ledger: Ledger, surges: int, share: float, alpha: float) -> None:
        self.ledger, self.surges, self.share, self.alpha = ledger, surges, share, alpha
        self.failed: list[Stock] = []

    def known(self, stock: Stock) -> bool:
        return any(within(stock, other) for other in self.failed)

    def fails(self, stock: Stock, ahead: list[Stock] | None = None) -> bool:
        """Test one stock; ``ahead`` are stocks that will be asked about soon."""
        if self.known(stock):
            return True
        for (part, chance), many in zip(_LOOKS, _TOGETHER, strict=True):
            look = max(int(part * self.surges), 1)
            soon = [other for other in ahead or () if not self.known(other)]
            self.ledger.extend([stock, *soon[: many - 1]], look, "least cost")
            passes = self.ledger.passes(stock, look)
            if upper_limit(passes, look, chance * self.alpha) < self.share:
                self.failed.append(stock)
                return True
            if passes >= (self.share - _HOPELESS * (1.0 - self.share)) * look:
                # only a rare turn of luck would yet show it to fail; leaving it open is safe
                return False
        return False


def _edges(choice: Choice) -> dict[str, list[Stock]]:
    """Return, for each item that varies, stocks with few of it and plenty of the rest.

    From none at all up to the number that clearly fails by sample A.
    """
    space, rungs = choice.space, len(choice.space.ladder)
    most = _CLEARLY * choice.share * choice.surges
    numbers = np.arange(len(space.lines)).reshape(space.shape)
    served = {
        space.ladder.item: [int((choice.least[:, -1] <= rung).sum()) for rung in range(rungs)]
    }
    for which, axis in enumerate(space.axes):
        along: list[int | slice] = [length - 1 for length in space.shape]
        along[which] = slice(None)
        lines = np.atleast_1d(numbers[tuple(along)])
        served[axis.item] = [int((choice.least[:, line] < rungs).sum()) for line in lines]
    edges = {}
    for axis in (space.ladder, *space.axes):
        poor = [place for place, count in enumerate(served[axis.item]) if count <= most]
        top = axis.value(poor[-1]) if poor else axis.low - axis.step
        item = ITEMS[axis.item]
        stocks = [item.put(choice.ample, number) for number in range(0, top + 1, axis.step)]
        if stocks:
            edges[axis.item] = stocks
    return edges


def _highest_failing(stocks: list[Stock], tests: _Tests) -> int:
    """Return how many of the stocks, poorest first, are shown to fail."""
    for place in range(len(stocks), 0, -1):
        if tests.fails(stocks[place - 1]):
            return place
    return 0


def _lines(choice: Choice, high: float) -> list[list[_Rung]]:
    """Return the rungs to climb of every line with stocks that are cheap enough to matter."""
    space = choice.space
    costs = space.costs(choice.prices)
    passing = choice.passing()
    most = _CLEARLY * choice.share * choice.surges
    lines = []
    for number, line in enumerate(space.lines):
        cheaper = np.flatnonzero(costs[number] < high - 1e-9)
        if not cheaper.size:
            continue
        top = int(cheaper[-1])
        start = top
        if space.is_open(number):
            poor = np.flatnonzero(passing[number, : top + 1] <= most)
            start = int(poor[-1]) if poor.size else 0
        lines.append(
            [
                _Rung(
                    space.stock(line, rung),
                    float(costs[number, rung]),
                    _tested(choice, line, rung),
                )
                for rung in range(start, top + 1)
            ]
        )
    return lines


def _tested(choice: Choice, line: tuple[int, ...], rung: int) -> Stock:
    stock = choice.space.stock(line, rung)
    for axis, place in zip(choice.space.axes, line, strict=True):
        if place == len(axis) - 1:
            item = ITEMS[axis.item]
            stock = item.put(stock, item.of(choice.ample))
    return stock


def _descend(choice: Choice, rung: _Rung, tests: _Tests) -> Stock:
    """Return the least stock down the line that is not shown to fail."""
    ladder = choice.space.ladder
    item = ITEMS[ladder.item]
    stock, tested = rung.stock, rung.tested
    while item.of(stock) > ladder.low:
        number = item.of(stock) - ladder.step
        tested = item.put(tested, number)
        if tests.fails(tested):
            break
        stock = item.put(stock, number)
    return stock


def _cost_outside(choice: Choice, more_than: dict[str, int]) -> float:
    """Return a price below which no stock lies that neither the edges nor the lines rule out."""
    ladder, bottom = choice.space.ladder, choice.ample
    for axis in (ladder, *choice.space.axes):
        # `place` stocks fail, so the least that may pass has so many lots
        bottom = ITEMS[axis.item].put(bottom, more_than.get(axis.item, 0) * axis.step)
    prices = [float("inf")]
    if ladder.high + ladder.step <= ITEMS[ladder.item].of(choice.ample):
        longer = ITEMS[ladder.item].put(bottom, ladder.high + ladder.step)
        prices.append(stock_cost(longer, choice.prices))
    # lots below the first line of an item, if too few of them were shown to fail
    if any(more_than.get(axis.item, 0) * axis.step < axis.low for axis in choice.space.axes):
        prices.append(stock_cost(bottom, choice.prices))
    return min(prices)
