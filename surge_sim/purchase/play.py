"""Play the stages of buying on the very surges that tested them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from surge_sim.demand.plan import beside
from surge_sim.equipment.situation import Conditions
from surge_sim.equipment.stock import Stock
from surge_sim.purchase.by_wait import ByWait, LateRow, late_row, waits_of
from surge_sim.randomness import Sample, Streams
from surge_sim.sizing.player import row_of
from surge_sim.statistics.summary import Layout, Summary, joined, summarise
from surge_sim.statistics.target import as_judged, in_hand_with_ample_stock
from surge_sim.units import HOUR_S

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.engine.log import IntArray, RunLog
    from surge_sim.scenario.load import Scenario
    from surge_sim.sizing.player import Row


#: more patients are played on the first so many surges: enough to see what becomes of a stock, for
#: they make no claim of their own, and their plays are the longest
MORE_SURGES = 50


class OfSurge(NamedTuple):
    """What comes of one surge."""

    #: of the stocks that are told of in full, in their order
    summaries: tuple[Summary, ...]
    #: of every stock
    rows: tuple[LateRow, ...]
    #: patients in rooms of their own at the middle of each hour, shape (hours,)
    in_rooms: IntArray
    #: as expected and with more patients, the stocks that are told of in full: see
    #: `surge_sim.sizing.player.row_of`; of the first surges only
    more: tuple[Row, ...]


@dataclass(frozen=True)
class PlayStocks:
    """What is done for one surge, in whichever process; picklable."""

    scenario: Scenario
    stocks: tuple[Stock, ...]
    #: places of the stocks that are told of in full
    in_full: tuple[int, ...]
    seed: int
    #: the scenario with more patients, who come besides the same ones
    more: tuple[Scenario, ...] = ()

    def __call__(self, surge: int) -> OfSurge:
        """Draw a surge once, play each stock on it and summarise it."""
        from surge_sim.demand.draw import draw

        streams = Streams(self.seed, Sample.CONFIRM, surge)
        conditions = self._conditions(0, surge)
        demand, waits_s = draw(conditions.plan, streams), waits_of(self.layout.target)
        summaries, rows, served = {}, [], {}
        more = self.more if surge < MORE_SURGES else ()
        for place, log in enumerate(self._logs(conditions, demand, self.stocks)):
            rows.append(late_row(demand, log, self.layout.target, waits_s))
            if place in self.in_full:
                summaries[place] = summarise(demand, log, self.layout)
                served[place] = row_of(log, demand, self.layout.target)
        stocks = [self.stocks[place] for place in self.in_full]
        of_more = [served[place] for place in self.in_full] if more else []
        for number, _ in enumerate(more, 1):
            other = self._conditions(number, surge)
            fuller = draw(beside(other.plan, conditions.plan), streams)
            of_more += (
                row_of(log, fuller, self.layout.target) for log in self._logs(other, fuller, stocks)
            )
        told = tuple(summaries[place] for place in self.in_full)
        return OfSurge(told, tuple(rows), in_rooms(demand), tuple(of_more))

    def _logs(
        self, conditions: Conditions, demand: Demand, stocks: Sequence[Stock]
    ) -> Iterator[RunLog]:
        """Play each stock on a surge, late by what the target counts as late."""
        from surge_sim.engine.play import play

        target, situation = self.layout.target, conditions.situation(demand, stocks[0])
        by_delay = target.late_by == "delay"
        ample_s = in_hand_with_ample_stock(situation, "compiled") if by_delay else None
        for stock in stocks:
            played = situation._replace(stock=stock)
            yield as_judged(played, play(*played), target, ample_s=ample_s)

    def _conditions(self, number: int, surge: int) -> Conditions:
        """Return what a surge is drawn with and played under: as sized, or as `more` has it."""
        scenario = (self.scenario, *self.more)[number]
        settings = scenario.settings_for(self.seed, Sample.CONFIRM, surge)
        return self._usual[number] if settings is scenario.settings else Conditions.of(settings)

    @cached_property
    def layout(self) -> Layout:
        """What the numbers of a summary are."""
        return Layout.of(self.scenario.settings)

    @cached_property
    def _usual(self) -> tuple[Conditions, ...]:
        """What all surges share, if no range is drawn, by scenario."""
        return tuple(Conditions.of(one.settings) for one in (self.scenario, *self.more))


def in_rooms(demand: Demand) -> IntArray:
    """Count the patients in isolation rooms at the middle of each hour, shape (hours,)."""
    patients = demand.patients
    inside = patients.room >= 0
    middle_s = np.arange(HOUR_S // 2, demand.horizon_s, HOUR_S)
    came, left = (
        np.searchsorted(np.sort(moments[inside]), middle_s, side="right")
        for moments in (patients.arrive_s, patients.leave_s)
    )
    return (came - left).astype(np.int64)


@dataclass(frozen=True, eq=False)
class Played:
    """One stock over all surges."""

    summary: Summary
    #: one row per surge, see `surge_sim.statistics.rows.surge_table`
    surges: pd.DataFrame


@dataclass(frozen=True, eq=False)
class PlayedStages:
    """All stages of buying on the same surges."""

    #: stock in hand and proposed stock, in full
    now: Played
    then: Played
    by_wait: ByWait
    #: patients in isolation rooms at the middle of each hour, shape (surges, hours)
    in_rooms: IntArray
    #: as expected and with more patients, stock in hand and proposed stock, shape (2 x scenarios,
    #: surges, `surge_sim.sizing.player.SEEN`)
    more: IntArray


def play_stages(
    scenario: Scenario,
    stages: Sequence[Stock],
    proposed: int,
    surges: int,
    seed: int,
    processes: int | None = None,
    progress: Callable[[int], object] | None = None,
    more: Sequence[Scenario] = (),
) -> PlayedStages:
    """Play stages on the first of the new surges of a sizing: those that its table tells of.

    Parameters
    ----------
    scenario : Scenario
        What was sized, with its target.
    stages : sequence of Stock
        Each is played on every surge; the first one is the stock in hand.
    proposed : int
        Place of the proposed stock among them.
    surges, seed : int
        How many surges, and the sizing's seed.
    processes : int, optional
        Processes to share the work; the answer does not depend on it.
    progress : callable, optional
        Called with 1 each time that a surge is done.
    more : sequence of Scenario
        The same with more patients: stock in hand and proposed stock are played on these, too.
    """
    from surge_sim.engine.surges import workers
    from surge_sim.statistics.rows import surge_table

    task = PlayStocks(scenario, tuple(stages), (0, proposed), seed, tuple(more))
    found: list[OfSurge] = []
    with workers(processes) as place:
        for one in place.over(task, range(surges)):
            found.append(one)
            if progress is not None:
                progress(1)
    whole = (joined(list(each)) for each in zip(*(one.summaries for one in found), strict=True))
    now, then = (Played(one, surge_table(one, task.layout)) for one in whole)
    return PlayedStages(
        now=now,
        then=then,
        by_wait=ByWait.of([one.rows for one in found], waits_of(scenario.settings.target)),
        in_rooms=np.array([one.in_rooms for one in found]),
        more=np.array([one.more for one in found[:MORE_SURGES]]).swapaxes(0, 1),
    )
