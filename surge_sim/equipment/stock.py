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
    #: hoods and tubes beyond one per kit and beyond the scenario's spares
    extra_hoods: int = 0
    extra_tubes: int = 0

    @property
    def spare_batteries(self) -> int:
        """Batteries beyond one per kit."""
        return max(self.batteries - self.kits, 0)


def stock_in_hand(settings: Settings) -> Stock:
    """Return the stock that the scenario says the unit has."""
    stock = settings.stock
    return Stock(kits=stock.kits, batteries=stock.batteries, bays=stock.bays)
