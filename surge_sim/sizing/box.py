"""Where to look: a few surges, turned round with plenty of everything else, bound the box."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from surge_sim.sizing.invert import first_true
from surge_sim.sizing.items import ITEMS, order_of_choice, stock_cost
from surge_sim.sizing.player import keeps_target
from surge_sim.sizing.space import Axis, Space

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices, SearchLimits
    from surge_sim.sizing.player import Player

#: surges that bound the box; they belong to the sample that chooses
PILOT = 16
#: how much dearer than a stock that served the pilot's surges a rich one may be
_DEARER = 1.15
#: chance that the box begins above the least number of an item that serves the share
_MISSED = 0.005
#: with fewer lines than this, closing some saves nothing
_MANY_LINES = 60


class Pilot(NamedTuple):
    """What one surge needs of each item with plenty of the others; None: plenty is too little."""

    #: least ladder, others ample
    ladder: int
    #: least of each axis with the ladder and the others ample
    least: tuple[int, ...]
    #: least of each axis that does as well as plenty, at the least ladder
    enough: tuple[int, ...]
    plays: int


@dataclass(frozen=True)
class PilotTask:
    """The pilot's work on one surge, picklable."""

    player: Player
    sample: int
    ample: Stock
    #: the ladder first, then the axes; each from 0 to its limit
    axes: tuple[Axis, ...]
    guess: tuple[int, ...]

    def __call__(self, number: int) -> Pilot | None:
        """Find the needs of one surge."""
        surge = self.player.surge(self.sample, number)
        target = self.player.target
        plays = 1
        if not keeps_target(surge, self.ample, target):
            return None

        def least(axis: Axis, stock: Stock, guess: int) -> int:
            def test(index: int) -> bool:
                nonlocal plays
                plays += 1
                return keeps_target(surge, ITEMS[axis.item].put(stock, axis.value(index)), target)

            start = (guess - axis.low) // axis.step
            # the last place is the ample stock, which passed
            return axis.value(first_true(test, 0, len(axis) - 1, start))

        ladder = least(self.axes[0], self.ample, self.guess[0])
        floor = ITEMS[self.axes[0].item].put(self.ample, ladder)
        lows, highs = [], []
        for axis, guess in zip(self.axes[1:], self.guess[1:], strict=True):
            low = least(axis, self.ample, guess)
            lows.append(low)
            from_low = Axis(axis.item, low, axis.high, axis.step)
            highs.append(least(from_low, floor, low))
        return Pilot(ladder, tuple(lows), tuple(highs), plays)


def whole_axes(vary: Sequence[str], prices: Prices, limits: SearchLimits) -> tuple[Axis, ...]:
    """Return each item's axis from none to its limit; bays in whole chargers."""
    axes = []
    for name in vary:
        item = ITEMS[name]
        step = item.lot(prices)
        axes.append(Axis(name, 0, max(item.limit(limits) // step, 1) * step, step))
    return tuple(axes)


def ample_stock(base: Stock, axes: Sequence[Axis]) -> Stock:
    """Return the base with everything that varies at its limit."""
    for axis in axes:
        base = ITEMS[axis.item].put(base, axis.high)
    return base


def bound_box(
    pilots: Sequence[Pilot],
    axes: Sequence[Axis],
    base: Stock,
    prices: Prices,
    share: float,
    widen: int = 0,
) -> Space:
    """Return the box that the pilot's needs ask for.

    Parameters
    ----------
    pilots : sequence of Pilot
        At least one.
    axes : sequence of Axis
        Whole axes: the ladder first.
    base : Stock
        Values of what does not vary.
    prices : Prices
        A line is closed when even the least ladder on it costs more than a stock that served
        every pilot surge, and something over.
    share : float
        Of surges that must be on target [0..1].
    widen : int
        How many times the box was found too small.

    Returns
    -------
    Space
        The box, its lines open or closed.
    """
    whole = axes[0]
    ladders = [pilot.ladder for pilot in pilots]
    spread = max(ladders) - min(ladders) + 2
    # so many of the pilot's surges, or more, pass with every stock that serves the share
    fewest = max(int(stats.binom.ppf(_MISSED, len(pilots), share)), 1)
    lines, floors = [], []
    rich = ITEMS[whole.item].put(base, max(ladders))
    for index, axis in enumerate(axes[1:]):
        needed = sorted(pilot.least[index] for pilot in pilots)
        enough = max(pilot.enough[index] for pilot in pilots)
        # fewer than half of the surges pass below the median, whatever the rest
        low = needed[(len(needed) - 1) // 2]
        # with less than this, fewer than the share: such lines are there, but not played
        floors.append(max(needed[fewest - 1], low))
        # between lines that need the same nothing is played, so room costs little
        room = max(enough // 2, 3 * axis.step) * 2**widen
        high = min(-(-(enough + room - low) // axis.step) * axis.step + low, axis.high)
        lines.append(Axis(axis.item, low, max(high, low), axis.step))
        rich = ITEMS[axis.item].put(rich, enough)
    most = _DEARER ** (1 + widen) * stock_cost(rich, prices)
    low_rung = max(min(ladders) - spread, 0) // whole.step * whole.step
    poor = base
    for axis in lines:
        poor = ITEMS[axis.item].put(poor, axis.low)
    least_high = min(max(ladders) + spread * 2**widen, whole.high)
    high_rung = low_rung
    while high_rung < min(2 * least_high, whole.high) and (
        high_rung < least_high
        or stock_cost(ITEMS[whole.item].put(poor, high_rung + whole.step), prices) <= most
    ):
        high_rung += whole.step
    space = Space(base, Axis(whole.item, low_rung, high_rung, whole.step), tuple(lines))
    floor = (min(ladders) - low_rung) // whole.step
    open_lines = tuple(
        stock_cost(space.stock(line, floor), prices) <= most
        and all(
            axis.value(index) >= least
            for axis, index, least in zip(space.axes, line, floors, strict=True)
        )
        for line in space.lines
    )
    top = space.lines[-1]
    # the richest line stays: it tells whether the box is wide enough
    return Space(base, space.ladder, space.axes, (*open_lines[:-1], True) if top else open_lines)


def close_dear_lines(space: Space, least: NDArray[np.int16], prices: Prices) -> Space:
    """Close lines that serve three pilot surges of four only dearer than another serves all.

    Something over is allowed: a stock rich enough to begin the chain costs more than one that
    served the pilot's few surges.
    """
    rungs = len(space.ladder)
    if len(space.lines) < _MANY_LINES:
        return space
    costs = space.costs(prices)
    worst = least.max(axis=0)
    usable = np.flatnonzero(worst < rungs)
    if not usable.size:
        return space
    best = min(
        order_of_choice(space.stock(space.lines[line], int(worst[line])), prices)[0]
        for line in usable
    )
    three_quarters = np.sort(least, axis=0)[(3 * (len(least) - 1)) // 4]
    open_lines = [
        space.is_open(line) and int(rung) < rungs and bool(costs[line, int(rung)] <= _DEARER * best)
        for line, rung in enumerate(three_quarters)
    ]
    open_lines[-1] = True
    return Space(space.base, space.ladder, space.axes, tuple(open_lines))
