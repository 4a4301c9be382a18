"""Draws that belong to work and items, not to entries: wipe-downs, lives, faults, repairs.

Each is the beginning of an endless sequence: asking for more moves nothing already drawn.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.distributions import NO_TIME, fitted, whole_seconds
from surge_sim.randomness import Purpose, Streams
from surge_sim.scenario.schema import Faults, Filters, Settings
from surge_sim.scenario.spread import TimeSpread

#: blowers that share one stream of lives; a fleet of any size is some whole blocks
BLOCK = 64

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


class Size(NamedTuple):
    """How many wipe-downs, blocks of blowers and lives per blower."""

    wipes: int
    blocks: int
    generations: int


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
            Least length of ``wipe_s``, and least columns and rows of the tables.

        Returns
        -------
        WorkArrays
            Read-only. Columns come in whole blocks of `BLOCK` blowers.
        """
        arrays = self._draw(Size(wipes, -(-blowers // BLOCK), generations))
        for array in arrays:
            array.setflags(write=False)
        return arrays

    def _stream(self, purpose: Purpose, block: int = 0) -> np.random.Generator:
        return Streams(self.seed, self.sample, self.surge).stream(purpose, block)

    def _draw(self, size: Size) -> WorkArrays:
        filters, faults = self.filters, self.faults
        mean_run_s = faults.blower_run_between_faults
        none = np.zeros((0, 0), dtype=np.int64)
        unused = np.zeros(0, dtype=np.int64)
        fault_run_s = repair_s = prefilter_s = main_s = none
        prefilter_used_s = main_used_s = unused
        if filters is not None:
            prefilter_s = self._table(Purpose.PREFILTERS, filters.prefilter_life, size, 1)
            main_s = self._table(Purpose.MAIN_FILTERS, filters.main_filter_life, size, 1)
            used = self._shares_used(size.blocks)
            prefilter_used_s = _share_of_first(prefilter_s, used[0])
            main_used_s = _share_of_first(main_s, used[1])
        if mean_run_s is not None:
            shape = (size.generations, BLOCK)
            stretches = [
                self._stream(Purpose.FAULTS, block).standard_exponential(shape) * mean_run_s
                for block in range(size.blocks)
            ]
            fault_run_s = whole_seconds(_side_by_side(stretches, size), 1)
            repair_s = self._table(Purpose.REPAIRS, faults.repair_time, size, 0)
        return WorkArrays(
            wipe_s=self._wipes(size.wipes),
            prefilter_life_s=prefilter_s,
            main_life_s=main_s,
            prefilter_used_s=prefilter_used_s,
            main_used_s=main_used_s,
            fault_run_s=fault_run_s,
            repair_s=repair_s,
        )

    def _wipes(self, count: int) -> IntArray:
        times = NO_TIME if self.wipe is None else fitted(self.wipe)
        return times.sample(self._stream(Purpose.WIPE_DOWN), count)

    def _table(
        self, purpose: Purpose, spread: TimeSpread | None, size: Size, least_s: int
    ) -> IntArray:
        """Draw a table by blocks of blowers, row by row, so that more rows only append."""
        if spread is None:
            return np.zeros((size.generations, size.blocks * BLOCK), dtype=np.int64)
        count = size.generations * BLOCK
        blocks = [
            fitted(spread).sample(self._stream(purpose, block), count, least_s).reshape(-1, BLOCK)
            for block in range(size.blocks)
        ]
        return _side_by_side(blocks, size)

    def _shares_used(self, blocks: int) -> NDArray[np.float64]:
        """Share of the first prefilter's and main filter's life gone; shape (2, blowers)."""
        if not blocks:
            return np.zeros((2, blocks * BLOCK))
        draws = [
            self._stream(Purpose.FILTER_AGES, block).random((2, BLOCK)) for block in range(blocks)
        ]
        return np.concatenate(draws, axis=1)


def _side_by_side(blocks: list[NDArray], size: Size) -> NDArray:
    if not blocks:
        return np.zeros((size.generations, 0), dtype=np.int64)
    return np.concatenate(blocks, axis=1)


def _share_of_first(life_s: IntArray, share: NDArray[np.float64]) -> IntArray:
    first_s = life_s[0] if len(life_s) else np.zeros(life_s.shape[1], dtype=np.int64)
    return np.asarray(share * first_s, dtype=np.float64).astype(np.int64)
