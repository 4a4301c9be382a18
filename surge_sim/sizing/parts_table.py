"""The spare parts of a sizing as a table: shelf, use, and how often a part was out of stock."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.sizing.changes import first_use
from surge_sim.sizing.items import ITEMS, PARTS
from surge_sim.statistics.binomial import quantile_limits
from surge_sim.units import DAY_S

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.gear import Supplies
    from surge_sim.scenario.goal import Prices
    from surge_sim.sizing.parts import Box

#: what is recommended for a part: more of it; what is on the shelf; not asked
MORE, AS_IT_IS, HELD = "more", "as in hand", "held"


def parts_table(
    box: Box,
    shelf: Supplies,
    recommended: Stock,
    prices: Prices,
    share: float,
    confidence: float,
    short_in_hand: NDArray[np.int64],
    short: NDArray[np.int64],
) -> pd.DataFrame:
    """Return one row per part that can run out.

    Parameters
    ----------
    box : Box
        What surges of sample A ask for.
    shelf : Supplies
        The scenario's parts in hand, with their reorder points.
    recommended : Stock
        With its extra parts.
    prices : Prices
        What one part costs.
    share : float
        Share of surges [0..1] that the target asks for; of the quantiles of use too.
    confidence : float
        Of their limits, which are distribution-free.
    short_in_hand, short : ndarray, shape (surges, 4)
        Stock-outs by surge of sample B and part, with the stock in hand and the recommended one.
    """
    rows = []
    for place, name in enumerate(box.names):
        item, part, supply = ITEMS[name], getattr(shelf, name), PARTS.index(name)
        extra = item.of(recommended)
        low, used, high = quantile_limits(box.used[:, place], share, confidence)
        enough_low, enough, enough_high = quantile_limits(
            box.asked[:, place] + part.spare, share, confidence
        )
        # with an order as soon as one is used, where that saves parts; large lots may ask for more
        early = None
        if box.asked_early is not None and extra:
            _, early, _ = quantile_limits(box.asked_early[:, place] + part.spare, share, confidence)
            early = None if early is None or enough is None or early >= enough else early
        rows.append(
            {
                "part": name,
                "recommended": MORE if extra else HELD if name in box.held else AS_IT_IS,
                "on_shelf": part.spare,
                "on_shelf_recommended": part.spare + extra,
                "reorder_at": None if part.reorder_at is None else part.reorder_at + extra,
                "order_size": part.order_size,
                "lead_time_days": part.lead_time / DAY_S,
                "price_of_more": extra * item.lot_price(prices),
                "share_of_surges": share,
                "used": used,
                "used_low": low,
                "used_high": high,
                "enough": enough,
                "enough_low": enough_low,
                "enough_high": enough_high,
                "reorder_at_early": None if early is None else first_use(part),
                "enough_early": early,
                "surges": len(short),
                "surges_short_in_hand": int((short_in_hand[:, supply] > 0).sum()),
                "stock_outs_in_hand": float(short_in_hand[:, supply].mean()),
                "surges_short": int((short[:, supply] > 0).sum()),
                "stock_outs": float(short[:, supply].mean()),
            }
        )
    table = pd.DataFrame(rows)
    whole = [
        name
        for name in (
            "reorder_at", "used_low", "used_high", "enough_low", "enough_high",
            "reorder_at_early", "enough_early",
        )
        if name in table
    ]  # fmt: skip
    return table.astype(dict.fromkeys(whole, "Int64"))
