"""An interval for the least cost: below it every stock was shown to fail.

More stock never hurts a surge, or so seldom that it is counted and said. Then a stock that is
shown to fail takes every poorer one with it, so "all stocks cheaper than this fail" needs a few
tests only: of the richest of them. The highest such price is found by halving. On each line one
stock is the poorest that passes; whatever is tested, a wrong rejection rejects one of these
too, so the lines share the chance of error, however the search goes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from surge_sim.sizing.invert import first_true
from surge_sim.sizing.items import ITEMS, stock_cost, within
from surge_sim.statistics.binomial import upper_limit

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.choose import Choice
    from surge_sim.sizing.ledger import Ledger

#: looks at one stock: (share of the certifying surges, share of the chance of error)
_LOOKS = ((0.125, 0.25), (0.375, 0.25), (1.0, 0.5))
#: fewer surges than this say too little to stop at
_FEW = 100
#: how far below the share, in parts of what may be missed, a stock is given up as open
_HOPELESS = 0.25
#: a stock clearly fails when it served at most this part of the share in sample A, and is
#: still likely shown to fail up to the second
_CLEARLY = (0.8, 0.93)
#: stocks played ahead of their turn at each look: one drawing of demand serves them all
_TOGETHER = (8, 3, 2)


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
    #: lines and edges that share the chance of error
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
        Sample A: the box, and where to begin.
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
        Holds if more stock never hurts a surge.
    """
    high = stock_cost(certified, choice.prices)
    lines = _lines(choice, high)
    edges = _edges(choice)
    count = max(len(choice.space.lines) + len(edges), 1)
    tests = _Tests(ledger, surges, share, alpha / count)
    prices = sorted({rung.cost for line in lines for rung in line})
    opened: dict[int, _Rung] = {}

    def some_may_pass(level: int) -> bool:
        richest = _richest(lines, prices[level])
        for part in _CLEARLY:
            left = [rung for rung in richest if not tests.known(rung.tested)]
            fat = _Fatten(choice, high, part * share)
            poor = list(dict.fromkeys(fat.clearly(rung) for rung in left if fat.is_poor(rung)))
            for stock in poor:
                tests.fails(stock, poor)
        ahead = [rung.tested for rung in richest]
        for rung in richest:
            if not tests.fails(rung.tested, ahead):
                opened[level] = rung
                return True
        return False

    level = first_true(some_may_pass, 0, len(prices), _first_level(choice, prices))
    low, cheapest_open = high, None
    if level < len(prices):
        low, cheapest_open = prices[level], opened[level].stock
    low = min(low, _cost_outside(choice, edges, tests))
    return LeastCost(low, high, tuple(tests.failed), cheapest_open, count)


class _Rung(NamedTuple):
    """One stock of a line, its price, and the stock that is tested for it.

    On the last line of an item the tested stock has plenty of that item: when it fails, so do
    all stocks with more of the item than the box holds.
    """

    stock: Stock
    cost: float
    tested: Stock
    #: sample A's share of surges on target
    share: float
    #: places on the axes, the ladder last
    place: tuple[int, ...]


class _Fatten:
    """Finds rich stocks that served at most a share of sample A: one test of such saves many."""

    def __init__(self, choice: Choice, high: float, most: float) -> None:
        space = choice.space
        self.space, self.most = space, most + 1e-9
        shares = choice.passing() / choice.surges
        # a line was closed because what is cheap on it fails; of the rest nothing is known
        closed = np.array([not space.is_open(number) for number in range(len(space.lines))])
        shares[closed[:, None] & (space.costs(choice.prices) >= high)] = 1.0
        self.shares = shares.reshape(*space.shape, -1)

    def is_poor(self, rung: _Rung) -> bool:
        return bool(self.shares[rung.place] <= self.most)

    def clearly(self, rung: _Rung) -> Stock:
        """Return the richest stock on the way up from one that still clearly fails."""
        place = list(rung.place)
        for axis in reversed(range(len(place))):
            while place[axis] + 1 < self.shares.shape[axis]:
                more = (*place[:axis], place[axis] + 1, *place[axis + 1 :])
                if self.shares[more] > self.most:
                    break
                place[axis] += 1
        return self.space.stock(tuple(place[:-1]), place[-1])


class _Tests:
    """Stocks shown to fail; a stock with no more of anything fails with them."""

    def __init__(self, ledger: Ledger, surges: int, share: float, alpha: float) -> None:
        self.ledger, self.surges, self.share, self.alpha = ledger, surges, share, alpha
        self.failed: list[Stock] = []
        self.open: set[Stock] = set()

    def known(self, stock: Stock) -> bool:
        return any(within(stock, other) for other in self.failed)

    def fails(self, stock: Stock, ahead: list[Stock] | None = None) -> bool:
        """Test one stock; ``ahead`` are stocks that will be asked about soon."""
        if self.known(stock):
            return True
        if stock in self.open:
            return False
        hopeless = self.share - _HOPELESS * (1.0 - self.share)
        for (part, chance), many in zip(_LOOKS, _TOGETHER, strict=True):
            look = min(max(int(part * self.surges), _FEW), self.surges)
            soon = [other for other in ahead or () if not self.known(other)]
            self.ledger.extend([stock, *soon[: many - 1]], look, "least cost")
            passes = self.ledger.passes(stock, look)
            if upper_limit(passes, look, chance * self.alpha) < self.share:
                self.failed.append(stock)
                return True
            if passes >= hopeless * look:
                # only a rare turn of luck would yet show it to fail; left open, it bounds less
                break
        self.open.add(stock)
        return False


def _lines(choice: Choice, high: float) -> list[list[_Rung]]:
    """Return, for every line, the stocks that are cheaper than the certified one."""
    space = choice.space
    costs, passing = space.costs(choice.prices), choice.passing()
    lines = []
    for number, line in enumerate(space.lines):
        rungs = [
            _Rung(
                space.stock(line, int(rung)),
                float(costs[number, rung]),
                _tested(choice, line, int(rung)),
                float(passing[number, rung]) / choice.surges,
                (*line, int(rung)),
            )
            for rung in np.flatnonzero(costs[number] < high - 1e-9)
        ]
        if rungs:
            lines.append(rungs)
    return lines


def _tested(choice: Choice, line: tuple[int, ...], rung: int) -> Stock:
    stock = choice.space.stock(line, rung)
    for axis, place in zip(choice.space.axes, line, strict=True):
        if place == len(axis) - 1:
            item = ITEMS[axis.item]
            stock = item.put(stock, item.of(choice.ample))
    return stock


def _richest(lines: list[list[_Rung]], price: float) -> list[_Rung]:
    """Return the stocks at or below a price of which none is within another, best first."""
    tops = [
        max((rung for rung in line if rung.cost <= price), key=lambda rung: rung.tested)
        for line in lines
        if line[0].cost <= price
    ]
    # more things first, so that one pass finds whatever lies within another
    tops.sort(key=lambda rung: -sum(item.of(rung.tested) for item in ITEMS.values()))
    richest: list[_Rung] = []
    for rung in tops:
        if not any(within(rung.tested, other.tested) for other in richest):
            richest.append(rung)
    richest.sort(key=lambda rung: -rung.share)
    return richest


def _first_level(choice: Choice, prices: list[float]) -> int:
    """Return the place of the price at which sample A expects the first stock to be left open."""
    share = choice.share - _HOPELESS * (1.0 - choice.share)
    stock = choice.cheapest(share)
    if stock is None:
        return len(prices)
    return int(np.searchsorted(prices, stock_cost(stock, choice.prices) - 1e-9))


def _edges(choice: Choice) -> dict[str, Stock]:
    """Return, for each item that varies, the stock with less of it than the box, else plenty."""
    return {
        axis.item: ITEMS[axis.item].put(choice.ample, axis.low - axis.step)
        for axis in (choice.space.ladder, *choice.space.axes)
        if axis.low >= axis.step
    }


def _cost_outside(choice: Choice, edges: dict[str, Stock], tests: _Tests) -> float:
    """Return a price below which no stock lies that neither the edges nor the lines rule out."""
    ladder, prices = choice.space.ladder, [float("inf")]
    inside = choice.ample
    for axis in (ladder, *choice.space.axes):
        inside = ITEMS[axis.item].put(inside, axis.low)
    failing = {name: tests.fails(stock, list(edges.values())) for name, stock in edges.items()}
    for name, fails in failing.items():
        if not fails:
            inside = ITEMS[name].put(inside, 0)
    if not all(failing.values()):
        prices.append(stock_cost(inside, choice.prices))
    if ladder.high + ladder.step <= ITEMS[ladder.item].of(choice.ample):
        longer = ITEMS[ladder.item].put(inside, ladder.high + ladder.step)
        prices.append(stock_cost(longer, choice.prices))
    return min(prices)
