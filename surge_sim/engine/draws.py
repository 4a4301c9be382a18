"""Work draws in sizes that suffice: a play that runs out is played again with more."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from surge_sim.demand.trace import DemandTrace
from surge_sim.demand.work import BLOCK, WorkArrays, usual_wipes
from surge_sim.equipment.numbers import Numbers


class Exhausted(Exception):
    """A play needs more draws, or more room for new needs, than it was given."""


@dataclass(frozen=True)
class Sizes:
    """How many draws a play gets; growing them changes no draw that it had before."""

    wipes: int
    blowers: int
    generations: int
    #: rows for needs that arise in the play
    new_needs: int

    def grown(self) -> Sizes:
        """Return larger sizes."""
        return replace(
            self,
            wipes=2 * self.wipes,
            generations=2 * self.generations,
            new_needs=4 * self.new_needs,
        )

    def arrays(self, trace: DemandTrace) -> WorkArrays:
        """Draw so much."""
        return trace.work.sized(self.wipes, self.blowers, self.generations)


def first_sizes(trace: DemandTrace, numbers: Numbers) -> Sizes:
    """Sizes that nearly always suffice."""
    blocks = -(-max(numbers.kits, 1) // BLOCK)
    wipes = usual_wipes(trace.entries)
    return Sizes(wipes, blocks * BLOCK, 16, wipes - trace.entries)


def plain_work(work: WorkArrays) -> WorkArrays:
    """Return the same draws as lists, quicker to read from Python."""
    return WorkArrays(*(array.tolist() for array in map(np.asarray, work)))  # type: ignore[arg-type]
