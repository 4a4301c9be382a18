"""What the surges say about one stock by itself, so that stocks can be compared by eye.

The limits with which several stocks are judged at once are stricter than that of the recommended
one: they answer whether a stock may be relied upon, not which of two does better.
"""

from __future__ import annotations

from surge_sim.sizing.certify import Evidence
from surge_sim.sizing.chain import ANYTIME, Chain
from surge_sim.sizing.looks import looks
from surge_sim.statistics.binomial import anytime_limits, lower_limit


def low_alone(entry: Evidence, chain: Chain) -> float:
    """Return the lower limit of a stock as if it were the only one that is tested.

    Parameters
    ----------
    entry : Evidence
        What was seen of the stock, on how many surges.
    chain : Chain
        Its numbers of surges and its chance of error, the same for every stock.

    Returns
    -------
    float
        At least so large is the share of surges on target [0..1], with confidence
        ``1 - chain.alpha``: the confidence that the upper limit of every stock has too.
    """
    if entry.test == ANYTIME:
        return anytime_limits(entry.passes, entry.surges, chain.alpha)[0]
    part = next(look.part for look in looks(chain.surges) if look.surges == entry.surges)
    return lower_limit(entry.passes, entry.surges, part * chain.alpha)
