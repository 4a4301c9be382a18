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
from typing import TYPE_CHECKING

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
    lines = _lines(choice, high, [stocks[-1] for stocks in edges.values()])
    likely = likely_failing(choice, certified)
    count = max(len(edges) + len(lines) + len(likely), 1)
    tests = _Tests(ledger, surges, share, alpha / count)
    more_than = {name: _highest_failing(stocks, tests) for name, stocks in edges.items()}
    outside = _cost_outside(choice, edges, more_than)
    for stock in likely:
        tests.fails(stock, likely)

    queue = [(stock_cost(rungs[0], choice.prices), place, 0) for place, rungs in enumerate(lines)]
    heapq.heapify(queue)
    low, cheapest_open = min(high, outside), None
    while queue and queue[0][0] < low:
        ahead = [lines[place][rung] for _, place, rung in heapq.nsmallest(_TOGETHER[0], queue)]
        _, place, rung = heapq.heappop(queue)
        if tests.fails(lines[place][rung], ahead):
            if rung + 1 < len(lines[place]):
                cost = stock_cost(lines[place][rung + 1], choice.prices)
                heapq.heappush(queue, (cost, place, rung + 1))
            continue
        # the first rung may not fail after all: cheaper ones of its line were never tested
        cheapest_open = (
            _descend(choice, lines[place][rung], tests) if rung == 0 else (lines[place][rung])
        )
        low = min(low, stock_cost(cheapest_open, choice.prices))
        if rung:
            break
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


def _lines(choice: Choice, high: float, edges: list[Stock]) -> list[list[Stock]]:
    """Return the rungs to climb of every line with stocks that are cheap enough to matter."""
    space = choice.space
    costs = space.costs(choice.prices)
    passing = choice.passing()
    lines = []
    for number, line in enumerate(space.lines):
        cheaper = np.flatnonzero(costs[number] < high - 1e-9)
        if not cheaper.size:
            continue
        top = int(cheaper[-1])
        if any(within(space.stock(line, top), edge) for edge in edges):
            continue
        start = top
        if space.is_open(number):
            most = _CLEARLY * choice.share * choice.surges
            poor = np.flatnonzero(passing[number, : top + 1] <= most)
            start = int(poor[-1]) if poor.size else 0
        lines.append([space.stock(line, rung) for rung in range(start, top + 1)])
    return lines


def _descend(choice: Choice, stock: Stock, tests: _Tests) -> Stock:
    """Return the least stock down the line that is not shown to fail."""
    ladder = choice.space.ladder
    item = ITEMS[ladder.item]
    while item.of(stock) > ladder.low:
        less = item.put(stock, item.of(stock) - ladder.step)
        if tests.fails(less):
            break
        stock = less
    return stock


def _cost_outside(
    choice: Choice, edges: dict[str, list[Stock]], more_than: dict[str, int]
) -> float:
    """Return a price below which no stock lies that neither the edges nor the lines rule out."""
    axes = (choice.space.ladder, *choice.space.axes)
    bottom = choice.ample
    for axis in axes:
        # `place` stocks fail, so the least that may pass has so many lots
        bottom = ITEMS[axis.item].put(bottom, more_than.get(axis.item, 0) * axis.step)
    prices = [float("inf")]
    for axis in axes:
        item = ITEMS[axis.item]
        if axis.high + axis.step <= item.of(choice.ample):
            prices.append(stock_cost(item.put(bottom, axis.high + axis.step), choice.prices))
        if more_than.get(axis.item, 0) < len(edges.get(axis.item, ())):
            prices.append(stock_cost(bottom, choice.prices))
    return min(prices)
