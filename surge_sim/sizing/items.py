"""What can be bought: the names of the items, the lots they are sold in, and what they cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import PLENTY, Stock

if TYPE_CHECKING:
    from surge_sim.scenario.goal import Prices, SearchLimits


@dataclass(frozen=True)
class Item:
    """One thing that a unit may have more or fewer of."""

    #: name in ``--vary``, also what several of it are called
    name: str
    one: str
    #: field of :class:`~surge_sim.equipment.stock.Stock`
    field: str
    #: how one lot is called where it is not a single item
    lot_name: str = ""
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
        return float(getattr(prices, PRICE_FIELDS[self.name]))

    def limit(self, limits: SearchLimits) -> int:
        """Return how many the search may try."""
        return int(getattr(limits, self.limit_field))

    @property
    def limit_field(self) -> str:
        """Field of the section `limits`; spare parts have none."""
        return {"crew": "cleaners"}.get(self.name, self.name)


ITEMS = {
    item.name: item
    for item in (
        Item("kits", "kit", "kits"),
        Item("batteries", "battery", "batteries"),
        Item("bays", "bay", "bays", lot_name="charger"),
        Item("crew", "cleaner", "extra_cleaners", several="cleaners"),
        Item("hoods", "hood", "extra_hoods"),
        Item("tubes", "tube", "extra_tubes"),
        Item("prefilters", "prefilter", "extra_prefilters"),
        Item("main_filters", "main filter", "extra_main_filters", several="main filters"),
    )
}

#: spare parts, in the order of the supplies' numbers: found by what surges use (sizing/parts.py)
PARTS = ("hoods", "tubes", "prefilters", "main_filters")
#: what the search varies; counted beyond the scenario's, as parts are: cleaners
VARIED = tuple(name for name in ITEMS if name not in PARTS)
EXTRA = ("crew", *PARTS)

STOCK_WITHOUT_PARTS = Stock(0, 0, 0)

#: field of the section `prices` with the price of one lot
PRICE_FIELDS = {
    "kits": "kit",
    "batteries": "battery",
    "bays": "charger",
    "crew": "cleaner",
    "hoods": "hood",
    "tubes": "tube",
    "prefilters": "prefilter",
    "main_filters": "main_filter",
}


def stock_cost(stock: Stock, prices: Prices) -> float:
    """Return the price of the whole stock; part of a charger costs a charger.

    Plenty of a part, as many as are used, has no price: see :mod:`surge_sim.sizing.parts`.
    """
    total = 0.0
    for item in ITEMS.values():
        if item.of(stock) >= PLENTY:
            continue
        lots = math.ceil(item.of(stock) / item.lot(prices))
        total += lots * item.lot_price(prices)
    return round(total, 9)


def order_of_choice(stock: Stock, prices: Prices) -> tuple[float, int, Stock]:
    """Return what decides between stocks: the price, then fewer things, then a fixed order."""
    things = sum(item.of(stock) for item in ITEMS.values())
    return stock_cost(stock, prices), things, stock


def stock_words(stock: Stock) -> str:
    """Return the stock in words, for example ``12 kits, 20 batteries, 8 bays``."""
    numbers = {name: item.of(stock) for name, item in ITEMS.items()}
    shown = [name for name, number in numbers.items() if name not in EXTRA or 0 < number < PLENTY]
    words = [held_words(name, numbers[name]) for name in shown]
    plenty = any(numbers[name] >= PLENTY for name in PARTS)
    return ", ".join([*words, *(["unlimited parts"] if plenty else [])])


def held_words(name: str, number: int) -> str:
    """Return how many of an item a stock has in words; extras are called so: ``4 extra hoods``."""
    words = count_words(name, number)
    return words.replace(" ", " extra ", 1) if name in EXTRA else words


def count_words(name: str, number: int) -> str:
    """Return a number of one item in words: ``1 kit``, ``1,200 batteries``, ``2 cleaners``."""
    item = ITEMS[name]
    return f"{number:,} {item.one if abs(number) == 1 else item.several or name}"


def one_less(
    stock: Stock, prices: Prices, names: Sequence[str] = (*VARIED, "parts")
) -> list[tuple[str, Stock]]:
    """Return every stock with one lot of one item less, with its role in words, cheapest first.

    ``parts``: all extra parts are one lot.
    """
    found = []
    for name in VARIED:
        item = ITEMS[name]
        lot = item.lot(prices)
        if name in names and item.of(stock) >= lot:
            one = item.lot_name if lot > 1 else item.one
            found.append((f"one {one} less", item.put(stock, item.of(stock) - lot)))
    bare = parts_of(stock, STOCK_WITHOUT_PARTS)
    if "parts" in names and bare != stock:
        found.append(("extra parts less", bare))
    return sorted(found, key=lambda pair: order_of_choice(pair[1], prices))


def parts_of(stock: Stock, other: Stock) -> Stock:
    """Return the stock with as many extra parts as another one."""
    return replace(stock, **{ITEMS[name].field: ITEMS[name].of(other) for name in PARTS})


def within(less: Stock, more: Stock) -> bool:
    """Return whether ``more`` has at least as many of every item as ``less``."""
    return all(item.of(less) <= item.of(more) for item in ITEMS.values())
