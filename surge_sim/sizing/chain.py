"""The frozen chain: candidates from dear and rich to cheap and doubtful, fixed before sample B.

A list of hypotheses in an order fixed beforehand, each tested at level alpha, stopping at the
first that is not rejected, errs with chance alpha at most, whatever the candidates have in
common (Hsu and Berger, "Stepwise confidence intervals without multiplicity adjustment", Journal
of the American Statistical Association 94, 1999).
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from surge_sim.sizing.items import ITEMS, stock_cost

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.choose import Choice

#: exact limit at the number of surges fixed beforehand
FIXED = "fixed number"
#: half of the chance for evidence looked at early, half for the fixed number
EARLY = "early or fixed number"
#: evidence that may be looked at after any surge
ANYTIME = "anytime"

#: part of the chance of error that is kept for one item less of a candidate
_KEPT = 0.2
#: longest chain; each member may cost a play of every certifying surge
_MOST = 7
#: how much less of sample A, in parts of what may be missed, counts as about as good
_NEARLY = 0.05
#: how much more of everything the first candidate has
_OVER = 0.1


@dataclass(frozen=True)
class Link:
    """One candidate of the chain."""

    stock: Stock
    cost: float
    #: share of sample A that it served: an estimate that flatters
    share_chosen: float
    #: which test it must pass, decided beforehand
    test: str


@dataclass(frozen=True)
class Chain:
    """Candidates with the rules of their test; ``digest`` is made before any test."""

    links: tuple[Link, ...]
    surges: int
    share: float
    #: chance of a wrong claim, at most: the chain and the trims share it
    alpha: float
    #: items of which lots may be left out of the candidate that the walk ends at, one by one
    trims: tuple[str, ...] = ()

    @property
    def level(self) -> float:
        """Chance of error of each candidate's test."""
        return self.alpha * (1.0 - _KEPT)

    @property
    def kept(self) -> float:
        """Chance of error of all lots left out of one candidate."""
        return self.alpha * _KEPT / max(len(self.links), 1)

    @property
    def digest(self) -> str:
        """SHA-256 of everything that was decided beforehand."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True).encode()).hexdigest()


def freeze(choice: Choice, surges: int, share: float, alpha: float, anytime: bool = False) -> Chain:
    """Build the chain from sample A.

    Parameters
    ----------
    choice : Choice
        What sample A found.
    surges : int
        Surges of sample B.
    share : float
        The share of surges to be shown [0..1].
    alpha : float
        Chance of a wrong claim, at most.
    anytime : bool
        Test every candidate with evidence that may be looked at after any surge.

    Returns
    -------
    Chain
        Starts at a stock that served all of sample A (a chain that starts lower often ends
        with nothing certified) and goes on to stocks just below the share.
    """
    links = _richest(choice, share, anytime)
    for needed in _levels(choice.surges, share):
        stock = choice.cheapest(needed / choice.surges)
        if stock is None:
            continue
        cost = stock_cost(stock, choice.prices)
        served = choice.share_of(stock) or 0.0
        if links and not cost < links[-1].cost:
            continue
        if links:
            links.extend(_between(choice, links[-1], cost, served, share, anytime))
        links.append(Link(stock, cost, served, _test(served, share, anytime)))
    items = tuple(axis.item for axis in (choice.space.ladder, *choice.space.axes))
    return Chain(tuple(_thin(links)), surges, share, alpha, items)


def _richest(choice: Choice, share: float, anytime: bool) -> list[Link]:
    """Begin with something over what served most: that sample A was lucky must not end it all."""
    most = int(choice.passing().max())
    stock = choice.cheapest(most / choice.surges) if most else None
    if stock is None:
        return []
    for axis in (choice.space.ladder, *choice.space.axes):
        item = ITEMS[axis.item]
        number = item.of(stock)
        lots = max(math.ceil(_OVER * number / axis.step), 1)
        item_limit = item.of(choice.ample)
        stock = item.put(stock, min(number + lots * axis.step, max(item_limit, number)))
    served = most / choice.surges
    return [Link(stock, stock_cost(stock, choice.prices), served, _test(1.0, share, anytime))]


def _test(served: float, share: float, anytime: bool) -> str:
    """Far above the share a few surges are evidence enough; near it all are needed."""
    if anytime:
        return ANYTIME
    return EARLY if served >= share + 0.55 * (1.0 - share) else FIXED


def _between(
    choice: Choice, last: Link, cost: float, served: float, share: float, anytime: bool
) -> list[Link]:
    """Return steps on the way: one item less than the last link, about as good as the next.

    Without them a step that changes the mix may fail although one item less would have passed.
    """
    found = []
    for axis in (choice.space.ladder, *choice.space.axes):
        item = ITEMS[axis.item]
        stock = item.put(last.stock, item.of(last.stock) - axis.step)
        price, share_chosen = stock_cost(stock, choice.prices), choice.share_of(stock)
        if share_chosen is None or not cost < price < last.cost:
            continue
        if share_chosen >= max(served - _NEARLY * (1.0 - share), share):
            found.append(Link(stock, price, share_chosen, _test(share_chosen, share, anytime)))
    found.sort(key=lambda link: -link.cost)
    # two of one price cannot both be steps down
    return [
        link for place, link in enumerate(found) if not place or link.cost < found[place - 1].cost
    ]


def _levels(surges: int, share: float) -> list[int]:
    """Return numbers of sample-A surges to be served: all of them, then less and less."""
    gap = 1.0 - share
    wide = [1.0, 1.0 - 0.1 * gap, 1.0 - 0.2 * gap, 1.0 - 0.35 * gap, 1.0 - 0.5 * gap]
    start = math.floor((share + 0.45 * gap) * surges + 1e-9)
    end = math.ceil((share - 0.1 * gap) * surges - 1e-9)
    levels = {math.ceil(level * surges - 1e-9) for level in wide}
    levels.update(range(max(end, 1), start + 1))
    return sorted(levels, reverse=True)


def _thin(links: list[Link]) -> list[Link]:
    """Keep the first, and at most seven, spread evenly."""
    if len(links) <= _MOST:
        return links
    step = (len(links) - 1) / (_MOST - 1)
    return [links[round(index * step)] for index in range(_MOST)]
