"""Sample B: which stock kept the target in which fresh surge; nothing is played twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.randomness import Sample
from surge_sim.sizing.watch import OverSurges, Watch
from surge_sim.statistics.promise import kept

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.player import Player


@dataclass(frozen=True)
class PlayTask:
    """Play one surge with every stock that still lacks it; picklable."""

    player: Player
    sample: int
    #: stocks, and the number of surges each has been played on already
    wanted: tuple[tuple[Stock, int], ...]
    full: bool

    def __call__(self, number: int) -> list[tuple[int, ...]]:
        """Return a row of every stock that wants this surge: on target, late, entries, parts.

        Of parts: stock-outs of each.
        """
        surge = self.player.surge(self.sample, number)
        target = self.player.target
        rows = []
        for stock, done in self.wanted:
            if number >= done:
                score = surge.score(stock, full=self.full)
                late = (score.late, score.entries, *score.parts.stock_outs)
                rows.append((int(kept(score, target)), *late))
        return rows


@dataclass
class Ledger:
    """Results by stock, always a prefix of the surges 0, 1, 2, ... of one sample."""

    player: Player
    over: OverSurges
    watch: Watch = field(default_factory=Watch)
    sample: int = Sample.CERTIFY
    #: play to the end, so that late entries are counted in full
    full: bool = False
    plays: int = 0
    _rows: dict[Stock, NDArray[np.int64]] = field(default_factory=dict)

    def extend(self, stocks: Sequence[Stock], surges: int, label: str = "certifying") -> None:
        """Play the stocks until each has at least so many surges."""
        wanted = tuple(
            (stock, self.played(stock))
            for stock in dict.fromkeys(stocks)
            if self.played(stock) < surges
        )
        if not wanted:
            return
        start = min(done for _, done in wanted)
        task = PlayTask(self.player, self.sample, wanted, self.full)
        numbers = range(start, surges)
        results = self.watch.over(self.over, task, numbers, label)
        rows: dict[Stock, list[tuple[int, ...]]] = {stock: [] for stock, _ in wanted}
        for number, result in zip(numbers, results, strict=True):
            present = [stock for stock, done in wanted if number >= done]
            for stock, row in zip(present, result, strict=True):
                rows[stock].append(row)
            self.plays += len(result)
        for stock, new in rows.items():
            fresh = np.array(new, dtype=np.int64)
            old = self._rows.get(stock)
            self._rows[stock] = fresh if old is None else np.concatenate([old, fresh])

    def played(self, stock: Stock) -> int:
        """Return on how many surges the stock has been played."""
        return len(self._rows.get(stock, ()))

    def passes(self, stock: Stock, surges: int | None = None) -> int:
        """Return in how many of the first surges the stock kept the target."""
        return int(self.kept(stock)[:surges].sum())

    def kept(self, stock: Stock) -> NDArray[np.int64]:
        """Return 1 for every surge on target, shape (surges played,)."""
        return self._rows[stock][:, 0]

    def share_in_time(self, stock: Stock) -> NDArray[np.float64]:
        """Return each surge's share of entries in time (full plays only); NaN without entries."""
        rows = self._rows[stock]
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray(1.0 - rows[:, 1] / rows[:, 2])

    def stock_outs(self, stock: Stock) -> NDArray[np.int64]:
        """Return each surge's stock-outs by part (full plays only), shape (surges played, 4)."""
        return self._rows[stock][:, 3:]

    @property
    def stocks(self) -> list[Stock]:
        """All stocks that have been played, smallest first."""
        return sorted(self._rows)
