"""Play surges of a scenario in both engines, up to the first difference."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from surge_sim.engine.compare import Comparison, Difference, compare_engines
from surge_sim.engine.play import narrate
from surge_sim.engine.surges import compile_engine
from surge_sim.equipment.case import Case, case_of
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.randomness import Sample

if TYPE_CHECKING:
    from surge_sim.scenario.scenario import Scenario

#: sentences of the reference that are told before a difference
_SENTENCES = 8


@dataclass(frozen=True)
class Sentence:
    """Something that happened in the reference engine."""

    at_s: int
    #: entry, kit or battery, and its number
    sort: str
    number: int
    said: str


@dataclass(frozen=True)
class Verdict:
    """What a comparison over several surges found."""

    name: str
    seed: int
    stock: Stock
    #: by surge, from 0; the last one differs if any does
    surges: tuple[Comparison, ...]
    #: the last sentences of the reference about the entry, kit and battery that differ
    story: tuple[Sentence, ...] = ()

    @property
    def same(self) -> bool:
        """Whether no value differs."""
        return all(surge.first is None for surge in self.surges)

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
        Most surges to play.
    seed : int
        Number that all chance comes from; the same surges as those of ``run``.
    progress : callable, optional
        Called with 1 after each surge.

    Returns
    -------
    Verdict
    """
    stock = stock or stock_in_hand(scenario.settings)
    compile_engine()
    done: list[Comparison] = []
    story: tuple[Sentence, ...] = ()
    for surge in range(surges):
        case = case_of(scenario, stock, seed, surge, Sample.RUN)
        done.append(compare_engines(case))
        if progress is not None:
            progress(1)
        if done[-1].first is not None:
            story = story_before(done[-1].first, case)
            break
    return Verdict(scenario.name, seed, stock, tuple(done), story)


def story_before(difference: Difference, case: Case) -> tuple[Sentence, ...]:
    """Return the last sentences of the reference before a difference, about what differs.

    A difference that belongs to no entry is told by what happened to anything.
    """
    about = {
        "entry": difference.entry,
        "kit": difference.kit,
        "battery": difference.battery,
    }
    anything = difference.entry < 0
    last: deque[Sentence] = deque(maxlen=_SENTENCES)

    def listen(at_s: int, sort: str, number: int, said: str) -> None:
        if at_s <= difference.at_s and (anything or about.get(sort, -1) == number):
            last.append(Sentence(at_s, sort, number, said))

    narrate(*case, listener=listen)
    return tuple(last)
