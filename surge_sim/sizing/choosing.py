"""Sample A: what its surges came to with which stock. Nothing here is a claim.

More stock is taken never to hurt a surge: what follows from richer and poorer stocks is not
played. A wrong guess costs money or time, never truth, for claims come from fresh surges.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.stock import ITEMS, poorest, within
from surge_sim.randomness import Sample

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.player import Player, Work

#: stocks that are looked at together drop out after each of these parts of the sample
_PARTS = (0.125, 0.25, 0.5, 1.0)
#: when they have missed the target so much more often than the best of them
_BEHIND = 1


@dataclass(frozen=True)
class MissedTask:
    """Play one surge with some stocks; picklable."""

    player: Player
    #: stocks, and in which surges each is played
    wanted: tuple[tuple[Stock, NDArray[np.bool_]], ...]
    #: whether it matters by how much a target is missed
    amount: bool

    def __call__(self, number: int) -> dict[Stock, float]:
        """Return by how much each stock that was played misses the target: 0 on target."""
        surge = self.player.surge(Sample.CHOOSE, number)
        asked = [stock for stock, where in self.wanted if where[number]]
        if self.amount:
            return {stock: surge.missed(stock) for stock in asked}
        found: dict[Stock, float] = {}
        for stock in asked:
            if not any(
                within(one, stock) if value == 0 else within(stock, one)
                for one, value in found.items()
            ):
                found[stock] = 0.0 if surge.kept(stock) else math.inf
        return found


@dataclass(frozen=True)
class PoorestTask:
    """Find the poorest stock that keeps the target in one surge, by halving; picklable."""

    player: Player
    #: each has no less of anything than the one before
    stocks: tuple[Stock, ...]
    #: place of the one that is played first
    first: int

    def __call__(self, number: int) -> dict[Stock, float]:
        """Return by how much each stock that was played misses the target: 0 on target, or inf."""
        surge = self.player.surge(Sample.CHOOSE, number)
        found: dict[Stock, float] = {}
        low, high, middle = 0, len(self.stocks), self.first
        while low < high:
            stock = self.stocks[middle]
            found[stock] = 0.0 if surge.kept(stock) else math.inf
            low, high = (low, middle) if found[stock] == 0 else (middle + 1, high)
            middle = (low + high) // 2
        return found


@dataclass
class SampleA:
    """By how much each stock missed the target in each surge: 0 on target, NaN not known."""

    player: Player
    surges: int
    work: Work
    plays: int = 0
    _stocks: list[Stock] = field(default_factory=list)
    _numbers: NDArray[np.int64] = field(default_factory=lambda: np.zeros((0, len(ITEMS)), int))
    #: shape (stocks, surges); inf: missed, by how much is not known
    _missed: NDArray[np.float64] = field(init=False)
    _place: dict[Stock, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._missed = np.zeros((0, self.surges))

    def grow(self, surges: int) -> None:
        """Go on with more surges; what was played stays."""
        more = np.full((len(self._stocks), surges - self.surges), np.nan)
        self._missed, self.surges = np.hstack([self._missed, more]), surges

    def passes(self, stock: Stock) -> int:
        """Return in how many surges of the whole sample a stock keeps the target."""
        return int((self.missed([stock], self.surges)[0] == 0).sum())

    def share(self, stock: Stock) -> float:
        """Return that as a share of the sample."""
        return self.passes(stock) / self.surges

    def missed(
        self, stocks: Sequence[Stock], surges: int, amount: bool = False
    ) -> list[NDArray[np.float64]]:
        """Return by how much stocks miss the target in the first surges, each shape (surges,)."""
        return self._known(stocks, np.arange(surges), amount)

    def find_poorest(self, stocks: Sequence[Stock], first: int) -> None:
        """Find which is the poorest of some stocks that keeps the target, surge by surge.

        Most surges are kept by far poorer stocks than the answer: in these all that are compared
        later need no play.

        Parameters
        ----------
        stocks : sequence of Stock
            Each has no less of anything than the one before.
        first : int
            Place of the one that is played first.
        """
        self._play(PoorestTask(self.player, tuple(stocks), first), range(self.surges))

    def serving(self, stocks: Sequence[Stock], share: float) -> list[Stock]:
        """Return the stocks that keep the target in at least a share of the sample."""
        most = self.surges - math.ceil(share * self.surges - 1e-9)
        left, order = list(dict.fromkeys(stocks)), self._hardest_first()
        for part in _PARTS:
            found = self._known(left, order[: math.ceil(part * self.surges)])
            left = [one for one, row in zip(left, found, strict=True) if (row > 0).sum() <= most]
        return left

    def least_missed(self, stocks: Sequence[Stock]) -> list[Stock]:
        """Return the stocks with the fewest surges off target: those far behind drop out early."""
        left, order = list(dict.fromkeys(stocks)), self._hardest_first()
        for part in _PARTS:
            found = self._known(left, order[: math.ceil(part * self.surges)])
            counts = [int((row > 0).sum()) for row in found]
            most = min(counts) + (_BEHIND if part < 1 else 0)
            left = [one for one, count in zip(left, counts, strict=True) if count <= most]
        return left

    def _hardest_first(self) -> NDArray[np.int64]:
        """Return the surges in an order in which stocks soon differ: most often missed first."""
        return np.argsort(-(self._missed > 0).sum(axis=0), kind="stable")

    def _known(
        self, stocks: Sequence[Stock], surges: NDArray[np.int64], amount: bool = False
    ) -> list[NDArray[np.float64]]:
        """Return by how much stocks miss the target in some surges, each shape (len(surges),)."""
        asked = np.zeros(self.surges, dtype=bool)
        asked[surges] = True
        wanted = []
        for stock in dict.fromkeys(stocks):
            row = self._row(stock)
            lacks = asked & (np.isnan(row) | (np.isinf(row) if amount else False))
            if lacks.any():
                wanted.append((stock, lacks))
        if len(wanted) > 1 and not amount:
            # what the poorest of them keeps, all keep
            least = poorest([stock for stock, _ in wanted])
            several = np.sum([where for _, where in wanted], axis=0) > 1
            wanted.insert(0, (least, several & np.isnan(self._row(least))))
        if wanted:
            numbers = np.flatnonzero(np.any([where for _, where in wanted], axis=0)).tolist()
            self._play(MissedTask(self.player, tuple(wanted), amount), numbers)
        return [self._row(stock)[surges] for stock in stocks]

    def _play(self, task: MissedTask | PoorestTask, numbers: Sequence[int]) -> None:
        for number, found in zip(numbers, self.work(task, numbers, "choosing"), strict=True):
            for stock, value in found.items():
                place = self._at(stock)
                self._missed[place, number] = value
            self.plays += len(found)

    def _at(self, stock: Stock) -> int:
        """Return the row of a stock, which has one from then on."""
        if stock not in self._place:
            self._place[stock] = len(self._stocks)
            self._stocks.append(stock)
            numbers = [item.of(stock) for item in ITEMS.values()]
            self._numbers = np.vstack([self._numbers, numbers])
            self._missed = np.vstack([self._missed, np.full(self.surges, np.nan)])
        return self._place[stock]

    def _row(self, stock: Stock) -> NDArray[np.float64]:
        """Return what is known of a stock after all that follows from the others."""
        place = self._at(stock)
        numbers, row = self._numbers[place], self._missed[place]
        poorer = (self._numbers <= numbers).all(axis=1)
        richer = (self._numbers >= numbers).all(axis=1)
        unknown = np.isnan(row)
        row[unknown & (self._missed[poorer] == 0).any(axis=0)] = 0.0
        unknown = np.isnan(row)
        row[unknown & (self._missed[richer] > 0).any(axis=0)] = np.inf
        return row
