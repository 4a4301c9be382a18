"""Play surges of a scenario in both engines, up to the first difference."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from surge_sim.engine.compare import Comparison, compare_engines
from surge_sim.engine.surges import compile_engine
from surge_sim.equipment.case import Case, case_of
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.randomness import Sample

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario


@dataclass(frozen=True)
class Verdict:
    """What a comparison over several surges found."""

    name: str
    seed: int
    stock: Stock
    #: by surge, from 0; the last one differs if any does
    surges: tuple[Comparison, ...]
    #: of the last surge
    case: Case

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
    for surge in range(surges):
        case = case_of(scenario, stock, seed, surge, Sample.RUN)
        done.append(compare_engines(case))
        if progress is not None:
            progress(1)
        if done[-1].differing:
            break
    return Verdict(scenario.name, seed, stock, tuple(done), case)
