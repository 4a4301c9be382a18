"""What there is when play begins: how much of each item, its lots and prices, in which state.

The items are what can be bought.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace
from enum import IntEnum

from surge_sim.errors import whole_number
from surge_sim.scenario.schema import Prices, SearchLimits, Settings


@dataclass(frozen=True, order=True)
class Stock:
    """Counts of equipment: the thing that is sized.

    ``kits`` counts blowers, each with one tube and one hood; ``batteries`` counts all batteries,
    of which one per kit is not spare.
    """

    kits: int
    batteries: int
    bays: int
    #: cleaners beyond the scenario's, on every shift of the crew
    extra_cleaners: int = 0
    #: spare parts beyond those on the scenario's shelf (which holds hoods and tubes beyond one per
    #: kit); the reorder point is as much higher, the order quantity stays as it is
    extra_hoods: int = 0
    extra_tubes: int = 0
    extra_prefilters: int = 0
    extra_he_filters: int = 0
    #: none comes with a kit
    extra_large_hoods: int = 0

    def __post_init__(self) -> None:
        """Refuse what is no count.

        Raises
        ------
        TypeError, ValueError
            If a count is no whole number, or below 0.
        """
        for name, count in vars(self).items():
            whole_number(name, count)

    @property
    def extra_parts(self) -> tuple[int, ...]:
        """Extra parts in the order of the supplies' numbers."""
        return tuple(ITEMS[name].of(self) for name in PARTS)

    @property
    def spare_batteries(self) -> int:
        """Batteries beyond one per kit."""
        return max(self.batteries - self.kits, 0)


def stock_in_hand(settings: Settings) -> Stock:
    """Return the stock that the scenario says the unit has."""
    stock = settings.stock
    return Stock(kits=stock.kits, batteries=stock.batteries, bays=stock.bays)


@dataclass(frozen=True)
class Item:
    """One thing that a unit may have more or fewer of."""

    #: name in ``--only``, also what several of it are called
    name: str
    one: str
    #: field of :class:`Stock`
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


def added_words(owned: Stock, stock: Stock, without: Sequence[str] = ()) -> str:
    """Return what a stock has beyond the one that is owned: ``2 kits and 5 batteries``.

    Parameters
    ----------
    owned, stock : Stock
        Less and more.
    without : sequence of str
        Names of items that are left out.
    """
    items = {name: item for name, item in ITEMS.items() if name not in without}
    more = {name: item.of(stock) - item.of(owned) for name, item in items.items()}
    said = [count_words(name, number) for name, number in more.items() if number > 0]
    return "nothing" if not said else listed(said)


def listed(words: Sequence[str]) -> str:
    """Return words as a list in a sentence: ``a, b and c``."""
    return " and ".join([*([", ".join(words[:-1])] if words[:-1] else []), words[-1]])


@dataclass(frozen=True)
class Start:
    """All kits ready, all batteries full; what else can be one way or another."""

    #: filters have run for some of their life, as was drawn; or they are new
    filters_part_worn: bool = True


def start_of(settings: Settings) -> Start:
    """Return how the scenario says that things stand."""
    filters = settings.filters
    return Start(filters is None or filters.at_start == "part worn")


class Use(IntEnum):
    """States whose occupancy over time is recorded."""

    KITS_IN_USE = 0
    KITS_WAITING_FOR_WIPE = 1
    KITS_IN_WIPE_DOWN = 2
    KITS_DRYING = 3
    KITS_READY = 4
    KITS_OUT = 5
    KITS_AWAY = 6
    BATTERIES_IN_USE = 7
    BATTERIES_COOLING = 8
    BATTERIES_WAITING_FOR_BAY = 9
    BATTERIES_IN_BAY = 10
    BATTERIES_ON_SHELF = 11
    #: failed, and not replaced yet
    BATTERIES_OUT = 12
    BATTERIES_AWAY = 13
    ENTRIES_WAITING = 14
