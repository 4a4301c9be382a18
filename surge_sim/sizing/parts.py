"""Spare parts: how many more a surge asks for, and which of them are worth having.

Kits, batteries and bays are searched as if parts never ran out (`PLENTY` of them, without a
price), so that no kit is bought for the hood and the tube that come with it. What is used of a
part depends little on the number of kits; so one play of each choosing surge tells how many more
of each part would have kept the shelf from running empty. Candidates get that many parts, and are
tested with them on fresh surges like everything else: the guarantee is for the whole stock.

With ``n`` more of a part on the shelf and its reorder point ``n`` higher, orders go out at the same
moments as without them, and the shelf always holds ``n`` more. So the number that a surge asks for
follows from a single play, whatever the lead time and the order quantity. A second play, in which
an order goes out as soon as one part is used, tells how much of that an earlier order would save.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.stock import PLENTY
from surge_sim.randomness import Sample
from surge_sim.sizing.items import ITEMS, PARTS, stock_cost
from surge_sim.sizing.ledger import Ledger

if TYPE_CHECKING:
    from surge_sim.engine.log import PartCounts
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices
    from surge_sim.sizing.choose import Choice
    from surge_sim.sizing.player import Player
    from surge_sim.sizing.watch import OverSurges, Watch


@dataclass(frozen=True)
class PartsTask:
    """Play one surge and return what became of the parts; picklable."""

    player: Player
    sample: int
    stock: Stock

    def __call__(self, number: int) -> PartCounts:
        """Play to the end."""
        return self.player.surge(self.sample, number).score(self.stock, full=True).parts


@dataclass(frozen=True)
class Box:
    """What surges of sample A ask of each part that can run out; empty: none can."""

    #: parts that can run out, in order; those of which more are recommended; those held as they are
    names: tuple[str, ...]
    bought: tuple[str, ...]
    held: tuple[str, ...]
    #: used in each surge if none runs out, shape (surges, names)
    used: NDArray[np.int64]
    #: so many more than the scenario's shelf holds would not run out, shape (surges, names)
    asked: NDArray[np.int64]
    plays: int = 0
    #: likewise, if parts were ordered again as soon as one is used; None: no earlier order is left
    asked_early: NDArray[np.int64] | None = None

    def least(self, names: Sequence[str], share: float) -> dict[str, int]:
        """Return the least numbers with which none of some parts runs out in a share of surges.

        All parts get the number of the same rank among the surges, the least rank that does.
        """
        asked = self.asked[:, [self.names.index(name) for name in names]]
        if not asked.size:
            return {}
        for level in np.sort(asked, axis=0):
            if (asked <= level).all(axis=1).mean() >= share - 1e-9:
                break
        return dict(zip(names, map(int, level), strict=True))

    def put(self, stock: Stock, share: float, over: float = 0.0) -> Stock:
        """Return the stock with the parts for a share of surges, something over, for plenty."""
        numbers = self.least(self.bought, share)
        for name in PARTS:
            if ITEMS[name].of(stock) >= PLENTY:
                number = int(np.ceil((1.0 + over) * numbers.get(name, 0)))
                stock = ITEMS[name].put(stock, number)
        return stock


#: no part can run out
NO_PARTS = Box((), (), (), np.zeros((0, 0), dtype=np.int64), np.zeros((0, 0), dtype=np.int64))


def with_plenty(stock: Stock, names: Sequence[str]) -> Stock:
    """Return the stock with as many of some parts as are used."""
    for name in names:
        stock = ITEMS[name].put(stock, PLENTY)
    return stock


def find_box(
    player: Player,
    choice: Choice,
    searched: Sequence[str],
    held: Sequence[str],
    over: OverSurges,
    watch: Watch,
    early: Player | None = None,
) -> Box:
    """Find how many more of each part surges of sample A ask for, and drop what is not needed.

    Parameters
    ----------
    player : Player
        Draws and plays the surges.
    choice : Choice
        What sample A found with plenty of the parts that are searched.
    searched, held : sequence of str
        Parts that can run out: those that may be bought, and those that stay as they are.
    over, watch : OverSurges, Watch
        How surges are shared out; where progress goes.
    early : Player, optional
        Plays the same surges with parts ordered again as soon as one is used.

    Returns
    -------
    Box
        A part is bought only if, without it, the cheapest stock for the target keeps it in fewer
        surges.
    """
    names = tuple(name for name in PARTS if name in {*searched, *held})
    stock = choice.cheapest(choice.share)
    if not names or stock is None:
        return NO_PARTS
    columns = [PARTS.index(name) for name in names]
    plenty = with_plenty(stock, names)

    def played(by: Player) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        task = PartsTask(by, Sample.CHOOSE, plenty)
        found = watch.over(over, task, range(choice.surges), "use of parts")
        used, left = (
            np.array(numbers)[:, columns]
            for numbers in zip(*((one.used, one.least_left) for one in found), strict=True)
        )
        return used, np.maximum(PLENTY - left, 0)

    used, asked = played(player)
    box = Box(names, (), tuple(held), used, asked, choice.surges)
    box = _needed(box, player, stock, searched, choice, over, watch)
    if early is None or not box.bought:
        return box
    return replace(box, asked_early=played(early)[1], plays=box.plays + choice.surges)


def _needed(
    box: Box,
    player: Player,
    stock: Stock,
    searched: Sequence[str],
    choice: Choice,
    over: OverSurges,
    watch: Watch,
) -> Box:
    """Leave out, the dearest first, each part without which no surge is lost."""
    wanted = [name for name, number in box.least(searched, choice.share).items() if number]
    ledger = Ledger(player, over, watch, sample=Sample.CHOOSE)

    def passes(names: Sequence[str]) -> int:
        trial = replace(box, bought=tuple(names)).put(stock, choice.share)
        ledger.extend([trial], choice.surges, "use of parts")
        return ledger.passes(trial)

    prices, whole = choice.prices, replace(box, bought=tuple(wanted)).put(stock, choice.share)
    for name in sorted(wanted, key=lambda name: -_price(whole, name, prices)):
        without = [other for other in wanted if other != name]
        if passes(without) >= passes(wanted):
            wanted = without
    plays = box.plays + ledger.plays
    return replace(box, bought=tuple(name for name in PARTS if name in wanted), plays=plays)


def _price(stock: Stock, name: str, prices: Prices) -> float:
    """Return what the extra parts of one kind cost."""
    return stock_cost(stock, prices) - stock_cost(ITEMS[name].put(stock, 0), prices)
