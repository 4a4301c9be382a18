"""What to buy next: one more of each item, two together, one less, all on the same surges."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.sizing.items import EXTRA, ITEMS, PARTS, Item, count_words, stock_cost
from surge_sim.statistics.binomial import paired_difference_interval, paired_p_value
from surge_sim.statistics.intervals import mean_interval

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import Prices
    from surge_sim.sizing.ledger import Ledger


#: what the progress bar says
LABEL = "one item more"


@dataclass(frozen=True)
class NextItems:
    """What a change of one lot, or of two, does to one stock."""

    stock: Stock
    surges: int
    #: surges on target with the stock as it is
    passes: int
    #: one row per change; see :func:`next_items`
    table: pd.DataFrame
    #: what to read from it, in words
    reading: str


def next_items(
    ledger: Ledger,
    stock: Stock,
    names: Sequence[str],
    prices: Prices,
    surges: int,
    confidence: float = 0.95,
    pairs: bool = False,
    less: bool = True,
    parts: Stock | None = None,
) -> NextItems:
    """Play a stock and its neighbours to the end of the same surges and compare.

    Parameters
    ----------
    ledger : Ledger
        A ledger that plays in full.
    stock : Stock
        The stock in hand, or the recommended one.
    names : sequence of str
        Items to change.
    prices : Prices
        Lots and their prices.
    surges : int
        Surges of the comparison.
    confidence : float
        Of every paired interval.
    pairs : bool
        Try two items together as well.
    less : bool
        Try one lot less of each.
    parts : Stock, optional
        The stock with more spare parts: each kind is tried by itself, and all together.

    Returns
    -------
    NextItems
        Rows: ``change``, ``kind`` (more, pair, less), ``price`` of the change, change in the
        share of surges on target (``surges_gain``, ``_low``, ``_high``) and in the mean share
        of entries in time (``entries_gain``, ...), ``per_money`` (gain in entries per unit of
        money), ``tells`` (whether the change can be told apart from nothing), and ``apart``
        (whether it can be told apart from the row ranked above it).
    """
    changes = _changes(stock, [ITEMS[name] for name in names], prices, pairs, less, parts)
    ledger.extend([stock, *(new for _, _, new in changes)], surges, LABEL)
    before = ledger.kept(stock)[:surges]
    share_before = ledger.share_in_time(stock)[:surges]
    rows, gains = [], {}
    for words, kind, new in changes:
        price = stock_cost(new, prices) - stock_cost(stock, prices)
        after = ledger.kept(new)[:surges]
        gained = int(((after == 1) & (before == 0)).sum())
        lost = int(((after == 0) & (before == 1)).sum())
        low, high = paired_difference_interval(gained, lost, surges, confidence)
        gain = ledger.share_in_time(new)[:surges] - share_before
        gain = gain[~np.isnan(gain)]
        mean, entries_low, entries_high = _mean_gain(gain, confidence)
        gains[words] = gain / price if price else gain * np.nan
        by_surges = paired_p_value(gained, lost) <= 1.0 - confidence
        rows.append(
            {
                "change": words,
                "kind": kind,
                "kits": new.kits,
                "batteries": new.batteries,
                "bays": new.bays,
                **{ITEMS[name].field: ITEMS[name].of(new) for name in EXTRA},
                "price": price,
                "surges_gained": gained,
                "surges_lost": lost,
                "surges_gain": (gained - lost) / surges,
                "surges_low": low,
                "surges_high": high,
                "entries_gain": mean,
                "entries_low": entries_low,
                "entries_high": entries_high,
                "per_money": mean / price if price else np.nan,
                "tells": by_surges or entries_low > 0.0 or entries_high < 0.0,
            }
        )
    table = _ranked(pd.DataFrame(rows), gains, confidence)
    reading = _reading(table)
    return NextItems(stock, surges, int(before.sum()), table, reading)


def stocks_compared(
    stock: Stock,
    names: Sequence[str],
    prices: Prices,
    pairs: bool = False,
    less: bool = True,
    parts: Stock | None = None,
) -> list[Stock]:
    """Return all stocks that :func:`next_items` plays, to play them together with others."""
    changes = _changes(stock, [ITEMS[name] for name in names], prices, pairs, less, parts)
    return [stock, *(new for _, _, new in changes)]


def _mean_gain(gain: NDArray[np.float64], confidence: float) -> tuple[float, float, float]:
    """Return (mean, low, high) of paired differences over surges, each from -1 to 1."""
    if not gain.any():
        # nothing that changed in no surge says how much it may change in others, either way
        return 0.0, -1.0, 1.0
    mean, low, high = mean_interval(gain, confidence)
    return mean or 0.0, -1.0 if low is None else low, 1.0 if high is None else high


def _changes(
    stock: Stock,
    items: Sequence[Item],
    prices: Prices,
    pairs: bool,
    less: bool,
    parts: Stock | None,
) -> list[tuple[str, str, Stock]]:
    """Return (words, kind, new stock) of every change to be played."""

    def more(start: Stock, item: Item) -> Stock:
        return item.put(start, item.of(start) + item.lot(prices))

    def words(item: Item) -> str:
        return count_words(item.name, item.lot(prices))

    changes = [(f"+{words(item)}", "more", more(stock, item)) for item in items]
    changes += _more_parts(stock, parts or stock)
    for first, second in combinations(items, 2) if pairs else ():
        pair = more(more(stock, first), second)
        changes.append((f"+{words(first)} +{words(second)}", "pair", pair))
    for item in items if less else ():
        left = item.of(stock) - item.lot(prices)
        if left >= 0:
            changes.append((f"-{words(item)}", "less", item.put(stock, left)))
    return changes


def _more_parts(stock: Stock, parts: Stock) -> list[tuple[str, str, Stock]]:
    """Return the changes to more of each part, and to more of all where there are several."""
    said, changes = [], []
    for item in (ITEMS[name] for name in PARTS):
        number = item.of(parts) - item.of(stock)
        if number > 0:
            said.append(count_words(item.name, number))
            changes.append((f"+{said[-1]}", "more", item.put(stock, item.of(parts))))
    if len(said) > 1:
        changes.append((f"+{', '.join(said)}", "more", parts))
    return changes


def _ranked(
    table: pd.DataFrame, gains: dict[str, NDArray[np.float64]], confidence: float
) -> pd.DataFrame:
    """Order each kind by gain per money and say whether neighbours in rank differ."""
    parts = []
    for kind in ("more", "pair", "less"):
        part = table[table["kind"] == kind]
        key = part["per_money"].where(part["price"] != 0, part["entries_gain"] * np.inf)
        # what is given back costs least service per money first
        order = key.fillna(0.0).sort_values(ascending=kind == "less", kind="stable").index
        part = part.loc[order].copy()
        apart: list[bool | None] = [None] * min(len(part), 1)
        for above, below in zip(part["change"], part["change"].iloc[1:], strict=False):
            difference = gains[above] - gains[below]
            if np.isnan(difference).any():
                apart.append(None)
                continue
            _, low, high = _mean_gain(difference, confidence)
            apart.append(low > 0.0 or high < 0.0)
        part["apart"] = pd.array(apart, dtype="boolean")
        parts.append(part)
    return pd.concat(parts, ignore_index=True)


def helping(table: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of single items of which one lot more helps, beyond luck."""
    more = table[table["kind"] == "more"]
    return more[(more["entries_low"] > 0.0) | (more["tells"] & (more["surges_gain"] > 0.0))]


def _reading(table: pd.DataFrame) -> str:
    """Say which item to buy next, or that it cannot be told."""
    more = table[table["kind"] == "more"]
    useful = helping(table)
    pairs = table[(table["kind"] == "pair") & (table["entries_low"] > 0.0)]
    best_pair = None
    for _, pair in pairs.iterrows():
        parts = [f"+{name}" for name in pair["change"].lstrip("+").split(" +")]
        alone = more.set_index("change").loc[parts, "entries_gain"].clip(lower=0.0).sum()
        better = best_pair is None or pair["entries_gain"] > best_pair["entries_gain"]
        # two steps that only help together
        if pair["entries_gain"] > 1.25 * alone + 1e-6 and better:
            best_pair = pair
    if useful.empty and best_pair is None:
        return "no single item more makes a difference that can be told from luck"
    if useful.empty:
        return f"no single item helps; together, {best_pair['change']} does"  # type: ignore[index]
    first = useful.iloc[0]
    text = f"buy {first['change'].lstrip('+')} next"
    ranked = list(more["change"])
    place = ranked.index(first["change"])
    apart = more["apart"].iloc[place + 1] if place + 1 < len(ranked) else pd.NA
    if apart is not pd.NA and not bool(apart):
        text += f" (cannot be told apart from {ranked[place + 1].lstrip('+')} per money)"
    if best_pair is not None:
        text += f"; {best_pair['change']} do more together than each alone"
    return text
