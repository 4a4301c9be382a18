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
from surge_sim.units import DAY_S, clock_at_start_s

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


def _cleaning_s(settings: Settings) -> tuple[float, int]:
    """Return how long all cleaners work on an average day, and one on every shift [s]."""
    crew = settings.cleaning.crew if settings.cleaning.by == "crew" else ()
    extra_s = sum(
        change.cleaners * _at_work_s(change, settings)
        for change in settings.timeline
        if isinstance(change, ExtraCleaners)
    )
    of_crew_s = sum(one.cleaners * one.length_s for one in crew)
    return of_crew_s + extra_s * DAY_S / settings.horizon, sum(one.length_s for one in crew)


def _at_work_s(extra: ExtraCleaners, settings: Settings) -> int:
    """Return how long one extra cleaner works in a surge [s]: in one shift, or all the time."""
    begin, end = extra.at, max(min(extra.until, settings.horizon), extra.at)
    if extra.shift is None:
        return end - begin
    clock_s, found = clock_at_start_s(settings.start), 0
    for one in settings.cleaning.crew:
        if one.start % DAY_S == extra.shift % DAY_S:
            for day in range(-1, settings.horizon // DAY_S + 2):
                from_s = day * DAY_S + one.start - clock_s
                found += max(min(from_s + one.length_s, end) - max(from_s, begin), 0)
    return found


def _more_cleaners(base: Settings, other: Settings) -> float:
    """Return how many more cleaners there are, as such who come to every shift of the surge."""
    (before_s, one_before_s), (after_s, one_after_s) = _cleaning_s(base), _cleaning_s(other)
    every_shift_s = one_before_s or one_after_s
    return max(after_s - before_s, 0.0) / every_shift_s if every_shift_s else 0.0


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
    for name in PARTS:
        known, now = (getattr(one.supplies, name) for one in (base, other))
        if known is not None and now is None:
            named.append(f"{ITEMS[name].several or name} that never run out")
    before, after = base.charging.rounds_every, other.charging.rounds_every
    if before is not None and after is not None and after < before:
        named.append("more rounds of the chargers")
    return named


def _on_loan(base: Settings, other: Settings) -> list[str]:
    known, names = list(base.timeline), list[str]()
    for change in other.timeline:
        if change in known:
            known.remove(change)
        elif isinstance(change, KitsOnLoan | BatteriesOnLoan | ChargersOnLoan):
            names.append(change.what)
    return list(dict.fromkeys(names))
