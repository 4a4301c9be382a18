"""Who plays a surge for the search: the scenario's own demand and engine, or a stand-in."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

from surge_sim.sizing.changes import changed
from surge_sim.statistics.promise import kept, late_allowed

if TYPE_CHECKING:
    from surge_sim.demand.plan import Plan
    from surge_sim.demand.trace import Demand
    from surge_sim.engine.log import Score
    from surge_sim.equipment.case import Conditions
    from surge_sim.equipment.start import Start
    from surge_sim.equipment.stock import Stock
    from surge_sim.equipment.timeline import Timeline
    from surge_sim.equipment.unit import Unit
    from surge_sim.scenario.goal import Target
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings


class SurgePlayer(Protocol):
    """One surge, its demand drawn once, ready to meet any stock."""

    def score(self, stock: Stock, full: bool = False) -> Score:
        """Play the stock; unless ``full``, stop as soon as the target is out of reach."""
        ...


class Player(Protocol):
    """Draws surges by sample and number; must be picklable, for it goes to other processes."""

    @property
    def target(self) -> Target:
        """The target that the surges are judged by."""
        ...

    def surge(self, sample: int, number: int) -> SurgePlayer:
        """Draw one surge; the same arguments always give the same surge."""
        ...


@dataclass(frozen=True)
class ScenarioPlayer:
    """Plays a scenario's surges.

    ``change`` names one of :data:`~surge_sim.sizing.changes.CHANGES`: the same surges in a
    world where one thing is different.
    """

    scenario: Scenario
    target: Target
    seed: int
    engine: str = "compiled"
    change: str = ""
    #: every surge is the same, a recorded period in which nothing is random: it is drawn once,
    #: and played once with each stock
    alike: bool = False

    def surge(self, sample: int, number: int) -> SurgePlayer:
        """Draw the demand of one surge and set the target that it is judged by."""
        return self.only if self.alike else self._drawn(sample, number)

    @cached_property
    def only(self) -> PlayedOnce:
        """The one surge, where all are alike."""
        return PlayedOnce(self._drawn(0, 0))

    def _drawn(self, sample: int, number: int) -> ScenarioSurge:
        from surge_sim.demand.draw import draw
        from surge_sim.randomness import Streams

        drawn = self.scenario.settings_for(self.seed, sample, number)
        usual = drawn is self.scenario.settings
        plan, conditions = self._usual if usual else self._of_surges(drawn)
        demand = draw(plan, Streams(self.seed, sample, number))
        played = demand, conditions.unit(demand), conditions.start, conditions.timeline
        return ScenarioSurge(*played, self.target, self.engine)

    @cached_property
    def _usual(self) -> tuple[Plan, Conditions]:
        """What all surges share, if no range is drawn."""
        return self._of_surges(self.scenario.settings)

    def _of_surges(self, settings: Settings) -> tuple[Plan, Conditions]:
        """Return what surges of the same settings are drawn with and played under."""
        from surge_sim.demand.plan import plan_of
        from surge_sim.equipment.case import Conditions

        played = changed(settings, self.change) if self.change else settings
        conditions = Conditions.of(played.model_copy(update={"target": self.target}))
        return plan_of(settings), conditions


@dataclass(frozen=True)
class ScenarioSurge:
    """One drawn surge of a scenario."""

    demand: Demand
    unit: Unit
    start: Start
    timeline: Timeline
    target: Target
    engine: str

    def score(self, stock: Stock, full: bool = False) -> Score:
        """Play the stock; unless ``full``, give up once too many entries are late."""
        from surge_sim.engine.play import score

        limit = None if full else late_allowed(self.demand.entries, self.target.share_of_entries)
        played = self.demand, self.unit, stock, self.start, self.timeline
        return score(*played, late_limit=limit, engine=self.engine)  # type: ignore[arg-type]


@dataclass(frozen=True)
class PlayedOnce:
    """A surge that remembers what it scored with each stock."""

    surge: SurgePlayer
    scores: dict[tuple[Stock, bool], Score] = field(default_factory=dict)

    def score(self, stock: Stock, full: bool = False) -> Score:
        """Play the stock, or return what it scored before."""
        asked = stock, full
        if asked not in self.scores:
            self.scores[asked] = self.surge.score(stock, full)
        return self.scores[asked]


def keeps_target(surge: SurgePlayer, stock: Stock, target: Target) -> bool:
    """Return whether the stock keeps the target in this surge."""
    return kept(surge.score(stock), target)
