"""Play present and proposed stock on the very surges that tested them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.demand.plan import plan_of
from surge_sim.equipment.case import Conditions
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample, Streams
from surge_sim.statistics.summary import Layout, Summary, joined, summarise

if TYPE_CHECKING:
    from surge_sim.demand.plan import Plan
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings


@dataclass(frozen=True)
class PlayStocks:
    """What is done for one surge, in whichever process; picklable."""

    scenario: Scenario
    stocks: tuple[Stock, ...]
    seed: int

    def __call__(self, surge: int) -> tuple[Summary, ...]:
        """Draw a surge once, play each stock on it and summarise it."""
        from surge_sim.demand.draw import draw
        from surge_sim.engine.play import play

        settings = self.scenario.settings_for(self.seed, Sample.CONFIRM, surge)
        usual = settings is self.scenario.settings
        plan, conditions = self._usual if usual else _of_surges(settings)
        demand = draw(plan, Streams(self.seed, Sample.CONFIRM, surge))
        cases = (conditions.case(demand, stock) for stock in self.stocks)
        return tuple(summarise(demand, play(*case), self.layout) for case in cases)

    @cached_property
    def layout(self) -> Layout:
        """What the numbers of a summary are."""
        return Layout.of(self.scenario.settings)

    @cached_property
    def _usual(self) -> tuple[Plan, Conditions]:
        """What all surges share, if no range is drawn."""
        return _of_surges(self.scenario.settings)


def _of_surges(settings: Settings) -> tuple[Plan, Conditions]:
    """Return what surges of the same settings are drawn with and played under."""
    return plan_of(settings), Conditions.of(settings)


@dataclass(frozen=True, eq=False)
class Played:
    """One stock over all surges."""

    summary: Summary
    #: one row per surge, see `surge_sim.statistics.rows.surge_table`
    surges: pd.DataFrame


def play_stocks(
    scenario: Scenario,
    stocks: Sequence[Stock],
    surges: int,
    seed: int,
    processes: int | None = None,
    progress: Callable[[int], object] | None = None,
) -> tuple[Played, ...]:
    """Play stocks on the first of the new surges of a sizing: those that its table of stages tells.

    Parameters
    ----------
    scenario : Scenario
        What was sized, with its target.
    stocks : sequence of Stock
        Each is played on every surge.
    surges, seed : int
        How many surges, and the sizing's seed.
    processes : int, optional
        Processes to share the work; the answer does not depend on it.
    progress : callable, optional
        Called with 1 each time that a surge is done.
    """
    from surge_sim.engine.surges import workers
    from surge_sim.statistics.rows import surge_table

    task, found = PlayStocks(scenario, tuple(stocks), seed), []
    with workers(processes) as place:
        for summaries in place.over(task, range(surges)):
            found.append(summaries)
            if progress is not None:
                progress(1)
    whole = [joined(list(each)) for each in zip(*found, strict=True)]
    return tuple(Played(one, surge_table(one, task.layout)) for one in whole)
