"""Which input that is not known exactly matters: for service, for the stock to add, for money.

Every input with a range is held at its low and at its high value, while the others are drawn as
ever, on the same simulated surges. Each is also taken, alone and with all others, from a second
surge: so the variance of what surges come to is parted between inputs and random variation
(`indices`). Plain surges with the first stock of a ladder that keeps the target in each say what
knowing an input before buying is worth (`value`).

The stock to add at a value is the first of the ladder that keeps the target in the share of surges
that the target asks for. The ladder is one order of buying, the same for all values: the cheapest
stock for one of them may be a mix that is not on it, and cheaper.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from surge_sim.demand.replay import replay_of
from surge_sim.equipment.stock import ITEMS
from surge_sim.randomness import Purpose, Sample, Streams
from surge_sim.statistics.intervals import CONFIDENCE, Interval, quantile_over_surges
from surge_sim.whatif.design import AS_IT_IS, CHANCE, Alternative, Design
from surge_sim.whatif.differences import MEASURES, Difference, differences, level
from surge_sim.whatif.indices import Index, indices, paired_difference
from surge_sim.whatif.input_design import ALL, Ladder, design_for, ends_of, inputs_of, second_of
from surge_sim.whatif.parts import Parts
from surge_sim.whatif.play import Played, play_design
from surge_sim.whatif.value import losses_of, price_of_missing, value_of_knowing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from surge_sim.demand.replay import Replay
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.ranges import Range

_SHARE, _ON_TARGET = MEASURES[0], MEASURES[1]


class PassingStock(NamedTuple):
    """The stock to add at one value of an input, as a number of the ladder."""

    #: with limits over surges; the number of stocks where none suffices
    rung: Interval

    @property
    def place(self) -> int:
        """The number itself."""
        return int(self.rung.estimate or 0)


def differs(interval: Interval | None) -> bool:
    """Say whether limits leave no doubt that something is above or below 0."""
    if interval is None or interval.low is None or interval.high is None:
        return False
    return interval.low > 0.0 or interval.high < 0.0


@dataclass(frozen=True)
class Effect:
    """What is known of one input."""

    input: Range
    #: share of entries in time with the stock in hand: low, high, and their difference
    service: Difference
    #: share of surges on target, at low and at high
    on_target: tuple[float, float]
    index: Index
    #: at low and at high; None without a ladder
    passing: tuple[PassingStock, PassingStock] | None = None
    #: what the stock to add costs at high, less at low
    money: Interval | None = None
    #: what knowing it before buying is worth
    value: Interval | None = None

    @property
    def is_shown(self) -> bool:
        """Whether it moves the stock to add, or service, beyond random variation."""
        return differs(self.money) or differs(self.service.by)


@dataclass(frozen=True, eq=False, repr=False)
class Matters:
    """What a study of inputs found; the tables are pandas DataFrames of their own.

    Plays of a recorded period have no limits: they say nothing of any other period.
    """

    played: Played
    inputs: tuple[Range, ...]
    ladder: Ladder | None = None
    #: of a missed surge, where one was stated
    stated_price: float | None = None
    confidence: float = CONFIDENCE
    #: names of inputs that got a range by `with_spread`, how far, and what was left out
    spread: tuple[float, tuple[str, ...]] | None = None
    left: tuple[tuple[str, str], ...] = ()
    mixed: tuple[str, ...] = ()
    replay: Replay | None = None
    notes: tuple[str, ...] = field(default=())

    def __repr__(self) -> str:
        """Return what was studied and where to look on."""
        names = ", ".join(one.name for one in self.inputs)
        return (
            f"Inputs of {self.scenario.name} that are not known exactly: {names}; "
            f"{self.surges:,} surges, seed {self.design.seed}.\nTables: table, by_surge."
        )

    @property
    def design(self) -> Design:
        """What was played."""
        return self.played.design

    @property
    def scenario(self) -> Scenario:
        """The scenario, with all ranges that were studied."""
        return self.design.base.scenario

    @property
    def surges(self) -> int:
        """Number of surges."""
        return int(self.played.rows.shape[1])

    @property
    def _each(self) -> float:
        """Confidence of each limit, so that those of all inputs hold together (Bonferroni)."""
        return 1.0 - (1.0 - self.confidence) / len(self.inputs)

    @cached_property
    def service(self) -> float | None:
        """Share of entries in time with the stock in hand, ranges drawn."""
        return level(_SHARE, self.played.rows[0])

    @cached_property
    def passing(self) -> PassingStock | None:
        """The stock to add with all ranges drawn; None without a ladder."""
        return None if self.ladder is None else self._passing(self._rungs)

    @cached_property
    def _rungs(self) -> NDArray[np.int64]:
        """The minimum passing stock of each plain surge, of both samples, shape (2 x surges,)."""
        return np.concatenate([self.played.of(AS_IT_IS)["stage"], self.played.of(ALL)["stage"]])

    def _passing(self, rungs: NDArray[np.int64]) -> PassingStock:
        share = self.scenario.settings.target.share_of_surges
        found = quantile_over_surges(rungs, share, self.confidence)
        return PassingStock(found if self.replay is None else Interval(found.estimate, None, None))

    @cached_property
    def price(self) -> float | None:
        """Price of a missed surge: stated, or the lowest at which the target's stock pays."""
        if self.ladder is None or self.stated_price is not None:
            return self.stated_price
        share = self.scenario.settings.target.share_of_surges
        return price_of_missing(np.array(self.ladder.money), self.missed, share)

    @cached_property
    def missed(self) -> NDArray[np.float64]:
        """Share of surges that miss the target, by stock of the ladder, ranges drawn [0..1]."""
        assert self.ladder is not None
        stocks = np.arange(len(self.ladder.stocks))
        return (stocks[:, None] < self._rungs).mean(axis=1)

    def worth(self, place: int) -> float | None:
        """Return what a stock of the ladder costs; None beyond it."""
        assert self.ladder is not None
        return self.ladder.money[place] if place < len(self.ladder.stocks) else None

    @cached_property
    def effects(self) -> tuple[Effect, ...]:
        """One for each input, those that are shown to move the answer first, by how far."""
        found = [self._effect(number, one) for number, one in enumerate(self.inputs)]

        def moves(one: Effect) -> tuple[bool, float, float]:
            money = one.money.estimate if one.money is not None else None
            far = -abs(money or 0.0), -abs(one.service.by.estimate or 0.0)
            return not one.is_shown, *far

        return tuple(sorted(found, key=moves))

    def _effect(self, number: int, one: Range) -> Effect:
        low, high = (self.played.of(name) for name in ends_of(number))
        limited = self.replay is None
        [[service]] = differences(low, [high], self._each, (_SHARE,), limited)
        on_target = tuple(level(_ON_TARGET, rows) or 0.0 for rows in (low, high))
        index = self.indices[number]
        if self.ladder is None:
            return Effect(one, service, on_target, index)  # type: ignore[arg-type]
        passing = self._passing(low["stage"]), self._passing(high["stage"])
        worth = np.array([*self.ladder.money, self.ladder.money[-1]])
        share = self.scenario.settings.target.share_of_surges
        money = paired_difference(
            low["stage"], high["stage"], worth, share, self._rng(number + 1), self._each
        )
        if not limited:
            money = Interval(money.estimate, None, None)
        value = self._value(one)
        return Effect(one, service, on_target, index, passing, money, value)  # type: ignore[arg-type]

    def _value(self, one: Range) -> Interval:
        assert self.ladder is not None
        if self.price is None:
            return Interval(None, None, None)
        seed, surges = self.design.seed, range(self.surges)
        samples = (Sample.RUN, Sample.SECOND)
        values = [one.drawn(seed, sample, surge) for sample in samples for surge in surges]
        losses = losses_of(np.array(self.ladder.money), self._rungs, self.price)
        found = value_of_knowing(losses, np.array(values), self._each)
        return found if self.replay is None else Interval(found.estimate, None, None)

    def _rng(self, block: int) -> np.random.Generator:
        return Streams(self.design.seed, Sample.RUN, 0).stream(Purpose.RESAMPLING, block)

    @cached_property
    def indices(self) -> tuple[Index, ...]:
        """Indices of the share of entries in time, of each input in order, then of chance."""
        names = [second_of(number) for number in range(len(self.inputs))]
        plain, other, *one_other = (
            _in_time(self.played.of(name)) for name in (AS_IT_IS, ALL, *names, CHANCE)
        )
        found = indices(plain, other, np.array(one_other), self._rng(0), self.confidence)
        if self.replay is not None:
            found = [Index(*(Interval(part.estimate, None, None) for part in one)) for one in found]
        return tuple(found)

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row per input, in the order of `effects`; the last is random variation."""
        rows: list[dict[str, Any]] = []
        for one in self.effects:
            low, high = one.passing or (None, None)
            rows.append(
                {
                    "input": one.input.name,
                    "low": self._written(one.input, "low"),
                    "likely": self._written(one.input, "likely"),
                    "high": self._written(one.input, "high"),
                    "service_level_at_low": one.service.base,
                    "service_level_at_high": one.service.value,
                    **one.service.by.named("service_level_difference"),
                    "share_on_target_at_low": one.on_target[0],
                    "share_on_target_at_high": one.on_target[1],
                    **self._passing_columns("low", low),
                    **self._passing_columns("high", high),
                    **(one.money or Interval(None, None, None)).named("cost_difference"),
                    **(one.value or Interval(None, None, None)).named("value_of_information"),
                    **_index_columns(one.index),
                }
            )
        rows.append({"input": CHANCE, **_index_columns(self.indices[-1])})
        table = pd.DataFrame(rows)
        words = ("input", "low", "likely", "high")
        numbers = [name for name in table if name not in words]
        return table.astype(dict.fromkeys(numbers, float)).fillna(dict.fromkeys(words, ""))

    def _written(self, one: Range, end: str) -> str:
        from surge_sim.scenario.yaml_text import value_at

        return str(value_at(self.scenario.tree.root, one.path).get(end, ""))

    def _passing_columns(self, end: str, passing: PassingStock | None) -> dict[str, Any]:
        names = [item.field for item in ITEMS.values()]
        columns: dict[str, Any] = {f"{name}_at_{end}": None for name in names}
        columns |= {f"{name}_at_{end}": None for name in ("cost", "cost_low", "cost_high")}
        if passing is None:
            return columns
        assert self.ladder is not None
        if passing.place < len(self.ladder.stocks):
            stock = self.ladder.stocks[passing.place]
            columns |= {f"{name}_at_{end}": getattr(stock, name) for name in names}
        for name, place in zip(("cost", "cost_low", "cost_high"), passing.rung, strict=True):
            columns[f"{name}_at_{end}"] = None if place is None else self.worth(int(place))
        return columns

    @cached_property
    def by_surge(self) -> pd.DataFrame:
        """One row per surge and way in which it was played."""
        parts = []
        for one, mine in zip(self.design.alternatives, self.played.rows, strict=True):
            columns = {name: mine[name] for name in ("surge", "entries", "in_time")}
            columns |= {"on_target": mine["missed"] == 0}
            if self.ladder is not None:
                columns |= {"stage": mine["stage"] if one.ladder else np.full(len(mine), -1)}
            parts.append(pd.DataFrame(columns).assign(variant=self._way(one)))
        table = pd.concat(parts, ignore_index=True)
        return table[["variant", *(name for name in table if name != "variant")]]

    def _way(self, one: Alternative) -> str:
        """Say how an alternative was played."""
        if one.held:
            [(held, value)] = one.held
            return f"{held.name} at its {'low' if value == held.low else 'high'} value"
        if not one.second:
            return "as it is"
        return "second surge" if len(one.second) > len(self.inputs) else f"second {one.second[0]}"


def _index_columns(index: Index) -> dict[str, float | None]:
    return {
        **index.first.named("first_order"),
        **index.total.named("total_order"),
        **index.together.named("interaction"),
    }


def _in_time(rows: Any) -> NDArray[np.float64]:
    """Return the share of entries in time of each surge; 1 without any."""
    return np.where(rows["entries"] > 0, rows["in_time"] / np.maximum(rows["entries"], 1), 1.0)


def study(
    scenario: Scenario,
    place: Any,
    ladder: Ladder | None = None,
    surges: int = 200,
    seed: int = 1,
    engine: str = "compiled",
    stated_price: float | None = None,
    parts: Parts | None = None,
    progress: Callable[[int], object] | None = None,
) -> Matters:
    """Play what is needed to say which input matters.

    Parameters
    ----------
    scenario : Scenario
        With ranges.
    place : Workers
        Where surges are played; the result does not depend on it.
    ladder : Ladder, optional
        Without it nothing is said of the stock to add and of money.
    surges : int
        Number of surges; 2 or more.
    seed, engine
        As for a run.
    stated_price : float, optional
        Of a missed surge, in the scenario's currency.
    parts : Parts, optional
        Where plays are kept, so that a study that was stopped goes on.
    progress : callable, optional
        Called with a number of plays each time that so many more are done.

    Returns
    -------
    Matters
        Identical for any number of processes, stopped in between or not.

    Raises
    ------
    ScenarioError
        See :func:`inputs_of`.
    """
    inputs = inputs_of(scenario, surges)
    design = design_for(scenario, inputs, ladder, seed, engine)
    played = play_design(design, surges, place, parts, progress)
    return Matters(played, inputs, ladder, stated_price, replay=replay_of(scenario))
