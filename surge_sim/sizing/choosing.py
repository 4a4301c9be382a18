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

from surge_sim.randomness import Sample
from surge_sim.sizing.items import ITEMS

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.player import Player, Work

#: stocks that are looked at together drop out after each of so many parts of the sample
_PARTS = 4
#: and when they have missed the target so much more often than the best of them
_BEHIND = 1


@dataclass(frozen=True)
class MissedTask:
    """Play one surge with some stocks; picklable."""

    player: Player
    #: stocks, and in which surges each is played
    wanted: tuple[tuple[Stock, NDArray[np.bool_]], ...]
    #: whether it matters by how much a target is missed
    amount: bool

    def __call__(self, number: int) -> list[float]:
        """Return by how much each wanted stock misses the target: 0 on target."""
        surge = self.player.surge(Sample.CHOOSE, number)
        asked = [stock for stock, where in self.wanted if where[number]]
        if self.amount:
            return [surge.missed(stock) for stock in asked]
        return [0.0 if surge.kept(stock) else math.inf for stock in asked]


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
        self, stocks: Sequence[Stock], surges: int, amount: bool = False, begin: int = 0
    ) -> list[NDArray[np.float64]]:
        """Return by how much stocks miss the target in the first surges, each shape (surges,)."""
        wanted = []
        for stock in dict.fromkeys(stocks):
            row = self._row(stock)
            lacks = np.isnan(row) | (np.isinf(row) if amount else False)
            lacks[surges:] = False
            lacks[:begin] = False
            if lacks.any():
                wanted.append((stock, lacks))
        if wanted:
            numbers = np.flatnonzero(np.any([where for _, where in wanted], axis=0)).tolist()
            task = MissedTask(self.player, tuple(wanted), amount)
            for number, found in zip(numbers, self.work(task, numbers, "choosing"), strict=True):
                asked = [stock for stock, where in wanted if where[number]]
                for stock, value in zip(asked, found, strict=True):
                    self._missed[self._place[stock], number] = value
                self.plays += len(found)
        return [self._missed[self._place[stock], :surges] for stock in stocks]

    def serving(self, stocks: Sequence[Stock], share: float) -> list[Stock]:
        """Return the stocks that keep the target in at least a share of the sample."""
        most = self.surges - math.ceil(share * self.surges - 1e-9)
        left, begin = list(dict.fromkeys(stocks)), 0
        for part in range(1, _PARTS + 1):
            end = self.surges * part // _PARTS
            found = self.missed(left, end, begin=begin)
            left = [one for one, row in zip(left, found, strict=True) if (row > 0).sum() <= most]
            begin = end
        return left

    def least_missed(self, stocks: Sequence[Stock]) -> list[Stock]:
        """Return the stocks with the fewest surges off target: those far behind drop out early."""
        left, begin = list(dict.fromkeys(stocks)), 0
        for part in range(1, _PARTS + 1):
            end = self.surges * part // _PARTS
            found = self.missed(left, end, begin=begin)
            counts = [int((row > 0).sum()) for row in found]
            most = min(counts) + (_BEHIND if part < _PARTS else 0)
            left = [one for one, count in zip(left, counts, strict=True) if count <= most]
            begin = end
        return left

    def _row(self, stock: Stock) -> NDArray[np.float64]:
        """Return what is known of a stock after all that follows from the others."""
        numbers = np.array([item.of(stock) for item in ITEMS.values()])
        if stock not in self._place:
            self._place[stock] = len(self._stocks)
            self._stocks.append(stock)
            self._numbers = np.vstack([self._numbers, numbers])
            self._missed = np.vstack([self._missed, np.full(self.surges, np.nan)])
        row = self._missed[self._place[stock]]
        poorer = (self._numbers <= numbers).all(axis=1)
        richer = (self._numbers >= numbers).all(axis=1)
        unknown = np.isnan(row)
        row[unknown & (self._missed[poorer] == 0).any(axis=0)] = 0.0
        unknown = np.isnan(row)
        row[unknown & (self._missed[richer] > 0).any(axis=0)] = np.inf
        return row
