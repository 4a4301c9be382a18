"""What there is when play begins: how much of each thing, in which state, in which place."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from surge_sim.errors import whole_number
from surge_sim.scenario.schema import Settings


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
    def extra_parts(self) -> tuple[int, int, int, int, int]:
        """Extra parts in the order of the supplies' numbers."""
        return (
            self.extra_hoods, self.extra_tubes, self.extra_prefilters, self.extra_he_filters,
            self.extra_large_hoods,
        )  # fmt: skip

    @property
    def spare_batteries(self) -> int:
        """Batteries beyond one per kit."""
        return max(self.batteries - self.kits, 0)


def stock_in_hand(settings: Settings) -> Stock:
    """Return the stock that the scenario says the unit has."""
    stock = settings.stock
    return Stock(kits=stock.kits, batteries=stock.batteries, bays=stock.bays)


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
