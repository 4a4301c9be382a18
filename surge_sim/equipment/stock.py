"""How much equipment there is: the thing that is sized."""

from __future__ import annotations

from dataclasses import dataclass

from surge_sim.scenario.schema import Settings


@dataclass(frozen=True, order=True)
class Stock:
    """Counts of equipment.

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
    extra_main_filters: int = 0

    @property
    def extra_parts(self) -> tuple[int, int, int, int]:
        """Extra parts in the order of the supplies' numbers."""
        return (
            self.extra_hoods, self.extra_tubes, self.extra_prefilters, self.extra_main_filters
        )  # fmt: skip

    @property
    def spare_batteries(self) -> int:
        """Batteries beyond one per kit."""
        return max(self.batteries - self.kits, 0)


def stock_in_hand(settings: Settings) -> Stock:
    """Return the stock that the scenario says the unit has."""
    stock = settings.stock
    return Stock(kits=stock.kits, batteries=stock.batteries, bays=stock.bays)
