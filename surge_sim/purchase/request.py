"""What is requested, item by item, and which purchase would reduce which waiting."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.equipment.stock import ITEMS, PER_SURGE

if TYPE_CHECKING:
    from surge_sim.purchase.sized import Sized
    from surge_sim.scenario.schema import Settings

#: told even where none of them is bought
_ALWAYS = ("kits", "batteries", "bays")
#: waiting that no purchase would reduce
NO_PURCHASE = "none"


def request_table(sized: Sized) -> pd.DataFrame:
    """Return one row per item: what is in hand, what is to buy, and its price.

    Columns are ``item``, ``in_hand`` (of spare parts: on the scenario's shelf), ``to_buy``,
    ``in_all`` [count], ``lot`` (smallest number
    that is sold at once), ``price_of_lot`` and ``price`` [the scenario's currency], ``paid``
    (``once`` or ``each surge``).
    """
    settings, rows = sized.scenario.settings, []
    prices = settings.prices
    for name, item in ITEMS.items():
        more = item.of(sized.proposed) - item.of(sized.in_hand)
        if not more and name not in _ALWAYS:
            continue
        lot, price = item.lot(prices), item.lot_price(prices)
        shelf = on_shelf(settings, name)
        rows.append(
            {
                "item": item.several or name.replace("_", " "),
                "in_hand": item.of(sized.in_hand) + shelf,
                "to_buy": more,
                "in_all": item.of(sized.proposed) + shelf,
                "lot": lot,
                "price_of_lot": price,
                "price": round(math.ceil(max(more, 0) / lot) * price, 9),
                "paid": "each surge" if name in PER_SURGE else "once",
            }
        )
    return pd.DataFrame(rows)


def on_shelf(settings: Settings, name: str) -> int:
    """Return how many of a spare part the scenario has on its shelf; 0 for other items."""
    part = getattr(settings.supplies, name, None)
    return 0 if part is None else int(part.spare)


def waiting_by_item(waiting: pd.DataFrame) -> pd.DataFrame:
    """Return how much of the waiting more of each item would reduce, the largest share first.

    Parameters
    ----------
    waiting : DataFrame
        From :func:`surge_sim.purchase.course.waiting_table`.

    Returns
    -------
    DataFrame
        ``reduced_by`` (`NO_PURCHASE`: nothing that is bought would), ``share_in_hand``,
        ``share_proposed`` [0..1], ``causes`` [count].
    """
    items = waiting["reduced_by"].replace("", NO_PURCHASE)
    shares = ["share_in_hand", "share_proposed"]
    groups = waiting.assign(reduced_by=items).groupby("reduced_by", sort=True)
    table = groups[shares].sum().join(groups.size().rename("causes")).reset_index()
    table[shares] = table[shares].astype(float).map(lambda share: float(f"{share:.6g}"))
    return table.sort_values("share_in_hand", ascending=False, kind="stable", ignore_index=True)
