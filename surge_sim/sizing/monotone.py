"""How often more stock hurt: counted over every pair of stocks that sample B happens to have."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.equipment.stock import Stock
from surge_sim.sizing.items import stock_words, within
from surge_sim.sizing.leaning import LeaningLedger
from surge_sim.sizing.ledger import Ledger
from surge_sim.statistics.binomial import upper_limit

_COLUMNS = ("less", "more", "surges", "hurt", "helped")


@dataclass(frozen=True)
class Harm:
    """Surges in which a richer stock missed the target that a poorer one kept."""

    #: surges in which any comparison was made, and in which any richer stock did worse
    surges: int
    hurt: int
    #: 95 % upper limit of the share of such surges
    hurt_at_most: float
    #: one row per pair of stocks
    pairs: pd.DataFrame


def count_harm(ledger: Ledger, leaning: LeaningLedger | None = None) -> Harm:
    """Compare all pairs of stocks of which one is within the other, surge by surge.

    Parameters
    ----------
    ledger : Ledger
        Stocks played on sample B.
    leaning : LeaningLedger, optional
        Further plays of the same surges; what was implied and not played does not count.
    """
    played = _played(ledger, leaning)
    longest = max((len(row) for row in played.values()), default=0)
    touched, hurt_any = np.zeros(longest, dtype=bool), np.zeros(longest, dtype=bool)
    rows = []
    for less, poor in played.items():
        for more, rich in played.items():
            if less == more or not within(less, more):
                continue
            common = min(len(poor), len(rich))
            both = (poor[:common] >= 0) & (rich[:common] >= 0)
            hurt = (poor[:common] == 1) & (rich[:common] == 0)
            helped = (poor[:common] == 0) & (rich[:common] == 1)
            if both.any():
                touched[:common] |= both
                hurt_any[:common] |= hurt
                counts = int(both.sum()), int(hurt.sum()), int(helped.sum())
                rows.append((stock_words(less), stock_words(more), *counts))
    surges, count = int(touched.sum()), int(hurt_any.sum())
    limit = upper_limit(count, surges, 0.05) if surges else 1.0
    return Harm(surges, count, limit, pd.DataFrame(rows, columns=list(_COLUMNS)))


def _played(ledger: Ledger, leaning: LeaningLedger | None) -> dict[Stock, NDArray[np.int64]]:
    """Return 1 on target, 0 not, -1 not played, by stock and surge; smallest stocks first."""
    played = {stock: ledger.kept(stock).astype(np.int64) for stock in ledger.stocks}
    for stock, row in (leaning.played if leaning else {}).items():
        mine = played.get(stock, np.zeros(0, dtype=np.int64))
        whole = row.astype(np.int64)
        whole[: len(mine)] = mine[: len(whole)]
        played[stock] = whole if len(whole) >= len(mine) else mine
    return dict(sorted(played.items()))
