"""All that one play needs: demand, unit, stock, start and timeline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.demand.draw import draw
from surge_sim.demand.plan import plan_of
from surge_sim.demand.table import Demand
from surge_sim.equipment.start import Start, start_of
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.timeline import Timeline, timeline_of
from surge_sim.equipment.unit import Rules, Unit, rules_of, unit_of
from surge_sim.randomness import Sample, Streams
from surge_sim.scenario.schema import Settings

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario


class Case(NamedTuple):
    """The arguments of a play, in their order."""

    demand: Demand
    unit: Unit
    stock: Stock
    start: Start
    timeline: Timeline


@dataclass(frozen=True)
class Conditions:
    """What a surge is played under; the same for all surges if no range is drawn for each."""

    settings: Settings
    rules: Rules
    start: Start
    timeline: Timeline

    @classmethod
    def of(cls, settings: Settings) -> Conditions:
        """Read them from the settings, ranges drawn."""
        return cls(settings, rules_of(settings), start_of(settings), timeline_of(settings))

    def unit(self, demand: Demand) -> Unit:
        """Return the unit in one surge."""
        return unit_of(self.settings, demand, self.rules)

    def case(self, demand: Demand, stock: Stock) -> Case:
        """Return all that a play of one surge needs."""
        return Case(demand, self.unit(demand), stock, self.start, self.timeline)


def case_of(
    scenario: Scenario,
    stock: Stock,
    seed: int = 1,
    surge: int = 0,
    sample: Sample = Sample.RUN,
) -> Case:
    """Draw one surge of a scenario.

    Parameters
    ----------
    scenario : Scenario
        A loaded scenario.
    stock : Stock
        Counts of equipment.
    seed, surge, sample
        As in :func:`surge_sim.demand.draw.draw_demand`.

    Returns
    -------
    Case
        ``play(*case)`` plays it.
    """
    settings = scenario.settings_for(seed, sample, surge)
    demand = draw(plan_of(settings), Streams(seed, sample, surge))
    return Conditions.of(settings).case(demand, stock)
