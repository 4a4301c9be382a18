"""How often more stock hurt: counted over every pair of stocks that sample B happens to have."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from surge_sim.sizing.items import stock_words, within
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


def count_harm(ledger: Ledger) -> Harm:
    """Compare all pairs of stocks of the ledger of which one is within the other."""
    rows = []
    stocks = ledger.stocks
    longest = max((ledger.played(stock) for stock in stocks), default=0)
    touched, hurt_any = np.zeros(longest, dtype=bool), np.zeros(longest, dtype=bool)
    for less in stocks:
        for more in stocks:
            if less == more or not within(less, more):
                continue
            common = min(ledger.played(less), ledger.played(more))
            poor, rich = ledger.kept(less)[:common], ledger.kept(more)[:common]
            hurt = (poor == 1) & (rich == 0)
            touched[:common] = True
            hurt_any[:common] |= hurt
            helped = int(((poor == 0) & (rich == 1)).sum())
            row = (stock_words(less), stock_words(more), common, int(hurt.sum()), helped)
            rows.append(row)
    surges, count = int(touched.sum()), int(hurt_any.sum())
    limit = upper_limit(count, surges, 0.05) if surges else 1.0
    return Harm(surges, count, limit, pd.DataFrame(rows, columns=list(_COLUMNS)))
