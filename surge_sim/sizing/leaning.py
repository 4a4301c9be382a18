"""Sample B for claims that lean on "more stock never hurts": what follows is not played.

In a surge that a stock keeps, every richer one keeps its target too; where it misses, so does
every poorer one. How often this is untrue is counted from plays (monotone.py), never from what is
taken for granted here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.sizing.items import within
from surge_sim.sizing.player import keeps_target

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.ledger import Ledger
    from surge_sim.sizing.player import Player

_UNKNOWN = np.int8(-1)


@dataclass(frozen=True)
class PickTask:
    """Play one surge with those stocks whose outcome is not known; picklable."""

    player: Player
    sample: int
    #: stocks, and in which surges each is played
    wanted: tuple[tuple[Stock, NDArray[np.bool_]], ...]

    def __call__(self, number: int) -> list[bool]:
        """Return whether each wanted stock keeps its target in this surge."""
        surge, target = self.player.surge(self.sample, number), self.player.target
        return [keeps_target(surge, stock, target) for stock, where in self.wanted if where[number]]


class LeaningLedger:
    """Results by stock, played or implied by those of richer and poorer stocks.

    Parameters
    ----------
    ledger : Ledger
        What was played already, and how surges are shared out.
    surges : int
        Most surges that will be asked about.
    """

    def __init__(self, ledger: Ledger, surges: int) -> None:
        self.ledger, self.surges, self.plays = ledger, surges, 0
        #: what was really played here: 1 on target, 0 not, -1 not played; shape (surges,)
        self.played: dict[Stock, NDArray[np.int8]] = {}
        self._known: dict[Stock, NDArray[np.int8]] = {}
        for stock in ledger.stocks:
            kept = ledger.kept(stock)[:surges]
            row = np.full(surges, _UNKNOWN)
            row[: len(kept)] = kept
            self._known[stock] = row

    def kept(self, stock: Stock, surges: int) -> NDArray[np.int64]:
        """Return 1 for every surge on target, for the first ``surges``, played or implied."""
        self.extend([stock], surges)
        return self._known[stock][:surges].astype(np.int64)

    def knows(self, stock: Stock, surges: int) -> bool:
        """Return whether the first ``surges`` need no play any more."""
        return bool((self._implied(stock)[:surges] != _UNKNOWN).all())

    def extend(self, stocks: Sequence[Stock], surges: int) -> None:
        """Play what is neither known nor implied of the first ``surges``."""
        wanted = []
        for stock in dict.fromkeys(stocks):
            lacking = self._implied(stock) == _UNKNOWN
            lacking[surges:] = False
            if lacking.any():
                wanted.append((stock, lacking))
        if not wanted:
            return
        numbers = np.flatnonzero(np.any([where for _, where in wanted], axis=0)).tolist()
        task = PickTask(self.ledger.player, self.ledger.sample, tuple(wanted))
        results = self.ledger.watch.over(self.ledger.over, task, numbers, "least cost")
        for number, result in zip(numbers, results, strict=True):
            asked = [stock for stock, where in wanted if where[number]]
            for stock, kept in zip(asked, result, strict=True):
                self._known[stock][number] = kept
                row = self.played.setdefault(stock, np.full(self.surges, _UNKNOWN))
                row[number] = kept
            self.plays += len(result)

    def _implied(self, stock: Stock) -> NDArray[np.int8]:
        """Return what is known of a stock after all that follows from the others."""
        row = self._known.setdefault(stock, np.full(self.surges, _UNKNOWN))
        for other, known in self._known.items():
            if other is stock or not (row == _UNKNOWN).any():
                continue
            if within(other, stock):
                row[(known == 1) & (row == _UNKNOWN)] = 1
            elif within(stock, other):
                row[(known == 0) & (row == _UNKNOWN)] = 0
        return row
