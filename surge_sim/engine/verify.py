"""Play surges in both engines and compare what they left behind, to the last bit."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from surge_sim.engine.log import EventLog, RunLog, Score
from surge_sim.engine.play import log_and_score, play, score
from surge_sim.engine.surges import compile_engine
from surge_sim.equipment.situation import Situation, situation_of
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.randomness import Sample

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario

Played = TypeVar("Played")


@dataclass(frozen=True)
class Parting:
    """Where the engines part: the first event that is not the same in both."""

    #: events that are the same before it
    same: int
    #: all events of each engine
    reference: EventLog
    compiled: EventLog


@dataclass(frozen=True)
class Comparison:
    """Both engines on one surge."""

    entries: int
    rows: int
    #: values that were compared
    values: int
    #: time to play the surge for its log [s]
    reference_s: float
    compiled_s: float
    #: names of the columns of the log and fields of the score that differ
    differing: tuple[str, ...] = ()
    #: where the events part, if they do
    parting: Parting | None = None


def differing_columns(reference: RunLog, compiled: RunLog) -> list[str]:
    """Return the names of the columns in which two logs differ: in shape, type or value."""
    names = []
    for name in RunLog.COLUMNS:
        one, other = getattr(reference, name), getattr(compiled, name)
        if one.dtype != other.dtype or not np.array_equal(one, other):
            names.append(name)
    if reference.given_up != compiled.given_up:
        names.append("given_up")
    return names


def parting(reference: EventLog, compiled: EventLog) -> Parting | None:
    """Find the first event that is not the same in both; None when all are."""
    common = min(len(reference), len(compiled))
    unlike = np.flatnonzero((reference[:common] != compiled[:common]).any(axis=1))
    if len(unlike) == 0 and len(reference) == len(compiled):
        return None
    return Parting(int(unlike[0]) if len(unlike) else common, reference, compiled)


def compare_engines(situation: Situation) -> Comparison:
    """Play one surge in both engines, for the log, the events and the score; compare everything.

    Parameters
    ----------
    situation : Situation
        What is played.

    Returns
    -------
    Comparison
    """
    # the reference engine plays a score as it plays a log: once is enough
    (reference, counted), reference_s = _timed(
        lambda: log_and_score(*situation, engine="reference", events=True)
    )
    compiled, compiled_s = _timed(lambda: play(*situation, engine="compiled"))
    assert reference is not None
    ours, theirs = reference.events, play(*situation, engine="compiled", events=True).events
    assert ours is not None and theirs is not None
    scores = counted, score(*situation, engine="compiled")
    parted = parting(ours, theirs)
    sizes = [getattr(reference, name).size for name in RunLog.COLUMNS]
    return Comparison(
        entries=situation.demand.entries,
        rows=len(reference.entry),
        values=sum(sizes) + 1 + len(Score._fields) + ours.size,
        reference_s=reference_s,
        compiled_s=compiled_s,
        differing=(
            *differing_columns(reference, compiled),
            *_differing_counts(*scores),
            *(["events"] if parted else []),
        ),
        parting=parted,
    )


def _timed(played: Callable[[], Played]) -> tuple[Played, float]:
    start = time.perf_counter()
    found = played()
    return found, time.perf_counter() - start


def _differing_counts(reference: Score, compiled: Score) -> list[str]:
    return [
        f"score.{name}"
        for name, one, other in zip(Score._fields, reference, compiled, strict=True)
        if one != other
    ]


@dataclass(frozen=True)
class Verdict:
    """What a comparison over several surges found."""

    name: str
    seed: int
    stock: Stock
    #: by surge, from 0; the last one differs if any does
    surges: tuple[Comparison, ...]
    #: of the last surge
    situation: Situation

    @property
    def same(self) -> bool:
        """Whether no value differs."""
        return not any(surge.differing for surge in self.surges)

    def total(self, what: str) -> float:
        """Sum of a number of the comparisons, for example ``entries``."""
        return sum(getattr(surge, what) for surge in self.surges)


def verify(
    scenario: Scenario,
    stock: Stock | None = None,
    surges: int = 5,
    seed: int = 1,
    progress: Callable[[int], object] | None = None,
) -> Verdict:
    """Compare the engines on surges ``0 .. surges - 1``, or until they differ.

    Parameters
    ----------
    scenario : Scenario
        From ``load_scenario``.
    stock : Stock, optional
        Instead of the stock that the scenario says is in hand.
    surges : int
        Most surges to play, at least 1.
    seed : int
        Random seed; the same surges as those of ``run``.
    progress : callable, optional
        Called with 1 after each surge.

    Returns
    -------
    Verdict
    """
    stock = stock or stock_in_hand(scenario.settings)
    compile_engine()
    done: list[Comparison] = []
    for surge in range(surges):
        situation = situation_of(scenario, stock, seed, surge, Sample.RUN)
        done.append(compare_engines(situation))
        if progress is not None:
            progress(1)
        if done[-1].differing:
            break
    return Verdict(scenario.name, seed, stock, tuple(done), situation)
