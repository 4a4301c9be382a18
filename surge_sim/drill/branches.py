"""One simulated surge of an exercise, and what each path through it needs to be played.

All chance is drawn beforehand, so a path is the same surge with a longer timeline: what is before
a decision is the same in all paths that part at it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from surge_sim.demand.draw import draw
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.demand.table import Demand, with_changes
from surge_sim.equipment.situation import Conditions, Situation, Unit
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.equipment.timeline import timeline
from surge_sim.randomness import Sample, Streams
from surge_sim.scenario.exercise import Choices, Exercise
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import Change, ChangeOfEntries, ExtraPatients


@dataclass(frozen=True, eq=False)
class Surge:
    """One simulated surge, drawn; its paths differ in their timelines only."""

    exercise: Exercise
    number: int
    #: with the injects in their timeline
    conditions: Conditions
    #: before any change of entries
    demand: Demand
    unit: Unit
    #: the entries of the paths, by the choices that concern entries; others have the same ones
    _changed: dict[Choices, Demand] = field(default_factory=dict, repr=False)

    @property
    def settings(self) -> Settings:
        """Settings of this surge, ranges drawn."""
        return self.conditions.settings

    def situation(self, choices: Choices) -> Situation:
        """Return all that a play with these choices needs; fewer than all: nothing after them."""
        settings = self.settings
        changes = (*settings.timeline, *self.exercise.decisions(choices))
        together = timeline(changes, settings.prices.bays_per_charger)
        stock = stock_in_hand(settings)
        start = self.conditions.start
        return Situation(self._demand(choices, changes), self.unit, stock, start, together)

    def _demand(self, choices: Choices, changes: Sequence[Change]) -> Demand:
        """Return the entries with these changes, worked out once for all paths with the same."""
        made = zip(self.exercise.moments, choices)  # noqa: B905  fewer: nothing after them
        alike = tuple(
            number if isinstance(moment.choices[number].does, ChangeOfEntries) else -1
            for moment, number in made
        )
        if alike not in self._changed:
            self._changed[alike] = with_changes(self.demand, changes)
        return self._changed[alike]


class Surges:
    """Draws the surges of an exercise, by number; they are those of `run` with the same seed."""

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise
        self._usual: tuple[Plan, Conditions] | None = None

    def surge(self, number: int) -> Surge:
        """Draw one surge."""
        exercise = self.exercise
        scenario, seed = exercise.scenario, exercise.file.seed
        plan, conditions = self._usual or self._plan(scenario.settings_for(seed, surge=number))
        if not scenario.has_ranges:
            self._usual = plan, conditions
        demand = draw(plan, Streams(seed, Sample.RUN, number))
        return Surge(exercise, number, conditions, demand, conditions.unit(demand))

    def _plan(self, settings: Settings) -> tuple[Plan, Conditions]:
        changes = self.exercise.timeline(settings, ())
        # of all changes, only these concern who comes; entries are changed path by path
        extra = tuple(one for one in changes if isinstance(one, ExtraPatients))
        drawn = settings.model_copy(update={"timeline": extra})
        played = settings.model_copy(update={"timeline": changes})
        return plan_of(drawn), Conditions.of(played)
