"""How a stock is played over surges: the one place where a sizing meets demand and engine.

Also how the surges are shared out, and what is told meanwhile.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from enum import IntEnum
from functools import cached_property
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.stock import PARTS
from surge_sim.statistics.target import (
    as_judged,
    day_and_hour,
    in_hand_with_ample_stock,
    judged_score,
    kept,
    late_allowed,
    late_entries,
    parts_missed,
    score_of,
    worst_day,
)

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.engine.log import RunLog, Score
    from surge_sim.equipment.situation import Conditions, Situation
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings, Target

Row = NDArray[np.int64]
Result = TypeVar("Result")


class Seen(IntEnum):
    """Whole numbers of one play that is kept in full."""

    ON_TARGET = 0
    ENTRIES = 1
    LATE = 2
    #: seconds waited, all people together
    WAIT_S = 3
    #: of the day with the largest share of late entries: those late, and all of them
    WORST_LATE = 4
    WORST_ENTRIES = 5
    #: entries that got no kit, one of their requests at least: the maximum wait ran out, or the end
    UNSERVED = 6
    URGENT = 7
    URGENT_UNSERVED = 8
    #: stock-outs of each part, in the order of the supplies' numbers
    STOCK_OUTS = 9
    #: parts used
    USED = 14
    #: entries that were due in each hour of the clock, and those of them that were late
    BY_HOUR = 19
    LATE_BY_HOUR = 43
    #: seconds waited by cause: see :mod:`surge_sim.statistics.waits`
    CAUSES = 67


#: numbers in a row: those above, and what was not waited in line
SEEN = Seen.CAUSES + CAUSES + 2


class Surge(Protocol):
    """One surge, its demand drawn once, ready to meet any stock."""

    def kept(self, stock: Stock) -> bool:
        """Return whether the stock keeps the target; the play ends once it is out of reach."""
        ...

    def missed(self, stock: Stock) -> float:
        """Return 0 on target; else 1 and how many times too many entries were late."""
        ...

    def row(self, stock: Stock) -> Row:
        """Return the numbers of a whole play, shape (SEEN,)."""
        ...


class Player(Protocol):
    """Draws surges by sample and number; must be picklable, for it goes to other processes."""

    @property
    def target(self) -> Target:
        """The target that the surges are judged by."""
        ...

    def surge(self, sample: int, number: int) -> Surge:
        """Draw one surge; the same arguments always give the same surge."""
        ...


@dataclass(frozen=True)
class ScenarioPlayer:
    """Plays a scenario's surges; ``settings`` replace the scenario's, drawn values aside."""

    scenario: Scenario
    target: Target
    seed: int
    engine: str = "compiled"
    #: sections that differ from the scenario's
    sections: dict[str, object] = field(default_factory=dict)
    #: every surge is the same, a recorded period in which nothing is random: drawn once
    alike: bool = False

    def surge(self, sample: int, number: int) -> ScenarioSurge:
        """Draw the demand of one surge and set the target that it is judged by."""
        return self._only if self.alike else self._drawn(sample, number)

    @cached_property
    def _only(self) -> ScenarioSurge:
        return self._drawn(0, 0)

    def _drawn(self, sample: int, number: int) -> ScenarioSurge:
        from surge_sim.equipment.stock import Stock
        from surge_sim.randomness import Streams

        drawn = self.scenario.settings_for(self.seed, sample, number)
        usual = drawn is self.scenario.settings
        conditions = self._usual if usual else self._conditions(drawn)
        situation = conditions.drawn(Streams(self.seed, sample, number), Stock(0, 0, 0))
        return ScenarioSurge(situation, self.target, self.engine)

    @cached_property
    def _usual(self) -> Conditions:
        """What all surges share, if no range is drawn."""
        return self._conditions(self.scenario.settings)

    def _conditions(self, settings: Settings) -> Conditions:
        from surge_sim.equipment.situation import Conditions

        return Conditions.of(settings.model_copy(update={**self.sections, "target": self.target}))


@dataclass(frozen=True)
class ScenarioSurge:
    """One drawn surge of a scenario."""

    #: with any stock
    situation: Situation
    target: Target
    engine: str

    @cached_property
    def _ample_s(self) -> Row | None:
        """When each entry has its first kit with ample stock; None where waits are judged."""
        if self.target.late_by == "wait":
            return None
        return in_hand_with_ample_stock(self.situation, self.engine)  # type: ignore[arg-type]

    def _judged(self, stock: Stock) -> RunLog:
        """Play to the end, as the target judges it."""
        from surge_sim.engine.play import play

        played = self.situation._replace(stock=stock)
        log = play(*played, engine=self.engine)  # type: ignore[arg-type]
        return as_judged(played, log, self.target, ample_s=self._ample_s)

    def kept(self, stock: Stock) -> bool:
        """Return whether the stock keeps the target."""
        limit = late_allowed(self.situation.demand.entries, self.target.service_level)
        return kept(self._score(stock, limit), self.target)

    def missed(self, stock: Stock) -> float:
        """Return by how much the stock misses the target."""
        return missed_by(self._score(stock, None), self.target)

    def row(self, stock: Stock) -> Row:
        """Play to the end and count."""
        return row_of(self._judged(stock), self.situation.demand, self.target)

    def _score(self, stock: Stock, late_limit: int | None) -> Score:
        played = self.situation._replace(stock=stock)
        return judged_score(played, self.target, self.engine, late_limit, self._ample_s)  # type: ignore[arg-type]


def missed_by(score: Score, target: Target) -> float:
    """Return 0 on target; else 1 and how many times too many entries were late."""
    if kept(score, target):
        return 0.0
    allowed = late_allowed(score.entries, target.service_level)
    over = max(score.late - allowed, 0) / max(allowed, 1)
    if target.urgent is not None:
        allowed = late_allowed(score.urgent_entries, target.urgent.service_level)
        over += max(score.urgent_late - allowed, 0) / max(allowed, 1)
    if target.most_stock_outs is not None:
        over += max(score.stock_outs - target.most_stock_outs, 0) / max(target.most_stock_outs, 1)
    return 1.0 + over


def row_of(log: RunLog, demand: Demand, target: Target) -> Row:
    """Count what a sizing tells of one play."""
    from surge_sim.engine.log import Count, Outcome
    from surge_sim.statistics.waits import waiting_by_cause

    entries, counts = demand.entries, np.asarray(log.counts)
    late, score = late_entries(log, entries, target.wait), score_of(log, demand.urgent, target)
    row = np.zeros(SEEN, dtype=np.int64)
    row[Seen.ON_TARGET] = not parts_missed(score, target)
    row[Seen.ENTRIES], row[Seen.LATE] = entries, score.late
    row[Seen.WAIT_S] = log.wait_s.sum()
    row[Seen.WORST_ENTRIES], row[Seen.WORST_LATE] = worst_day(demand, late)
    _, hour = day_and_hour(demand)
    row[Seen.BY_HOUR : Seen.LATE_BY_HOUR] = np.bincount(hour, minlength=24)
    row[Seen.LATE_BY_HOUR : Seen.CAUSES] = np.bincount(hour[late], minlength=24)
    unserved = np.unique(log.entry[log.outcome != Outcome.SERVED])
    row[Seen.UNSERVED], row[Seen.URGENT] = len(unserved), demand.urgent.sum()
    row[Seen.URGENT_UNSERVED] = demand.urgent[unserved].sum()
    row[Seen.STOCK_OUTS : Seen.USED] = counts[Count.STOCK_OUTS_HOODS :][: len(PARTS)]
    row[Seen.USED : Seen.BY_HOUR] = counts[Count.HOODS_USED :][: len(PARTS)]
    row[Seen.CAUSES :] = waiting_by_cause(log)
    return row


class OverSurges(Protocol):
    """Apply a task to surge numbers and yield the results in order of the numbers."""

    def __call__(self, task: Callable[[int], Any], numbers: Sequence[int]) -> Iterable[Any]:
        """Return the results, in order, as they come."""
        ...


def one_by_one(task: Callable[[int], Result], numbers: Sequence[int]) -> Iterator[Result]:
    """Play the surges in this process."""
    return map(task, numbers)


@dataclass(frozen=True)
class SoFar:
    """The best answer of a sizing that is still going on."""

    owned: Stock
    stock: Stock
    money: float
    #: surges on target, of how many
    passes: int
    surges: int
    #: whether it is confirmed on fresh surges, or estimated by those that choose
    confirmed: bool = False


@dataclass(frozen=True)
class Watch:
    """Where progress goes; silent by default."""

    #: (label, total) -> context manager that gives a function to call once for each surge
    bar: Callable[[str, int], AbstractContextManager[Callable[[], object]]] = lambda label, total: (
        nullcontext(lambda: None)
    )
    #: told the best answer whenever there is a better founded one
    best: Callable[[SoFar], None] = lambda so_far: None


@dataclass(frozen=True)
class Work:
    """Shares a task out over surges, with a progress bar."""

    over: OverSurges = one_by_one
    watch: Watch = Watch()

    def __call__(
        self, task: Callable[[int], Result], numbers: Sequence[int], label: str
    ) -> list[Result]:
        """Return the results in the order of the numbers."""
        results = []
        with self.watch.bar(label, len(numbers)) as advance:
            for result in self.over(task, numbers):
                results.append(result)
                advance()
        return results
