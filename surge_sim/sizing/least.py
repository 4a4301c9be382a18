"""The least that must be paid: below it every stock is ruled out, if more stock never hurts.

A stock that is shown not to meet the target takes every stock with no more of anything with it.
Let the cheapest stock that meets the target in truth be x. The bound is wrong only if some stock
with at least as much of everything as x was shown not to meet it. But that stock kept the target
in every surge in which x did, so the same test would have shown x not to meet it, at the same
look. However many stocks are tried, the chance of error is therefore that of one test.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import within
from surge_sim.sizing.ledger import NOT_MET

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.choosing import SampleA
    from surge_sim.sizing.ledger import Ledger
    from surge_sim.sizing.search import Axis, SearchRegion

#: stocks tried at most, and steps of the search for the cheapest that is left
_TRIED, _STEPS = 16, 20_000
#: stocks that served at most this part of the share in sample A are taken together in one test; up
#: to the second part, one is worth a test of its own
_CLEARLY, _NEARLY = 0.9, 0.96
#: surges of sample A that tell how rich such a stock may be
_LOOKED = 60
#: a bound of at least this part of the answer's price is called strong
_STRONG = 0.8


@dataclass(frozen=True)
class LeastCost:
    """The least cost lies between ``low`` and ``high``."""

    low: float
    #: price of the recommended stock
    high: float
    #: stocks that were shown not to meet the target, the richest of them
    ruled_out: tuple[Stock, ...]

    @property
    def strength(self) -> str:
        """How strong the proof is: exact, strong or weak."""
        if self.low >= self.high - 1e-9:
            return "exact"
        return "strong" if self.low >= _STRONG * self.high else "weak"


def least_cost(sample: SampleA, ledger: Ledger, region: SearchRegion, best: Stock) -> LeastCost:
    """Rule out stocks, always the cheapest that is left, until one is left that may do.

    Parameters
    ----------
    sample : SampleA
        Says which stocks are worth a test.
    ledger : Ledger
        Tests them; what is ruled out there already counts.
    region : SearchRegion
        What may be bought.
    best : Stock
        The recommended stock.
    """
    out = [entry.stock for entry in ledger.entries if entry.verdict == NOT_MET]
    high = region.money(best)
    low = 0.0
    for _ in range(_TRIED):
        cheapest = _cheapest_left(region, out, high)
        if cheapest is None:
            low = high
            break
        low = region.money(cheapest)
        served = sample.share(cheapest)
        if served > _NEARLY * ledger.share:
            break
        rich = _richest_like(sample, region, cheapest, _CLEARLY * ledger.share)
        if ledger.decide(rich, "least cost").verdict != NOT_MET:
            break
        out = [one for one in out if not within(one, rich)] + [rich]
    return LeastCost(low, high, tuple(out))


def _cheapest_left(region: SearchRegion, out: Sequence[Stock], high: float) -> Stock | None:
    """Return the cheapest stock below a price that is not within one that is ruled out."""
    heap, seen = [(0.0, region.owned)], {region.owned}
    for _ in range(_STEPS):
        if not heap:
            return None
        price, stock = heapq.heappop(heap)
        if price >= high - 1e-9:
            return None
        covering = next((one for one in out if within(stock, one)), None)
        if covering is None:
            return stock
        for axis in region.axes:
            richer = _beyond(axis, stock, covering)
            if richer is not None and richer not in seen:
                seen.add(richer)
                heapq.heappush(heap, (region.money(richer), richer))
    return heap[0][1] if heap else None


def _beyond(axis: Axis, stock: Stock, covering: Stock) -> Stock | None:
    """Return the stock with just more of one item than another has; None beyond the limits."""
    gap = axis.item.of(covering) - axis.item.of(stock)
    richer = axis.more(stock, math.floor(gap / axis.lot) + 1)
    return richer if axis.item.of(richer) > axis.item.of(covering) else None


def _richest_like(sample: SampleA, region: SearchRegion, stock: Stock, share: float) -> Stock:
    """Return a stock with all the more of everything that sample A still sees clearly missing.

    An item at a time, as much as is possible, the dearest last: what then lacks is what is dear.
    If the stock itself serves more of these surges than the share, it gets what serves no more.
    """
    surges = min(sample.surges, _LOOKED)
    share = max(share, float((sample.missed([stock], surges)[0] == 0).mean()))
    for axis in sorted(region.axes, key=lambda axis: axis.price):
        low, high = 0, axis.lots(stock, region.ample)
        step = high
        while low < high:
            kept = sample.missed([axis.more(stock, step)], surges)[0] == 0
            if kept.mean() <= share:
                low = step
            else:
                high = step - 1
            step = (low + high + 1) // 2
        stock = axis.more(stock, low)
    return stock
