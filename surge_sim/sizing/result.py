"""What a sizing found, and its tables: all of them read the one ledger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
import pandas as pd

from surge_sim.equipment.stock import ITEMS, PARTS, added_words, count_words, per_surge, purchase
from surge_sim.sizing.ledger import Entry, Ledger
from surge_sim.sizing.player import Seen
from surge_sim.statistics.intervals import quantile_over_surges
from surge_sim.units import DAY_S

if TYPE_CHECKING:
    from surge_sim.demand.replay import Replay
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.schema import Prices, Supplies, Target
    from surge_sim.sizing.least import LeastCost
    from surge_sim.sizing.search import SearchRegion

Stage = TypeVar("Stage")

#: stages of the table in the folder, at most
MOST_STAGES = 10
#: an hour of the clock with fewer entries in all surges is never called the worst one
_FEWEST_IN_HOUR = 20


@dataclass(frozen=True, repr=False)
class SizeResult:
    """The recommended stock, the order of buying it, and the evidence."""

    name: str
    title: str
    seed: int
    target: Target
    confidence: float
    #: surges that chose, and most that may confirm
    choose: int
    surges: int
    region: SearchRegion
    #: candidates in the order of their tests, and what they were fixed as
    chain: tuple[Stock, ...]
    digest: str
    #: the order of buying: from the stock in hand to the recommended one, and what is beyond
    way: tuple[Stock, ...]
    recommended: Stock
    ledger: Ledger
    #: share of sample A on target by candidate: an estimate that flatters
    chosen_shares: dict[Stock, float]
    least: LeastCost
    #: what people wait for with the stock in hand
    waiting: pd.DataFrame
    plays: int
    new: bool = False
    #: the best use of so much money
    spend: float | None = None
    spent: Stock | None = None
    #: surges on target with every range at its central value, of how many
    central: tuple[int, int] | None = None
    #: hours of work in a surge for one more cleaner on every shift
    cleaner_hours: float = 0.0
    #: clock times from which to which cleaners are on duty [s]
    shifts: tuple[tuple[int, int], ...] = ()
    #: hours of the clock with entries in which nobody of the crew is on duty
    unwiped: tuple[int, ...] = ()
    shelf: Supplies | None = None
    notes: tuple[str, ...] = ()
    #: of a recorded log that is played
    replay: Replay | None = None

    def __repr__(self) -> str:
        """Return the answer in a few lines; the document of the command says it whole."""
        from surge_sim.cautions import CAUTION_IN_SHORT

        best = self.best
        buy = added_words(self.owned, self.recommended)
        price = f"{self.cost:,.10g} {self.prices.currency}"
        tested = f"{best.verdict} on {best.passes:,} of {best.surges:,} new simulated surges"
        if self.replay is not None:
            tested = "for one recorded period, replayed; random variation is not covered"
        return f"{self.title or self.name}\nBuy {buy}: {price}; {tested}.\n{CAUTION_IN_SHORT}"

    @property
    def owned(self) -> Stock:
        """The stock in hand: the floor of the search."""
        return self.region.owned

    @property
    def prices(self) -> Prices:
        """What things cost."""
        return self.region.prices

    @property
    def cost(self) -> float:
        """Price of the answer: paid once and for one surge."""
        return self.region.money(self.recommended)

    @property
    def best(self) -> Entry:
        """What is known of the recommended stock."""
        return self.ledger.entry(self.recommended)

    @property
    def stages(self) -> tuple[Stock, ...]:
        """Stocks of the order of buying: nothing, the way to the answer, and a stage or two on."""
        return thinned(self.way, self.recommended, MOST_STAGES)

    @property
    def stages_table(self) -> pd.DataFrame:
        """One row per stage; late entries, hours and worst day on the same surges for all."""
        return self.table_of(self.stages)

    def table_of(self, stocks: Sequence[Stock]) -> pd.DataFrame:
        """Return the table of stages for some stocks, each with more than the one before."""
        rows, before = [], self.owned
        for place, stock in enumerate(stocks):
            entry, seen = self.ledger.entry(stock), self.ledger.rows(stock)
            entries = seen[:, Seen.ENTRIES].sum()
            worst = seen[:, Seen.WORST_LATE] / seen[:, Seen.WORST_ENTRIES].clip(min=1)
            rows.append(
                {
                    "stage": place,
                    "bought": added_words(before, stock),
                    "recommended": stock == self.recommended,
                    **stock_columns(stock),
                    **self._money_columns(stock),
                    **_evidence_columns(entry),
                    "same_surges": len(seen),
                    "same_surges_on_target": int(seen[:, Seen.ON_TARGET].sum()),
                    "entries": float(seen[:, Seen.ENTRIES].mean()),
                    "late": float(seen[:, Seen.LATE].mean()),
                    "share_late": float(seen[:, Seen.LATE].sum() / max(entries, 1)),
                    "hours_waited": float(seen[:, Seen.WAIT_S].mean() / 3600),
                    "worst_day_share_late": float(worst.mean()),
                    **self.remaining(stock),
                }
            )
            before = stock
        return stock_table(rows).astype({"worst_hour": "Int64"})

    def remaining(self, stock: Stock) -> dict[str, Any]:
        """Return what stays bad with a stock that was played to the end, as columns.

        Entries without a kit, means over surges, and the hour of the clock with the largest share
        of late entries in all surges; without one where no hour has entries enough.
        """
        seen = self.ledger.rows(stock)
        entries, late = (
            seen[:, first : first + 24].sum(axis=0) for first in (Seen.BY_HOUR, Seen.LATE_BY_HOUR)
        )
        shares = np.where(entries >= _FEWEST_IN_HOUR, late / np.maximum(entries, 1), -1.0)
        worst = int(shares.argmax())
        known = bool(shares[worst] >= 0)
        return {
            "unserved": float(seen[:, Seen.UNSERVED].mean()),
            "urgent_entries": float(seen[:, Seen.URGENT].mean()),
            "urgent_unserved": float(seen[:, Seen.URGENT_UNSERVED].mean()),
            "worst_hour": worst if known else None,
            "worst_hour_share_late": float(shares[worst]) if known else None,
        }

    @property
    def tested_table(self) -> pd.DataFrame:
        """One row per stock that was played on fresh surges, in the order of money."""
        places = {stock: place for place, stock in enumerate(self.chain, 1)}
        rows = []
        for entry in sorted(self.ledger.entries, key=lambda one: self.region.order(one.stock)):
            place = places.get(entry.stock)
            rows.append(
                {
                    **stock_columns(entry.stock),
                    **self._money_columns(entry.stock),
                    "test": "candidate" if place else entry.test,
                    "order_of_test": place,
                    "share_on_target_choosing": self.chosen_shares.get(entry.stock),
                    "required_share": self.target.share_of_surges,
                    "alpha": self.ledger.alpha,
                    **_evidence_columns(entry),
                }
            )
        return stock_table(rows).astype({"order_of_test": "Int64"})

    @property
    def parts_table(self) -> pd.DataFrame:
        """One row per part that can run out: shelf, use, and how often it was out of stock."""
        rows = []
        for place, name in enumerate(PARTS):
            part = getattr(self.shelf, name, None)
            if part is None:
                continue
            extra = ITEMS[name].of(self.recommended) - ITEMS[name].of(self.owned)
            hand, best = self.ledger.rows(self.owned), self.ledger.rows(self.recommended)
            share, used = self.target.share_of_surges, best[:, Seen.USED + place]
            middle, low, high = quantile_over_surges(used, share, self.confidence)
            alike = self.replay is not None and self.replay.alike
            rows.append(
                {
                    "part": name,
                    "on_shelf": part.spare,
                    "to_buy": extra,
                    "on_shelf_recommended": part.spare + extra,
                    "reorder_point": None
                    if part.reorder_point is None
                    else part.reorder_point + extra,
                    "order_quantity": part.order_quantity,
                    "lead_time_days": part.lead_time / DAY_S,
                    "price_of_more": extra * ITEMS[name].lot_price(self.prices),
                    "share_of_surges": share,
                    "used": middle,
                    "used_low": None if alike else low,
                    "used_high": None if alike else high,
                    "surges": len(best),
                    "surges_short_in_hand": int((hand[:, Seen.STOCK_OUTS + place] > 0).sum()),
                    "surges_short": int((best[:, Seen.STOCK_OUTS + place] > 0).sum()),
                }
            )
        table = pd.DataFrame(rows)
        whole = [
            name for name in ("reorder_point", "used", "used_low", "used_high") if name in table
        ]
        return table.astype(dict.fromkeys(whole, "Int64"))

    def _money_columns(self, stock: Stock) -> dict[str, float]:
        return {
            "cost": self.region.money(stock),
            "purchase": purchase(self.owned, stock, self.prices),
            "paid_per_surge": per_surge(self.owned, stock, self.prices),
        }


def shelf_words(shelf: Supplies | None) -> list[str]:
    """Return the spare parts that a scenario has on its shelf: ``2 hoods``, ``1 prefilter``."""
    parts = {name: getattr(shelf, name, None) for name in PARTS}
    return [count_words(name, part.spare) for name, part in parts.items() if part and part.spare]


def _evidence_columns(entry: Entry) -> dict[str, Any]:
    return {
        "surges": entry.surges,
        "surges_on_target": entry.passes,
        "on_target_by_block": "; ".join(f"{passes} of {count}" for passes, count in entry.blocks),
        "low": entry.low,
        "high": entry.high,
        "verdict": entry.verdict,
    }


def thinned(way: Sequence[Stage], best: Stage, most: int) -> tuple[Stage, ...]:
    """Return at most so many stages: the first, the last steps to the best, and what is beyond.

    Stages are stocks, or their places.
    """
    end = way.index(best)
    beyond = way[end + 1 : end + 1 + (2 if most > 6 else 1)]
    room, places = most - len(beyond), list(range(end + 1))
    if len(places) > room:
        near = places[-(room // 2 + 1) :]
        far = room - len(near)
        places = [*(round(place * near[0] / far) for place in range(far)), *near]
    return (*(way[place] for place in places), *beyond)


#: most units have hoods of one size
_LARGE_HOODS = ITEMS["large_hoods"].field


def stock_columns(stock: Stock) -> dict[str, int]:
    """Return the counts of a stock as columns; those of extras too.

    Of large hoods, which most units have none of, only where there are any: see `stock_table`.
    """
    numbers = {item.field: item.of(stock) for item in ITEMS.values()}
    return {name: number for name, number in numbers.items() if number or name != _LARGE_HOODS}


def stock_table(rows: Sequence[Mapping[str, object]]) -> pd.DataFrame:
    """Return rows with the columns of stocks as a table: where one has large hoods, all do."""
    table = pd.DataFrame(rows)
    if _LARGE_HOODS in table:
        whole = table.pop(_LARGE_HOODS).fillna(0).astype(int)
        table.insert([*table].index("extra_he_filters") + 1, _LARGE_HOODS, whole)
    return table
