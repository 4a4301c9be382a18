"""What an alternative costs beyond the scenario as it is: what it has more of, at the prices.

Nothing is got back for what it has less of: nobody sells three kits to pay a battery. What has no
price in the scenario (kits on loan, an item whose price is 0, batteries that charge quicker) is
named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from surge_sim.equipment.stock import ITEMS, PARTS, PER_SURGE
from surge_sim.scenario.timeline import (
    BatteriesOnLoan,
    ChargersOnLoan,
    ExtraCleaners,
    KitsOnLoan,
)
from surge_sim.units import HOUR_S

if TYPE_CHECKING:
    from surge_sim.scenario.schema import Batteries, Filters, Prices, Rooms, Settings
    from surge_sim.whatif.design import Alternative

#: what lots are called that hold several
_IN_LOTS = {"bays": "chargers"}


class Cost(NamedTuple):
    """Money beyond the scenario as it is, in its currency."""

    #: paid once
    purchase: float = 0.0
    #: paid for each surge: cleaners
    per_surge: float = 0.0
    #: what costs something that the scenario does not name
    unpriced: tuple[str, ...] = ()

    @property
    def total(self) -> float:
        """What is paid once and for one surge."""
        return self.purchase + self.per_surge

    @property
    def is_nothing(self) -> bool:
        """Whether nothing is bought, borrowed or paid."""
        return not self.total and not self.unpriced


def cost_of(base: Alternative, other: Alternative) -> Cost:
    """Return what an alternative costs beyond the base, at the base's prices."""
    prices = base.scenario.settings.prices
    once, unpriced = 0.0, list[str]()
    for name, more, price in _bought(base, other, prices):
        once += more * price
        if more and not price:
            unpriced.append(f"{name} without a price")
    shifts = _more_cleaners(base.scenario.settings, other.scenario.settings)
    if shifts and not prices.cleaner:
        unpriced.append("cleaners without a price")
    unpriced += _on_loan(base.scenario.settings, other.scenario.settings)
    unpriced += _other_things(base.scenario.settings, other.scenario.settings)
    return Cost(round(once, 9), round(shifts * prices.cleaner, 9), tuple(unpriced))


def _bought(
    base: Alternative, other: Alternative, prices: Prices
) -> Iterator[tuple[str, int, float]]:
    """Yield each item, how many lots more there are of it, and the price of one."""
    have, want = base.in_hand, other.in_hand
    for name, item in ITEMS.items():
        if name in PER_SURGE:
            continue
        more = item.of(want) - item.of(have)
        if name in PARTS:
            before = getattr(base.scenario.settings.supplies, name)
            after = getattr(other.scenario.settings.supplies, name)
            more += 0 if before is None or after is None else after.spare - before.spare
        lots = math.ceil(max(more, 0) / item.lot(prices))
        yield _IN_LOTS.get(name, name.replace("_", " ")), lots, item.lot_price(prices)


def _crew_hours(settings: Settings) -> tuple[float, float]:
    """Return the hours a day of all cleaners, and of one on every shift [h]."""
    crew = settings.cleaning.crew if settings.cleaning.by == "crew" else ()
    lengths = [one.length_s / HOUR_S for one in crew]
    hours = sum(one.cleaners * length for one, length in zip(crew, lengths, strict=True))
    return hours, sum(lengths)


def _more_cleaners(base: Settings, other: Settings) -> float:
    """Return how many more cleaners there are, as such who come to every shift of the surge."""
    (before, one_before), (after, one_after) = _crew_hours(base), _crew_hours(other)
    every_shift = one_before or one_after
    more = max(after - before, 0.0) / every_shift if every_shift else 0.0
    known = list(base.timeline)
    for change in other.timeline:
        if isinstance(change, ExtraCleaners) and change not in known:
            lasts_s = min(change.until, other.horizon) - change.at
            more += change.cleaners * max(lasts_s, 0) / other.horizon
    return more


#: equipment and building of another sort, which no price of the scenario is of: name, what is read
_THINGS: tuple[tuple[str, Callable[[Settings], Any]], ...] = (
    ("kits of another sort", lambda settings: settings.kit.levels),
    ("batteries of another sort", lambda settings: _of_batteries(settings.batteries)),
    ("other filters", lambda settings: settings.filters and _of_filters(settings.filters)),
    ("other rooms", lambda settings: settings.rooms and _of_rooms(settings.rooms)),
)


def _of_batteries(fleet: Batteries) -> Any:
    charge = fleet.charge_time, fleet.constant_current_to, fleet.constant_current_time
    return *charge, fleet.listed_healths


def _of_filters(filters: Filters) -> Any:
    return filters.prefilter_life, filters.he_filter_life


def _of_rooms(rooms: Rooms) -> Any:
    return rooms.count, rooms.air_changes


def _other_things(base: Settings, other: Settings) -> list[str]:
    """Name what is of another sort: a quicker charger is not had for nothing."""
    named = [name for name, read in _THINGS if read(base) != read(other)]
    before, after = base.charging.rounds_every, other.charging.rounds_every
    if before is not None and after is not None and after < before:
        named.append("more rounds of the chargers")
    return named


def _on_loan(base: Settings, other: Settings) -> list[str]:
    known, names = list(base.timeline), list[str]()
    for change in other.timeline:
        if change not in known and isinstance(
            change, KitsOnLoan | BatteriesOnLoan | ChargersOnLoan
        ):
            names.append(change.what)
    return list(dict.fromkeys(names))
