"""Play a design: every alternative over the same surges, by the usual workers.

One task is one surge: its demand is drawn once for all alternatives whose demand is equal, and
each is then played on it. Another demand is drawn *beside* that of the base (`plan.beside`): more
patients come besides the same ones, fewer patients or visits are some of the same. Tasks come
back block by block, and a block that is complete is kept (`parts`). Stopped at any moment and
started again, only the blocks that are missing are played.

    design = design_of(scenario, [alternative_of(scenario, "two cleaners", {...})], seed=1)
    with workers() as place:
        played = play_design(design, 200, place)
    played.rows           # shape (alternatives, surges), columns of `outcome.ROW`
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import TYPE_CHECKING, Any

import numpy as np

from surge_sim.statistics.target import as_judged, judged_score, kept, late_allowed
from surge_sim.whatif.design import Alternative, Design
from surge_sim.whatif.outcome import ROW, Rows, outcome
from surge_sim.whatif.parts import BLOCK, Parts
from surge_sim.whatif.setup import Setup, SetupsInSurge, SharedSetups

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.engine.surges import Workers
    from surge_sim.equipment.situation import Situation
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.schema import Target


@dataclass(frozen=True)
class PlaySurge:
    """What is done for one surge, in whichever process; picklable."""

    alternatives: tuple[Alternative, ...]
    #: demand that is another one is drawn beside the demand of this one
    base: Alternative
    seed: int
    engine: str

    @cached_property
    def _shared(self) -> SharedSetups:
        return SharedSetups(self.base, self.seed)

    def __call__(self, surge: int) -> Rows:
        """Draw a surge, play each alternative on it and count, shape (alternatives,)."""
        from surge_sim.engine.play import play

        rows: list[Rows] = []
        drawn: list[tuple[tuple[Any, ...], Demand]] = []
        stage, setups = 0, SetupsInSurge(self._shared, surge)
        for one in self.alternatives:
            setup = setups.of(one)
            demand = self._demand(one, setup, setups, drawn)
            situation = setup.conditions.situation(demand, one.in_hand)
            target = setup.conditions.settings.target
            log = play(*situation, engine=self.engine)  # type: ignore[arg-type]
            judged = as_judged(situation, log, target, self.engine)  # type: ignore[arg-type]
            row = outcome(situation.demand, judged, target)
            if one.ladder:
                if one.in_hand == one.ladder[0] and not row["missed"][0]:
                    stage = 0
                else:
                    # alternatives of one surge need about as much
                    stage = first_stage_on_target(situation, one.ladder, target, self.engine, stage)
                row["stage"] = stage
            rows.append(row)
        return np.concatenate(rows)

    def _demand(
        self,
        one: Alternative,
        setup: Setup,
        setups: SetupsInSurge,
        drawn: list[tuple[tuple[Any, ...], Demand]],
    ) -> Demand:
        """Return the demand of a surge; one that was drawn from the same is taken again."""
        from surge_sim.demand.draw import draw
        from surge_sim.demand.plan import beside
        from surge_sim.randomness import Streams

        # what a value of an input does is read from surges of that value, as a run has them
        plain = bool(one.held or one.second)
        mine = (one.sample, plain, *setup.drawn_from)
        for drawn_from, demand in drawn:
            if drawn_from == mine:
                return demand
        plan = setup.conditions.plan
        if not plain:
            base = setups.base
            if base.drawn_from != setup.drawn_from:
                plan = beside(plan, base.conditions.plan)
        demand = draw(plan, Streams(self.seed, one.sample, setups.surge))
        drawn.append((mine, demand))
        return demand


def first_stage_on_target(
    situation: Situation, ladder: Sequence[Stock], target: Target, engine: str, guess: int = 0
) -> int:
    """Return which stock of a ladder is the first that keeps the target.

    Found by halving, which takes for granted that more stock never hurts this surge; where it
    does, it is a stock that keeps the target while the one below it does not.

    Parameters
    ----------
    situation : Situation
        One surge; its stock does not matter.
    ladder : sequence of Stock
        Each with more than the one before.
    target : Target
        What is to be kept.
    engine : {"compiled", "reference"}
        Both find the same.
    guess : int
        Where to look first.

    Returns
    -------
    int
        From 0; the number of stocks where none keeps the target.
    """
    limit = late_allowed(situation.demand.entries, target.service_level)

    def keeps(stage: int) -> bool:
        there = situation._replace(stock=ladder[stage])
        return kept(judged_score(there, target, engine, limit), target)  # type: ignore[arg-type]

    low, high = 0, len(ladder)
    for stage in (guess, guess - 1):
        if low <= stage < high:
            low, high = (low, stage) if keeps(stage) else (stage + 1, high)
    while low < high:
        middle = (low + high) // 2
        low, high = (low, middle) if keeps(middle) else (middle + 1, high)
    return low


@dataclass(frozen=True, eq=False)
class Played:
    """Every play of a design."""

    design: Design
    #: shape (alternatives, surges), in the order of both; columns of `outcome.ROW`
    rows: Rows

    def of(self, name: str) -> Rows:
        """Return the rows of one alternative, shape (surges,)."""
        names = [one.name for one in self.design.alternatives]
        return self.rows[names.index(name)]


def play_design(
    design: Design,
    surges: int,
    place: Workers,
    parts: Parts | None = None,
    progress: Callable[[int], object] | None = None,
) -> Played:
    """Play surges ``0 .. surges - 1`` of every alternative.

    Parameters
    ----------
    design : Design
        What is played.
    surges : int
        Number of surges, 1 or more.
    place : Workers
        Where they are played; the result does not depend on it.
    parts : Parts, optional
        What is known already, and where each block is kept once it is played.
    progress : callable, optional
        Called with a number of plays each time that so many more are done.

    Returns
    -------
    Played
        Identical for any number of processes, and for a run that was stopped and went on.
    """
    parts = Parts() if parts is None else parts
    of_key = {design.key_of(one): one for one in design.alternatives}
    parts.find(of_key)
    blocks = [_surges(block, surges) for block in range(-(-surges // BLOCK))]
    missing = [_missing(parts, number, of_key, len(one)) for number, one in enumerate(blocks)]
    todo = sum(len(keys) * len(one) for keys, one in zip(missing, blocks, strict=True))
    tell = progress or (lambda plays: None)
    tell(len(of_key) * surges - todo)
    for keys, group in groupby(range(len(blocks)), lambda number: missing[number]):
        numbers = list(group)
        if keys:
            chosen = tuple(of_key[key] for key in keys)
            task = PlaySurge(chosen, design.base, design.seed, design.engine)
            todo_here = [surge for number in numbers for surge in blocks[number]]
            found = iter(place.over(task, todo_here, design.engine))
            for number in numbers:
                rows = []
                for _ in blocks[number]:
                    rows.append(next(found))
                    tell(len(keys))
                parts.keep(number, dict(zip(keys, np.stack(rows, axis=1), strict=True)))
    played = np.empty((len(design.alternatives), surges), dtype=ROW)
    for number, one in enumerate(design.alternatives):
        key = design.key_of(one)
        mine = [parts.known[block, key][: len(wanted)] for block, wanted in enumerate(blocks)]
        played[number] = np.concatenate(mine)
    return Played(design, played)


def plays_of(design: Design, surges: int) -> int:
    """Return how many plays a design needs: alternatives that are equal are played once."""
    return len({design.key_of(one) for one in design.alternatives}) * surges


def _missing(parts: Parts, block: int, keys: Iterable[str], wanted: int) -> tuple[str, ...]:
    """Return the keys of alternatives of which some of so many surges of a block are missing."""
    return tuple(key for key in keys if len(parts.known.get((block, key), ())) < wanted)


def _surges(block: int, surges: int) -> range:
    """Return the numbers of a block's surges, of so many in all."""
    return range(block * BLOCK, min((block + 1) * BLOCK, surges))
