"""How things stand when play begins."""

from __future__ import annotations

from dataclasses import dataclass

from surge_sim.scenario.schema import Settings


@dataclass(frozen=True)
class Start:
    """All kits ready, all batteries full; what else can be one way or another."""

    #: filters have run for some of their life, as was drawn; or they are new
    filters_part_worn: bool = True


def start_of(settings: Settings) -> Start:
    """Return how the scenario says that things stand."""
    filters = settings.filters
    return Start(filters is None or filters.at_start == "part worn")
