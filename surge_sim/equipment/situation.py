"""All that one play needs: demand, unit, stock, start and timeline."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.demand.draw import draw
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.demand.table import Demand
from surge_sim.equipment.chance import BLOCK, USUAL_LIVES, WorkArrays, WorkDraws, usual_wipes
from surge_sim.equipment.numbers import Rules, rules_of
from surge_sim.equipment.stock import Start, Stock, start_of
from surge_sim.equipment.timeline import Timeline, Whole, timeline_of
from surge_sim.randomness import Sample, Streams
from surge_sim.scenario.schema import Settings

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario


@dataclass(frozen=True)
class Unit:
    """Rules, and what chance brings to things in one surge."""

    rules: Rules
    #: endless sequences of draws, and as much of them as nearly every play needs
    chance: WorkDraws
    drawn: WorkArrays

    def draws(self, wipes: int, blowers: int, generations: int, batteries: int) -> WorkArrays:
        """Return at least so many draws; see :meth:`WorkDraws.sized`."""
        if self.drawn.suffices(wipes, blowers, generations, batteries):
            return self.drawn
        return self.chance.sized(wipes, blowers, generations, batteries)

    def bay_failures(self, bays: int, until_s: int) -> Whole:
        """Return which bays do not work over time; see :meth:`WorkDraws.bay_failures`."""
        return self.chance.bay_failures(bays, self.rules.bays_per_charger, until_s)


class Situation(NamedTuple):
    """The arguments of a play, in their order."""

    demand: Demand
    unit: Unit
    stock: Stock
    start: Start
    timeline: Timeline


@dataclass(frozen=True)
class Conditions:
    """What a surge is drawn and played under; the same for all if no range is drawn for each."""

    settings: Settings
    rules: Rules
    start: Start
    timeline: Timeline

    @classmethod
    def of(cls, settings: Settings) -> Conditions:
        """Read them from the settings, ranges drawn."""
        return cls(settings, rules_of(settings), start_of(settings), timeline_of(settings))

    @cached_property
    def plan(self) -> Plan:
        """What its demand is drawn by; made when it is asked for."""
        return plan_of(self.settings)

    def unit(self, demand: Demand) -> Unit:
        """Return the unit in one surge, with as many draws as nearly every play of it needs."""
        chance = WorkDraws.of(self.settings, demand.seed, demand.sample, demand.surge)
        drawn = chance.sized(usual_wipes(demand.entries), BLOCK, USUAL_LIVES, BLOCK)
        return Unit(self.rules, chance, drawn)

    def situation(self, demand: Demand, stock: Stock) -> Situation:
        """Return all that a play of one surge needs."""
        return Situation(demand, self.unit(demand), stock, self.start, self.timeline)

    def drawn(self, streams: Streams, stock: Stock) -> Situation:
        """Draw one surge, and return all that a play of it needs."""
        return self.situation(draw(self.plan, streams), stock)


def situation_of(
    scenario: Scenario,
    stock: Stock,
    seed: int = 1,
    surge: int = 0,
    sample: Sample = Sample.RUN,
) -> Situation:
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
    Situation
        ``play(*situation)`` plays it.
    """
    settings = scenario.settings_for(seed, sample, surge)
    return Conditions.of(settings).drawn(Streams(seed, sample, surge), stock)
