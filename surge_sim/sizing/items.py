"""What can be bought: the names of the items, the lots they are sold in, and what they cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import Stock

if TYPE_CHECKING:
    from surge_sim.scenario.schema import Prices, SearchLimits


@dataclass(frozen=True)
class Item:
    """One thing that a unit may have more or fewer of."""

    #: name in ``--only``, also what several of it are called
    name: str
    one: str
    #: field of :class:`~surge_sim.equipment.stock.Stock`
    field: str
    #: field of the section `prices` with the price of one lot
    price_field: str
    #: what several are called where it is not the name
    several: str = ""

    def of(self, stock: Stock) -> int:
        """Return how many of it the stock has."""
        return int(getattr(stock, self.field))

    def put(self, stock: Stock, number: int) -> Stock:
        """Return the stock with so many of it."""
        return replace(stock, **{self.field: int(number)})

    def lot(self, prices: Prices) -> int:
        """Return the smallest number that is sold at once: bays come in chargers."""
        return prices.bays_per_charger if self.name == "bays" else 1

    def lot_price(self, prices: Prices) -> float:
        """Return the price of one lot."""
        return float(getattr(prices, self.price_field))

    def limit(self, limits: SearchLimits) -> int:
        """Return how many the search may try; parts have no limit of their own."""
        return int(getattr(limits, self.name, MOST_PARTS))


#: so many of a part are tried at most
MOST_PARTS = 10_000

ITEMS = {
    item.name: item
    for item in (
        Item("kits", "kit", "kits", "kit"),
        Item("batteries", "battery", "batteries", "battery"),
        Item("bays", "bay", "bays", "charger"),
        Item("cleaners", "cleaner", "extra_cleaners", "cleaner"),
        Item("hoods", "hood", "extra_hoods", "hood"),
        Item("tubes", "tube", "extra_tubes", "tube"),
        Item("prefilters", "prefilter", "extra_prefilters", "prefilter"),
        Item("he_filters", "HE filter", "extra_he_filters", "he_filter", "HE filters"),
        Item("large_hoods", "large hood", "extra_large_hoods", "large_hood", "large hoods"),
    )
}
#: spare parts, in the order of the supplies' numbers
PARTS = ("hoods", "tubes", "prefilters", "he_filters", "large_hoods")
#: counted beyond what the scenario has
EXTRA = ("cleaners", *PARTS)
#: paid for each surge, not once
PER_SURGE = ("cleaners",)


def purchase(owned: Stock, stock: Stock, prices: Prices) -> float:
    """Return what is paid once for what a stock has beyond the one that is owned."""
    return _price(owned, stock, prices, [name for name in ITEMS if name not in PER_SURGE])


def per_surge(owned: Stock, stock: Stock, prices: Prices) -> float:
    """Return what is paid for each surge beyond the stock that is owned: extra cleaners."""
    return _price(owned, stock, prices, PER_SURGE)


def money(owned: Stock, stock: Stock, prices: Prices) -> float:
    """Return what the search compares: what is paid once, and for one surge."""
    return _price(owned, stock, prices, tuple(ITEMS))


def _price(owned: Stock, stock: Stock, prices: Prices, names: Sequence[str]) -> float:
    total = 0.0
    for item in (ITEMS[name] for name in names):
        lots = math.ceil(max(item.of(stock) - item.of(owned), 0) / item.lot(prices))
        total += lots * item.lot_price(prices)
    return round(total, 9)


def within(less: Stock, more: Stock) -> bool:
    """Return whether ``more`` has at least as many of every item as ``less``."""
    return all(item.of(less) <= item.of(more) for item in ITEMS.values())


def poorest(stocks: Sequence[Stock]) -> Stock:
    """Return the stock with so much of every item as each of some has at least."""
    return Stock(*(min(counts) for counts in zip(*map(astuple, stocks), strict=True)))


def count_words(name: str, number: int) -> str:
    """Return a number of one item in words: ``1 kit``, ``1,200 batteries``, ``2 cleaners``."""
    item = ITEMS[name]
    return f"{number:,} {item.one if abs(number) == 1 else item.several or name}"


def stock_words(stock: Stock) -> str:
    """Return the stock in words, for example ``12 kits, 20 batteries, 8 bays, 4 extra hoods``."""
    said = []
    for name, item in ITEMS.items():
        words = count_words(name, item.of(stock))
        if name not in EXTRA:
            said.append(words)
        elif name in PARTS and item.of(stock) >= MOST_PARTS:
            said.append(f"plenty of {item.several or name}")
        elif item.of(stock):
            said.append(words.replace(" ", " extra ", 1))
    return ", ".join(said)


def added_words(owned: Stock, stock: Stock) -> str:
    """Return what a stock has beyond the one that is owned: ``2 kits and 5 batteries``."""
    more = {name: item.of(stock) - item.of(owned) for name, item in ITEMS.items()}
    said = [count_words(name, number) for name, number in more.items() if number > 0]
    return "nothing" if not said else listed(said)


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence: ``a, b and c``."""
    return " and ".join([*([", ".join(words[:-1])] if words[:-1] else []), words[-1]])
