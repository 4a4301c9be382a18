"""Things that are replaced when their life is over: how long they last, and when."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.equipment.stock import ITEMS

if TYPE_CHECKING:
    from surge_sim.purchase.sized import Sized
    from surge_sim.scenario.life_file import BatteryLasting, Lasting, LifeFile

#: in the order in which they are told
THINGS = ("kits", "batteries", "chargers")
#: moments that differ by rounding only are the same [years]
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Thing:
    """Kits, batteries or chargers: of one sort, all alike but for those in hand being older."""

    name: str
    price: float
    source: str
    #: how many there are with the stock in hand, and with the proposed one
    counts: tuple[int, int]
    #: until it is replaced by age alone [years]
    years: float
    #: equivalent full charges until it is replaced by use; None: by age alone
    full_charges: int | None
    #: of those in hand [years]
    age_in_hand: float
    #: equivalent full charges of all together in a year, with either stock
    charges: tuple[float, float]

    @property
    def owned(self) -> int:
        """How many are in hand already: they stay."""
        return self.counts[0]

    def lasts(self, stock: int) -> float:
        """Return how long one lasts with a stock [years]: by age, or by use if that is sooner."""
        charges = self.charges[stock]
        if self.full_charges is None or not charges or not self.counts[stock]:
            return self.years
        return min(self.years, self.full_charges * self.counts[stock] / charges)

    def replaced_by(self, stock: int, year: float, years: int) -> int:
        """Return how many are replaced up to a year, of all that are within `years`.

        Those in hand at first after what is left of their life, the others after a whole one, and
        so on. What would be replaced at the very end is not.
        """
        lasts = self.lasts(stock)
        first = max(lasts - self.age_in_hand, 0.0)
        new = self.counts[stock] - self.owned
        return self.owned * _times(first, lasts, year, years) + new * _times(
            lasts, lasts, year, years
        )

    def row(self) -> dict[str, float | int | str | None]:
        """Return what is known of it, for a table."""
        return {
            "thing": self.name, "price": self.price, "count_in_hand": self.counts[0],
            "count_proposed": self.counts[1], "years": self.years,
            "full_charges": self.full_charges, "age_in_hand": self.age_in_hand,
            "charges_per_year_in_hand": self.charges[0],
            "charges_per_year_proposed": self.charges[1], "lasts_in_hand": self.lasts(0),
            "lasts_proposed": self.lasts(1), "source": self.source,
        }  # fmt: skip


def _times(first: float, lasts: float, year: float, years: int) -> int:
    """Count the moments first, first + lasts, ... up to `year` that come before `years`."""
    in_all = max(math.ceil((years - first) / lasts - _ROUNDING), 0)
    so_far = math.floor((year - first) / lasts + _ROUNDING) + 1
    return min(max(so_far, 0), in_all)


def replacements(things: list[Thing], years: int) -> pd.DataFrame:
    """Return what is replaced in which year, and what falls due when the years end or soon after.

    Parameters
    ----------
    things : list of Thing
        Kits, batteries and chargers.
    years : int
        The years that are counted; what falls due at their end is not.

    Returns
    -------
    DataFrame
        One row per thing and year in which some are replaced with either stock, in the order of the
        years. The rows of year `years` + 1 are not counted: from the very end to a year after it.
    """
    rows = []
    for year in range(years + 2):
        for one in things:
            counts = tuple(_in_year(one, stock, year, years) for stock in (0, 1))
            if not any(counts):
                continue
            row: dict[str, object] = {
                "replaced": f"{one.name}, year {year}", "thing": one.name, "year": year,
                "counted": year <= years, "price": one.price,
            }  # fmt: skip
            row |= dict(zip(("number_in_hand", "number_proposed"), counts, strict=True))
            costs = [number * one.price for number in counts]
            row |= dict(zip(("cost_in_hand", "cost_proposed"), costs, strict=True))
            rows.append(row | {"difference": costs[1] - costs[0]})
    columns = (
        "replaced", "thing", "year", "counted", "price", "number_in_hand", "number_proposed",
        "cost_in_hand", "cost_proposed", "difference",
    )  # fmt: skip
    return pd.DataFrame(rows, columns=list(columns)).astype({"counted": bool})


def _in_year(thing: Thing, stock: int, year: int, years: int) -> int:
    """Return how many are replaced in a year; after the last one, all that fall due by then."""
    if year > years:
        return thing.replaced_by(stock, year, year + 1) - thing.replaced_by(stock, years, years)
    before = thing.replaced_by(stock, year - 1, years) if year else 0
    return thing.replaced_by(stock, year, years) - before


def things_of(sized: Sized, file: LifeFile, full_charges: tuple[float, ...]) -> list[Thing]:
    """Return what is replaced, of present and proposed stock.

    Parameters
    ----------
    sized : Sized
        The two stocks, and prices.
    file : LifeFile
        How long things last.
    full_charges : tuple of float
        Equivalent full charges a year, of all batteries together, with either stock.
    """
    prices = sized.scenario.settings.prices
    found = []
    for name, item_name in zip(THINGS, ("kits", "batteries", "bays"), strict=True):
        item, lasting = ITEMS[item_name], getattr(file.lasts, name)
        lot = item.lot(prices)
        owned = math.ceil(item.of(sized.in_hand) / lot)
        more = math.ceil(max(item.of(sized.proposed) - item.of(sized.in_hand), 0) / lot)
        of_batteries = name == "batteries"
        found.append(
            Thing(
                name=name,
                price=item.lot_price(prices),
                source=lasting.source,
                counts=(owned, owned + more),
                years=lasting.years,
                full_charges=_full_charges(lasting) if of_batteries else None,
                age_in_hand=lasting.age_in_hand,
                charges=(full_charges[0], full_charges[1]) if of_batteries else (0.0, 0.0),
            )
        )
    return found


def _full_charges(lasting: Lasting | BatteryLasting) -> int | None:
    return getattr(lasting, "full_charges", None)
