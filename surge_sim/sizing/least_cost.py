"""An interval for the least cost: below it every stock within the limits was shown to fail.

More stock never hurts a surge, or so seldom that it is counted and said. Then a stock that is
shown to fail takes every poorer one with it, so "all stocks cheaper than this fail" needs a few
tests only: of the richest of them. The highest such price is found by halving.

However the search goes, its chance of error is that of one test. Let the cheapest stock that
passes in truth be x. The bound is wrong only if some tested stock with at least as much of
everything was shown to fail; but x kept its target in no more surges than that one, so the same
test would have shown x to fail, at the same look. The looks share the chance: sample A, whose
results are there already, is one, the looks at sample B are the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from surge_sim.sizing.invert import first_true
from surge_sim.sizing.items import ITEMS, stock_cost
from surge_sim.sizing.leaning import LeaningLedger
from surge_sim.sizing.looks import failed_at, looks, may_fail
from surge_sim.statistics.binomial import least_passes

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.choose import Choice

#: part of the chance of error that is spent on sample A
_CHOSEN_PART = 0.25
#: a stock clearly fails when it served at most this part of the share in sample A
_CLEARLY = 0.8
#: how far below the share, in parts of what may be missed, a stock may be left open
_EXPECTED = 0.2
#: stocks played ahead of their turn at each look: one drawing of demand serves them all
_TOGETHER = (4, 2)
#: the search ends when so many entries were played; what is left then stays open
_ENTRIES = 12_000_000
#: but not before so many plays, in parts of the surges of sample B
_PLAYS = 0.5


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
    plays: int


def least_cost(
    results: LeaningLedger, choice: Choice, certified: Stock, share: float, alpha: float
) -> LeastCost:
    """Bound the least cost from below.

    Parameters
    ----------
    results : LeaningLedger
        Sample B: what was played of it serves here too.
    choice : Choice
        Sample A: the box, and where to begin.
    certified : Stock
        The recommended stock; its price is the upper end.
    share : float
        Share of surges that a stock must keep.
    alpha : float
        Chance, at most, that the least cost lies below the bound.

    Returns
    -------
    LeastCost
        Holds within the limits of the search, and if more stock never hurts a surge.
    """
    high = stock_cost(certified, choice.prices)
    proofs = _Proofs(results, choice, share, alpha)
    lines = _lines(choice, high)
    wide = [*_slabs(choice, share), *_edges(choice).values()]
    for stock in wide:
        proofs.fails(stock, wide)
    fat = _Fatten(choice, high, _CLEARLY * share)
    prices = sorted({rung.cost for line in lines for rung in line})
    opened: dict[int, _Rung] = {}

    def some_may_pass(level: int) -> bool:
        left = proofs.unknown(_tops(lines, prices[level]))
        poor = list(dict.fromkeys(fat.clearly(rung) for rung in left if fat.is_poor(rung)))
        for stock in poor:
            proofs.fails(stock, poor)
        left = sorted(proofs.unknown(left), key=lambda rung: -rung.share)
        for rung in left:
            if not proofs.fails(rung.tested, [other.tested for other in left]):
                opened[level] = rung
                return True
        return False

    level = first_true(some_may_pass, 0, len(prices), _first_level(choice, prices))
    low, cheapest_open = high, None
    if level < len(prices):
        low, cheapest_open = prices[level], opened[level].stock
    low = min(low, _cost_outside(choice, proofs))
    return LeastCost(low, high, tuple(proofs.failed), cheapest_open, proofs.results.plays)


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


class _Proofs:
    """Stocks shown to fail; a stock with no more of anything fails with them."""

    def __init__(self, results: LeaningLedger, choice: Choice, share: float, alpha: float) -> None:
        self.results, self.surges, self.share = results, results.surges, share
        self.alpha = (1.0 - _CHOSEN_PART) * alpha
        self.most_plays = max(_PLAYS * self.surges, _ENTRIES / max(choice.entries, 1.0))
        self.failed: list[Stock] = []
        self.open: set[Stock] = set()
        self._vectors = np.zeros((0, len(ITEMS)), dtype=np.int64)
        for stock in _failed_in_sample_a(choice, share, _CHOSEN_PART * alpha):
            self._add(stock)
        for stock in results.ledger.stocks:
            kept = results.ledger.kept(stock)[: self.surges]
            if failed_at(kept, self.surges, share, self.alpha):
                self._add(stock)

    def known(self, stock: Stock) -> bool:
        return bool((self._vectors >= _vector(stock)).all(axis=1).any())

    def unknown(self, rungs: list[_Rung]) -> list[_Rung]:
        return [rung for rung in rungs if not self.known(rung.tested)]

    def fails(self, stock: Stock, ahead: list[Stock]) -> bool:
        """Test one stock; ``ahead`` are stocks that will be asked about soon."""
        if self.known(stock):
            return True
        if stock in self.open:
            return False
        for place, look in enumerate(looks(self.surges)):
            if self.results.plays < self.most_plays:
                many = _TOGETHER[min(place, len(_TOGETHER) - 1)]
                soon = [one for one in ahead if one not in self.open and not self.known(one)]
                self.results.extend([stock, *soon[: many - 1]], look.surges)
            elif not self.results.knows(stock, look.surges):
                break
            kept = self.results.kept(stock, look.surges)
            if failed_at(kept, self.surges, self.share, self.alpha):
                self._add(stock)
                return True
            if not may_fail(int(kept.sum()), len(kept), self.surges, self.share, self.alpha):
                # only a rare turn of luck would yet show it to fail; left open, it bounds less
                break
        self.open.add(stock)
        return False

    def _add(self, stock: Stock) -> None:
        if not self.known(stock):
            self.failed.append(stock)
            self._vectors = np.vstack([self._vectors, _vector(stock)])


def _vector(stock: Stock) -> list[int]:
    return [item.of(stock) for item in ITEMS.values()]


def _failed_in_sample_a(choice: Choice, share: float, alpha: float) -> list[Stock]:
    """Return the richest stock of each line that sample A shows to fail, the richest lines first.

    Only of lines that were played; what sample A says of the cheapest stock that passes is as
    good as any sample, for that stock does not depend on it.
    """
    misses = least_passes(choice.surges, 1.0 - share, alpha)
    passing, space = choice.passing(), choice.space
    found = []
    for number, line in reversed(list(enumerate(space.lines))):
        rungs = np.flatnonzero(choice.surges - passing[number] >= misses)
        if space.is_open(number) and rungs.size:
            found.append(space.stock(line, int(rungs[-1])))
    return found


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


def _tops(lines: list[list[_Rung]], price: float) -> list[_Rung]:
    """Return the richest stock of each line at or below a price."""
    return [
        max((rung for rung in line if rung.cost <= price), key=lambda rung: rung.tested)
        for line in lines
        if line[0].cost <= price
    ]


def _first_level(choice: Choice, prices: list[float]) -> int:
    """Return the place of the price at which sample A expects the first stock to be left open."""
    stock = choice.cheapest(choice.share - _EXPECTED * (1.0 - choice.share))
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


def _slabs(choice: Choice, share: float) -> list[Stock]:
    """Return stocks that likely fail with plenty of all but one item: they take whole lines along.

    Of the one item they have the most with which sample A never came near the share.
    """
    space, n = choice.space, choice.surges
    poor = _CLEARLY * share * n
    passing = choice.passing().reshape(*space.shape, len(space.ladder))
    most_by_axis = [
        passing.max(axis=tuple(other for other in range(passing.ndim) if other != axis))
        for axis in range(passing.ndim)
    ]
    slabs = []
    for axis, most in zip((*space.axes, space.ladder), most_by_axis, strict=True):
        near = np.flatnonzero(most > poor)
        if near.size and near[0] > 0:
            number = axis.value(int(near[0]) - 1)
            slabs.append(ITEMS[axis.item].put(choice.ample, number))
    return slabs


def _cost_outside(choice: Choice, proofs: _Proofs) -> float:
    """Return a price below which no stock lies that neither the edges nor the lines rule out."""
    ladder, prices = choice.space.ladder, [float("inf")]
    inside, edges = choice.ample, _edges(choice)
    for axis in (ladder, *choice.space.axes):
        inside = ITEMS[axis.item].put(inside, axis.low)
    failing = {name: proofs.fails(stock, list(edges.values())) for name, stock in edges.items()}
    for name, fails in failing.items():
        if not fails:
            inside = ITEMS[name].put(inside, 0)
    if not all(failing.values()):
        prices.append(stock_cost(inside, choice.prices))
    if ladder.high + ladder.step <= ITEMS[ladder.item].of(choice.ample):
        longer = ITEMS[ladder.item].put(inside, ladder.high + ladder.step)
        prices.append(stock_cost(longer, choice.prices))
    return min(prices)
