"""What chance brings to things, not to entries: wipe-down times, lives, faults, repairs.

Each is the beginning of an endless sequence: asking for more moves nothing already drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from surge_sim.demand.distributions import NO_TIME, fitted, whole_seconds
from surge_sim.randomness import Purpose, Streams
from surge_sim.scenario.schema import Faults, Filters, Settings
from surge_sim.scenario.spread import TimeSpread

#: blowers that share one stream of lives; a fleet of any size is some whole blocks
BLOCK = 64
#: lives of each blower that nearly always suffice
USUAL_LIVES = 16

IntArray = NDArray[np.int64]


class WorkArrays(NamedTuple):
    """Draws as the engines read them; int64 whole seconds.

    ``*_life_s[n, blower]`` is the life in run-seconds of the n-th filter (or stretch between
    faults) of a blower; tables of a feature that is not in the scenario have shape (0, 0).
    """

    #: labour of the m-th wipe-down to start
    wipe_s: NDArray[np.int64]
    prefilter_life_s: NDArray[np.int64]
    main_life_s: NDArray[np.int64]
    #: run-seconds already on each blower's part-worn filters when the surge begins; (blowers,)
    prefilter_used_s: NDArray[np.int64]
    main_used_s: NDArray[np.int64]
    #: run-seconds from the n-th return of a blower to its next fault
    fault_run_s: NDArray[np.int64]
    repair_s: NDArray[np.int64]

    def suffices(self, wipes: int, blowers: int, generations: int) -> bool:
        """Whether there are so many wipe-downs, blowers and lives per blower."""
        tables = (self.prefilter_life_s, self.main_life_s, self.fault_run_s, self.repair_s)
        return len(self.wipe_s) >= wipes and all(
            not table.size or (len(table) >= generations and table.shape[1] >= blowers)
            for table in tables
        )


def usual_wipes(entries: int) -> int:
    """Return how many wipe-downs nearly always suffice for a surge of so many entries."""
    return entries + entries // 8 + 64


@dataclass(frozen=True)
class WorkDraws:
    """Where a surge's work draws come from."""

    seed: int
    sample: int
    surge: int
    wipe: TimeSpread | None
    filters: Filters | None
    faults: Faults

    @classmethod
    def of(cls, settings: Settings, seed: int, sample: int, surge: int) -> WorkDraws:
        """Return the draws of one surge under its settings."""
        wipe, filters, faults = settings.cleaning.wipe, settings.filters, settings.faults
        return cls(seed, sample, surge, wipe, filters, faults)

    def sized(self, wipes: int, blowers: int, generations: int) -> WorkArrays:
        """Draw at least so many wipe-downs, blowers and lives per blower.

        Any two calls agree wherever both have a value.

        Parameters
        ----------
        wipes, blowers, generations : int
            Least length of ``wipe_s``, and least columns and rows of the tables; 1 or more.

        Returns
        -------
        WorkArrays
            Read-only. Columns come in whole blocks of `BLOCK` blowers.
        """
        blocks = -(-blowers // BLOCK)
        filters, faults = self.filters, self.faults
        none, unused = np.zeros((0, 0), dtype=np.int64), np.zeros(0, dtype=np.int64)
        prefilter_s = main_s = fault_run_s = repair_s = none
        prefilter_used_s = main_used_s = unused

        def lives(purpose: Purpose, spread: TimeSpread | None, least_s: int = 1) -> IntArray:
            if spread is None:
                return np.zeros((generations, blocks * BLOCK), dtype=np.int64)
            times, count = fitted(spread), generations * BLOCK
            return self._by_block(
                purpose, blocks, lambda rng: times.sample(rng, count, least_s).reshape(-1, BLOCK)
            )

        if filters is not None:
            prefilter_s = lives(Purpose.PREFILTERS, filters.prefilter_life)
            main_s = lives(Purpose.MAIN_FILTERS, filters.main_filter_life)
            # how much of the first of each has gone
            share = self._by_block(Purpose.FILTER_AGES, blocks, lambda rng: rng.random((2, BLOCK)))
            prefilter_used_s = (share[0] * prefilter_s[0]).astype(np.int64)
            main_used_s = (share[1] * main_s[0]).astype(np.int64)
        mean_run_s = faults.blower_run_between_faults
        if mean_run_s is not None:
            shape = (generations, BLOCK)
            runs_s = self._by_block(
                Purpose.FAULTS, blocks, lambda rng: rng.standard_exponential(shape) * mean_run_s
            )
            fault_run_s = whole_seconds(runs_s, 1)
            repair_s = lives(Purpose.REPAIRS, faults.repair_time, 0)
        wipe = NO_TIME if self.wipe is None else fitted(self.wipe)
        wipe_s = wipe.sample(self._stream(Purpose.WIPE_DOWN), wipes)
        arrays = WorkArrays(
            wipe_s, prefilter_s, main_s, prefilter_used_s, main_used_s, fault_run_s, repair_s
        )
        for array in arrays:
            array.setflags(write=False)
        return arrays

    def _stream(self, purpose: Purpose, block: int = 0) -> Generator:
        return Streams(self.seed, self.sample, self.surge).stream(purpose, block)

    def _by_block(
        self, purpose: Purpose, blocks: int, draw: Callable[[Generator], NDArray]
    ) -> NDArray:
        """Draw by blocks of blowers, side by side; row by row, so that more rows only append."""
        return np.concatenate(
            [draw(self._stream(purpose, block)) for block in range(blocks)], axis=1
        )
