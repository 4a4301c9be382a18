"""Work draws in sizes that suffice: a play that runs out is played again with more."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.equipment.case import Unit
from surge_sim.equipment.chance import BLOCK, USUAL_LIVES, WorkArrays, usual_wipes
from surge_sim.equipment.numbers import Rules
from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.limits import MOST_IN_REFERENCE, MOST_LIVES, MOST_REQUESTS


class Exhausted(Exception):
    """A play needs more draws, or more room for new needs, than it was given."""


class NoEnd(Exception):
    """A visit is interrupted again and again and gets nowhere."""

    def __init__(self, at_s: int, entry: int, alarm: int, kit: int, battery: int) -> None:
        super().__init__(at_s, entry, alarm, kit, battery)
        self.at_s, self.entry, self.alarm, self.kit, self.battery = at_s, entry, alarm, kit, battery


@dataclass(frozen=True)
class Sizes:
    """How many draws a play gets; growing them changes no draw that it had before."""

    wipes: int
    blowers: int
    generations: int
    #: rows for needs that arise in the play
    new_needs: int
    #: most of the latter two
    most_generations: int
    most_new_needs: int

    def grown(self) -> Sizes:
        """Return larger sizes; the same when a surge may have no more."""
        new_needs = min(4 * self.new_needs, self.most_new_needs)
        return replace(
            self,
            # one for each need, new ones included
            wipes=self.wipes + new_needs - self.new_needs,
            generations=min(4 * self.generations, self.most_generations),
            new_needs=new_needs,
        )

    def arrays(self, unit: Unit) -> WorkArrays:
        """Draw so much."""
        return unit.draws(self.wipes, self.blowers, self.generations)


def first_sizes(demand: Demand, kits: int) -> Sizes:
    """Sizes that nearly always suffice."""
    blocks = -(-max(kits, 1) // BLOCK)
    wipes = usual_wipes(demand.entries)
    blowers, new_needs = blocks * BLOCK, wipes - demand.entries
    most = (
        max(MOST_LIVES // blowers, USUAL_LIVES),
        max(MOST_REQUESTS - demand.entries, new_needs),
    )
    return Sizes(wipes, blowers, USUAL_LIVES, new_needs, *most)


def refuse_slow(demand: Demand) -> None:
    """Refuse a surge that the reference engine would play for minutes."""
    if demand.entries > MOST_IN_REFERENCE:
        found = f"has {demand.entries:,} entries, too many for the reference engine."
        right = f"It plays {MOST_IN_REFERENCE:,} requests at most: use a shorter horizon."
        raise ScenarioError([Fault(_surge(demand), 0, found, right)])


def too_many(demand: Demand, rules: Rules) -> ScenarioError:
    """Say that a surge would have more requests, or lives of things, than the limits allow."""
    again = ["`kit.levels`, `batteries`"]
    if rules.postponed:
        again.insert(0, "`policy.postponed_by`, `policy.patience`")
    if rules.has_filters:
        again.append("`filters`")
    if rules.has_faults:
        again.append("`faults`")
    found = (
        f"visits that are interrupted or postponed make more than {MOST_REQUESTS:,} requests, or "
        f"more than {MOST_LIVES:,} filters or faults."
    )
    right = f"Look at {', '.join(again)} and at the stock: visits hardly get anywhere."
    return ScenarioError([Fault(_surge(demand), 0, found, right)])


def _surge(demand: Demand) -> str:
    return f"surge {demand.surge} of seed {demand.seed}"


def plain_work(work: WorkArrays) -> WorkArrays:
    """Return the same draws as lists, quicker to read from Python."""
    return WorkArrays(*(array.tolist() for array in map(np.asarray, work)))  # type: ignore[arg-type]
