"""Play many surges with one stock and add them up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.demand.replay import replay_of, used_ranges
from surge_sim.equipment.average_load import all_warnings, missing_maximum_wait
from surge_sim.equipment.situation import Conditions, Situation
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.errors import whole_number
from surge_sim.plain import csv_text
from surge_sim.randomness import Sample, Streams
from surge_sim.statistics.recorded import not_compared
from surge_sim.statistics.summary import Layout, Summary, joined, summarise
from surge_sim.statistics.target import delays
from surge_sim.statistics.warnings import single_charger_seen

if TYPE_CHECKING:
    from surge_sim.engine.play import Engine
    from surge_sim.scenario.load import Scenario
    from surge_sim.statistics.result import RunResult


class Part(NamedTuple):
    """What comes of one surge, or of some that follow one another."""

    summary: Summary
    #: every request as CSV text, where it is asked for
    text: str


def one_part(parts: Sequence[Part]) -> Part:
    """Put parts that follow one another together."""
    return Part(joined([one.summary for one in parts]), "".join(one.text for one in parts))


@dataclass(frozen=True)
class PlayAndSummarise:
    """What is done for surges, in whichever process; picklable."""

    scenario: Scenario
    stock: Stock
    seed: int
    engine: Engine
    #: also return every request as CSV text
    with_entries: bool = False

    def __call__(self, surge: int) -> Part:
        """Draw a surge, play it and summarise it."""
        from surge_sim.engine.play import play

        situation = self.situation(surge)
        log = play(*situation, engine=self.engine)
        delay_s = delays(situation, log, self.engine)
        if self._layout.target.late_by == "delay":
            log = replace(log, delay_s=delay_s)
        summary = summarise(situation.demand, log, self._layout, delay_s)
        if not self.with_entries:
            return Part(summary, "")
        from surge_sim.statistics.rows import entry_table

        return Part(
            summary, csv_text(entry_table(situation.demand, log, delay_s), header=surge == 0)
        )

    def situation(self, surge: int) -> Situation:
        """Draw all that the play of a surge needs."""
        settings = self.scenario.settings_for(self.seed, Sample.RUN, surge)
        usual = settings is self.scenario.settings
        conditions = self._usual if usual else Conditions.of(settings)
        return conditions.drawn(Streams(self.seed, Sample.RUN, surge), self.stock)

    @cached_property
    def _layout(self) -> Layout:
        return Layout.of(self.scenario.settings)

    @cached_property
    def _usual(self) -> Conditions:
        """What all surges share, if no range is drawn."""
        return Conditions.of(self.scenario.settings)


def run(
    scenario: Scenario,
    stock: Stock | None = None,
    surges: int = 200,
    seed: int = 1,
    processes: int | None = None,
    engine: Engine = "compiled",
    progress: Callable[[int], object] | None = None,
    write_entries: Callable[[str], object] | None = None,
    cluster: str | None = None,
) -> RunResult:
    """Play surges ``0 .. surges - 1`` of a scenario with one stock.

    Parameters
    ----------
    scenario : Scenario
        From ``load_scenario``.
    stock : Stock, optional
        Instead of the stock that the scenario says is in hand.
    surges : int
        Number of surges, 1 or more. A recorded log in which nothing is random is played once.
    seed : int
        Random seed.
    processes : int, optional
        Processes to share the work; the result does not depend on it.
    engine : {"compiled", "reference"}
        Both give the same result.
    progress : callable, optional
        Called with a number of surges each time that so many more are done.
    write_entries : callable, optional
        Called with CSV text, surge after surge: one row per need, see
        :func:`surge_sim.statistics.rows.entry_table`. The first text has the header.
    cluster : str, optional
        Address of a Dask scheduler whose workers share the work instead.

    Returns
    -------
    RunResult
        Identical for any number of processes, here or on a cluster.

    Raises
    ------
    TypeError, ValueError
        If `surges` or `seed` is no whole number, or too small.
    """
    from surge_sim.engine.surges import workers

    # here: workers load this module, and have no use for tables
    from surge_sim.statistics.result import RunResult

    surges, seed = whole_number("surges", surges, least=1), whole_number("seed", seed)
    settings, replay = scenario.settings, replay_of(scenario)
    if replay is not None:
        surges = replay.plays(surges)
    stock = stock or stock_in_hand(settings)
    task = PlayAndSummarise(scenario, stock, seed, engine, write_entries is not None)
    found: list[Summary] = []
    with workers(processes, cluster) as place:
        for part in place.over(task, range(surges), engine, one_part):
            found.append(part.summary)
            if write_entries is not None:
                write_entries(part.text)
            if progress is not None:
                progress(len(part.summary))
    summary = joined(found)
    alone = single_charger_seen(scenario, stock, seed, Sample.RUN, summary.rows["missed"] == 0)
    return RunResult(
        name=scenario.name,
        title=settings.title,
        question=settings.question,
        seed=seed,
        engine=engine,
        stock=stock,
        target=settings.target,
        summary=summary,
        layout=Layout.of(settings),
        wipes_per_clean=settings.supplies.wipes_per_clean,
        notes=(
            *([alone] if alone else []),
            *all_warnings(scenario, stock.kits, stock.batteries),
            *not_compared(settings),
        ),
        missing_maximum_wait=missing_maximum_wait(settings),
        timeline=tuple(settings.timeline),
        ranges=used_ranges(scenario),
        start=settings.start,
        replay=replay,
    )
