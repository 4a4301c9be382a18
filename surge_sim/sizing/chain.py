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
from surge_sim.sizing.parts import NO_PARTS, Box

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.choose import Choice

#: exact limits at looks that were fixed beforehand
LOOKS = "looks fixed beforehand"
#: evidence that may be looked at after any surge
ANYTIME = "anytime"
#: what a test may come to
PASSES, FAILS, UNDECIDED = "passes", "fails", "undecided"

#: part of the chance of error that is kept for one item less of a candidate
_KEPT = 0.2
#: how much more of everything the first candidate has
_OVER = 0.1
#: how much of sample A the others served, first and last: parts of the way from the share to all
_DEAR, _CHEAP = 0.75, 0.05
#: what varies is so much cheaper than in the one before: each may cost a play of every surge
_STEP = 0.025
#: beside the first there are so many candidates, fewer where so many entries would be played
_FEWEST, _MOST, _ENTRIES = 3, 7, 50_000_000


def candidate_level(alpha: float) -> float:
    """Return the chance of error of each candidate's test, of a whole chance ``alpha``."""
    return alpha * (1.0 - _KEPT)


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
    #: items of which lots may be left out of the candidate that the walk ends at, one by one;
    #: "parts": all extra parts are one lot
    trims: tuple[str, ...] = ()
    #: one lot less is looked at after any surge, up to so many; None: at the looks fixed beforehand
    look_on: int | None = None

    @property
    def level(self) -> float:
        """Chance of error of each candidate's test."""
        return candidate_level(self.alpha)

    @property
    def kept(self) -> float:
        """Chance of error of all lots left out of one candidate."""
        return self.alpha * _KEPT / max(len(self.links), 1)

    @property
    def digest(self) -> str:
        """SHA-256 of everything that was decided beforehand."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True).encode()).hexdigest()


def freeze(
    choice: Choice,
    surges: int,
    share: float,
    alpha: float,
    anytime: bool = False,
    more: int | None = None,
    box: Box = NO_PARTS,
) -> Chain:
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
    more : int, optional
        Test one lot less of the certified candidate in this way, too, on up to so many surges;
        with ``anytime`` it is, on all surges if no more are named.
    box : Box
        Parts that sample A asks for: each candidate gets those for its share of sample A.

    Returns
    -------
    Chain
        Starts with something over the stock that served most of sample A (a chain that starts
        lower often ends with nothing certified) and goes on to stocks that served little more
        than the share.
    """
    test = ANYTIME if anytime else LOOKS
    links = _richest(choice, box, test)
    first, last = (share + part * (1.0 - share) for part in (_DEAR, _CHEAP))
    start, end = math.floor(first * choice.surges + 1e-9), math.ceil(last * choice.surges - 1e-9)
    start = max(start, min(end, choice.surges))
    fixed = choice.space.base
    for axis in (choice.space.ladder, *choice.space.axes):
        fixed = ITEMS[axis.item].put(fixed, 0)
    fixed_cost = stock_cost(fixed, choice.prices)
    for served in range(start, max(end, 1) - 1, -1):
        stock = choice.cheapest(served / choice.surges)
        if stock is None:
            continue
        stock = box.put(stock, served / choice.surges)
        cost = stock_cost(stock, choice.prices)
        # of what varies: that much cheaper than the one before
        step = _STEP * (links[-1].cost - fixed_cost) if links else 0.0
        if not links or (cost < links[-1].cost and cost <= links[-1].cost - step):
            links.append(Link(stock, cost, choice.share_of(stock) or 0.0, test))
    items = tuple(axis.item for axis in (choice.space.ladder, *choice.space.axes))
    if any(any(link.stock.extra_parts) for link in links):
        items += ("parts",)
    # a chain that is walked again with more surges must be the same
    most = _MOST if anytime else int(_ENTRIES / max(surges * choice.entries, 1.0))
    links[1:] = _thin(links[1:], min(max(most, _FEWEST), _MOST))
    look_on = more if more is not None or not anytime else surges
    return Chain(tuple(links), surges, share, alpha, items, look_on)


def _thin(links: list[Link], most: int) -> list[Link]:
    """Keep so many, spread evenly, the first and the last among them."""
    if len(links) <= most:
        return links
    return [links[round(index * (len(links) - 1) / (most - 1))] for index in range(most)]


def _richest(choice: Choice, box: Box, test: str) -> list[Link]:
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
    stock = box.put(stock, 1.0, _OVER)
    return [Link(stock, stock_cost(stock, choice.prices), most / choice.surges, test)]
