"""The stocks that the search may choose from: a box, cut into lines.

One item (kits, as a rule) is the ladder: on a line everything else is fixed and the ladder's
number rises. The question to each surge is the least rung of each line that keeps the target.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.stock import Stock
from surge_sim.scenario.goal import Prices
from surge_sim.sizing.items import ITEMS, stock_cost


@dataclass(frozen=True)
class Axis:
    """Numbers of one item that lines may have, in steps of the lot that is sold."""

    item: str
    low: int
    high: int
    step: int = 1

    def __len__(self) -> int:
        return (self.high - self.low) // self.step + 1

    def value(self, index: int) -> int:
        """Return the number of items at a place on the axis."""
        return self.low + index * self.step


@dataclass(frozen=True)
class Space:
    """A box of stocks: ``base`` for what does not vary, a ladder, and the axes of the lines."""

    base: Stock
    ladder: Axis
    axes: tuple[Axis, ...] = ()
    #: lines worth playing, in order of :meth:`lines`; empty: all of them
    open_lines: tuple[bool, ...] = ()

    @property
    def shape(self) -> tuple[int, ...]:
        """Length of each axis of the grid of lines."""
        return tuple(len(axis) for axis in self.axes)

    @property
    def lines(self) -> list[tuple[int, ...]]:
        """Places of all lines on the axes, small to large."""
        return list(np.ndindex(*self.shape))

    @property
    def stocks(self) -> int:
        """Number of stocks in the box."""
        return len(self.ladder) * int(np.prod(self.shape, dtype=np.int64))

    def is_open(self, number: int) -> bool:
        """Return whether the line with this number is worth playing."""
        return not self.open_lines or self.open_lines[number]

    def stock(self, line: tuple[int, ...], rung: int) -> Stock:
        """Return the stock on a rung of a line; ``rung`` counts from 0."""
        stock = ITEMS[self.ladder.item].put(self.base, self.ladder.value(rung))
        for axis, index in zip(self.axes, line, strict=True):
            stock = ITEMS[axis.item].put(stock, axis.value(index))
        return stock

    def costs(self, prices: Prices) -> NDArray[np.float64]:
        """Return the price of every stock, shape (lines, rungs)."""
        rungs = range(len(self.ladder))
        return np.array(
            [[stock_cost(self.stock(line, rung), prices) for rung in rungs] for line in self.lines]
        )
