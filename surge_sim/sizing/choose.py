"""Sample A: turn surges round until the least rung of every line is known for each of them.

Whatever is done here may lean on the same surges as often as it likes: nothing of it is a
claim of this module. Claims come from fresh surges (certify.py); only the lower end of the least
cost takes what sample A found as one of its looks (least_cost.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.randomness import Sample
from surge_sim.sizing.box import (
    PILOT,
    Pilot,
    PilotTask,
    ample_stock,
    bound_box,
    close_dear_lines,
    whole_axes,
)
from surge_sim.sizing.invert import InvertTask
from surge_sim.sizing.items import ITEMS, order_of_choice, parts_of, stock_cost, within
from surge_sim.sizing.ledger import Ledger
from surge_sim.sizing.space import Space
from surge_sim.sizing.watch import OverSurges, SoFar, Watch
from surge_sim.statistics.binomial import upper_limit

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices, SearchLimits
    from surge_sim.sizing.player import Player

#: chance of calling a target unreachable that some stock within the limits can keep
_UNREACHABLE_ALPHA = 0.001


#: so many surges tell the others of the pilot where to begin
_SCOUTS = 4

#: the box is wide enough when its richest stock fails so few surges, in parts of what may be
#: missed: the chain needs a rich beginning, not one for every surge
_LACKING = 0.4


@dataclass(frozen=True)
class Choice:
    """What sample A found."""

    space: Space
    #: least rung that each surge needs on each line, shape (surges, lines); rungs = none
    least: NDArray[np.int16]
    plays: int
    prices: Prices
    #: everything that varies at its limit
    ample: Stock
    #: the share of surges that the target asks for
    share: float
    #: entries of one surge, on average
    entries: float = 0.0

    @property
    def surges(self) -> int:
        """Number of surges turned round."""
        return len(self.least)

    def passing(self) -> NDArray[np.int64]:
        """Return how many surges each stock serves, shape (lines, rungs); closed lines: 0."""
        rungs = len(self.space.ladder)
        table = np.zeros((self.least.shape[1], rungs), dtype=np.int64)
        for line in range(self.least.shape[1]):
            if self.space.is_open(line):
                counts = np.bincount(self.least[:, line], minlength=rungs + 1)[:rungs]
                table[line] = np.cumsum(counts)
        return table

    def share_of(self, stock: Stock) -> float | None:
        """Return the share of sample A that the stock serves, parts aside; None: not in the box."""
        space = self.space
        stock = parts_of(stock, space.base)
        place = []
        for axis in space.axes:
            index, left = divmod(ITEMS[axis.item].of(stock) - axis.low, axis.step)
            if left or not 0 <= index < len(axis):
                return None
            place.append(index)
        rung, left = divmod(
            ITEMS[space.ladder.item].of(stock) - space.ladder.low, space.ladder.step
        )
        line = int(np.ravel_multi_index(place, space.shape)) if place else 0
        if (
            left
            or rung < 0
            or not space.is_open(line)
            or space.stock(tuple(place), 0)
            != (ITEMS[space.ladder.item].put(stock, space.ladder.low))
        ):
            return None
        return float(np.mean(self.least[:, line] <= rung))

    def cheapest(self, share: float, prices: Prices | None = None) -> Stock | None:
        """Return the cheapest stock that serves at least the share of sample A (an estimate)."""
        prices = prices or self.prices
        needed = int(np.ceil(share * self.surges - 1e-9))
        best = None
        lines = self.space.lines
        for line, rung in enumerate(_rungs_serving(self.least, max(needed, 1))):
            if rung < len(self.space.ladder) and self.space.is_open(line):
                stock = self.space.stock(lines[line], int(rung))
                if best is None or order_of_choice(stock, prices) < order_of_choice(best, prices):
                    best = stock
        return best

    def frontier(self, share: float, failed: Sequence[Stock] = ()) -> list[Stock]:
        """Return the stocks that serve the share and of which nothing can be left out.

        Stocks that were shown to fail, or have no more than one of them, are passed over.
        """
        needed = max(int(np.ceil(share * self.surges - 1e-9)), 1)
        rungs = _rungs_serving(self.least, needed)
        for number, line in enumerate(self.space.lines):
            while rungs[number] < len(self.space.ladder) and any(
                within(self.space.stock(line, int(rungs[number])), poor) for poor in failed
            ):
                rungs[number] += 1
        lines, shape = self.space.lines, self.space.shape
        grid = np.minimum(rungs, len(self.space.ladder)).reshape(shape)
        found = []
        for number, line in enumerate(lines):
            rung = int(rungs[number])
            if rung >= len(self.space.ladder) or not self.space.is_open(number):
                continue
            less = (
                (*line[:axis], index - 1, *line[axis + 1 :])
                for axis, index in enumerate(line)
                if index
            )
            if all(grid[smaller] > rung for smaller in less):
                found.append(self.space.stock(line, rung))
        return found


def choose(
    player: Player,
    base: Stock,
    vary: Sequence[str],
    prices: Prices,
    limits: SearchLimits,
    surges: int,
    over: OverSurges,
    guess: dict[str, int] | None = None,
    watch: Watch | None = None,
    unreachable: Callable[[Stock, int, int], Exception] | None = None,
) -> Choice:
    """Turn the surges of sample A round.

    Parameters
    ----------
    player : Player
        Draws and plays the surges.
    base : Stock
        Values of the items that do not vary.
    vary : sequence of str
        Names of items; the first is the ladder.
    prices, limits : Prices, SearchLimits
        What things cost, and how far to look.
    surges : int
        Number of surges.
    over : OverSurges
        How surges are shared out.
    guess : dict, optional
        Where to begin, by item; wrong guesses cost plays, not truth.
    watch : Watch, optional
        Where progress goes.
    unreachable : callable, optional
        Makes the exception when plenty is too little: (ample stock, passes, surges).

    Returns
    -------
    Choice
        The least rungs, by surge and line.
    """
    watch = watch or Watch()
    axes = whole_axes(vary, prices, limits)
    ample = ample_stock(base, axes)
    start = tuple((guess or {}).get(axis.item, ITEMS[axis.item].of(base)) for axis in axes)
    task = PilotTask(player, Sample.CHOOSE, ample, axes, start)
    pilot_numbers = range(min(PILOT, surges))
    found = watch.over(over, task, pilot_numbers[:_SCOUTS], "where to look")
    if scouts := [pilot for pilot in found if pilot is not None]:
        task = replace(task, guess=_middle(scouts))
    found += watch.over(over, task, pilot_numbers[_SCOUTS:], "where to look")
    pilots = [pilot for pilot in found if pilot is not None]
    plays = sum(pilot.plays for pilot in pilots) + len(found) - len(pilots)
    share = player.target.share_of_surges
    if not pilots or upper_limit(len(pilots), len(found), _UNREACHABLE_ALPHA) < share:
        raise _error(unreachable, ample, len(pilots), len(found))
    if len(pilots) < len(found):
        # one play a surge tells whether it is worth while to turn them all round
        plenty = Ledger(player, over, watch, sample=Sample.CHOOSE)
        plenty.extend([ample], surges, "is plenty enough")
        plays, kept = plays + plenty.plays, plenty.passes(ample)
        if upper_limit(kept, surges, _UNREACHABLE_ALPHA) < share:
            raise _error(unreachable, ample, kept, surges)
    for widen in range(4):
        space = bound_box(pilots, axes, base, prices, share, widen)
        first = InvertTask(player, Sample.CHOOSE, space, *_guess(pilots, space))
        began_s = watch.forecast.clock()
        early = watch.over(over, first, pilot_numbers, "first surges")
        early_plays = sum(result.plays for result in early)
        plays += early_plays
        head = np.array([result.least for result in early], dtype=np.int16)
        watch.forecast.renew(len(early), early_plays, surges - len(early), began_s)
        _tell_best(watch, Choice(space, head, 0, prices, ample, share))
        space = close_dear_lines(space, head, prices)
        rest = InvertTask(player, Sample.CHOOSE, space, *_guess(pilots, space))
        late = watch.over(over, rest, range(len(early), surges), "choosing")
        plays += sum(result.plays for result in late)
        least = np.array([*head, *(result.least for result in late)], dtype=np.int16)
        entries = float(np.mean([result.entries for result in (*early, *late)]))
        lacking = np.flatnonzero(least[:, -1] >= len(space.ladder))
        if len(lacking) <= _LACKING * (1.0 - share) * surges or _at_limits(space, axes):
            break
    kept = surges - len(lacking)
    if upper_limit(kept, surges, _UNREACHABLE_ALPHA) < share:
        raise _error(unreachable, ample, kept, surges)
    choice = Choice(space, least, plays, prices, ample, share, entries)
    _tell_best(watch, choice)
    return choice


def _tell_best(watch: Watch, choice: Choice) -> None:
    """Tell the cheapest stock of the surges turned round so far."""
    stock = choice.cheapest(choice.share)
    if stock is not None:
        seen = f"an estimate from {choice.surges} simulated surges"
        watch.best(SoFar(stock, stock_cost(stock, choice.prices), seen))


def _guess(pilots: Sequence[Pilot], space: Space) -> tuple[int, int]:
    """Return the rung that half of the pilot's surges need with plenty of the rest.

    And how far off that is for half of them: where the search for one surge begins, and its
    first stride.
    """
    ladders = sorted(pilot.ladder for pilot in pilots)
    middle = ladders[len(ladders) // 2]
    off = sorted(abs(ladder - middle) for ladder in ladders)[len(ladders) // 2]
    return (middle - space.ladder.low) // space.ladder.step, off // space.ladder.step


def _middle(pilots: Sequence[Pilot]) -> tuple[int, ...]:
    """Return what half of the pilot's surges need of each item, the ladder first."""
    needs = [(pilot.ladder, *pilot.least) for pilot in pilots]
    return tuple(sorted(column)[len(column) // 2] for column in zip(*needs, strict=True))


def _rungs_serving(least: NDArray[np.int16], needed: int) -> NDArray[np.int64]:
    """Return the least rung of each line that serves so many surges."""
    return np.asarray(np.sort(least, axis=0)[needed - 1], dtype=np.int64)


def _at_limits(space: Space, axes: Sequence) -> bool:  # type: ignore[type-arg]
    boxed = (space.ladder, *space.axes)
    return all(mine.high >= whole.high for mine, whole in zip(boxed, axes, strict=True))


def _error(
    unreachable: Callable[[Stock, int, int], Exception] | None,
    ample: Stock,
    passes: int,
    surges: int,
) -> Exception:
    if unreachable is not None:
        return unreachable(ample, passes, surges)
    from surge_sim.errors import OutOfReach

    return OutOfReach(f"the target was kept in {passes} of {surges} surges with {ample}")
