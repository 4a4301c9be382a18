"""What chance brings to things, not to entries: wipe-down times, lives, failures, repairs.

Each is the beginning of an endless sequence: asking for more moves nothing already drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import accumulate
from typing import NamedTuple

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from surge_sim.demand.distributions import NO_TIME, fitted, whole_seconds
from surge_sim.equipment.timeline import Whole, rows_of
from surge_sim.randomness import Purpose, Streams
from surge_sim.scenario.schema import Failures, Filters, Settings
from surge_sim.scenario.spread import TimeSpread

#: blowers, or batteries, that share one stream of lives; a fleet of any size is some whole blocks
BLOCK = 64
#: lives of each blower and battery that nearly always suffice
USUAL_LIVES = 16

IntArray = NDArray[np.int64]


class WorkArrays(NamedTuple):
    """Draws as the engines read them; int64 whole seconds.

    ``*_life_s[n, blower]`` is the life in run-seconds of the n-th filter (or stretch between
    failures) of a blower; tables of a feature that is not in the scenario have shape (0, 0).
    """

    #: labour of the m-th wipe-down to start
    wipe_s: NDArray[np.int64]
    prefilter_life_s: NDArray[np.int64]
    he_life_s: NDArray[np.int64]
    #: run-seconds already on each blower's part-worn filters when the surge begins; (blowers,)
    prefilter_used_s: NDArray[np.int64]
    he_used_s: NDArray[np.int64]
    #: run-seconds from the n-th return of a blower to its next fault
    failure_run_s: NDArray[np.int64]
    repair_s: NDArray[np.int64]
    #: run-seconds of a battery until it fails, and seconds until its n-th replacement is there
    battery_run_s: NDArray[np.int64]
    replacement_s: NDArray[np.int64]

    def suffices(self, wipes: int, blowers: int, generations: int, batteries: int) -> bool:
        """Whether there are so many wipe-downs, blowers, batteries and lives of each."""
        of_blowers = (self.prefilter_life_s, self.he_life_s, self.failure_run_s, self.repair_s)
        of_batteries = (self.battery_run_s, self.replacement_s)
        columns = [(one, blowers) for one in of_blowers]
        columns += [(one, batteries) for one in of_batteries]
        return len(self.wipe_s) >= wipes and all(
            not table.size or (len(table) >= generations and table.shape[1] >= count)
            for table, count in columns
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
    failures: Failures

    @classmethod
    def of(cls, settings: Settings, seed: int, sample: int, surge: int) -> WorkDraws:
        """Return the draws of one surge under its settings."""
        wipe, filters, failures = settings.cleaning.wipe_down, settings.filters, settings.failures
        return cls(seed, sample, surge, wipe, filters, failures)

    def sized(self, wipes: int, blowers: int, generations: int, batteries: int = 1) -> WorkArrays:
        """Draw at least so many wipe-downs, blowers, batteries and lives of each.

        Any two calls agree wherever both have a value.

        Parameters
        ----------
        wipes, blowers, generations, batteries : int
            Least length of ``wipe_s``, and least columns and rows of the tables, of which those of
            batteries have columns of their own; 1 or more.

        Returns
        -------
        WorkArrays
            Read-only. Columns come in whole blocks of `BLOCK` blowers or batteries.
        """
        blocks = -(-blowers // BLOCK)
        filters, failures = self.filters, self.failures
        none, unused = np.zeros((0, 0), dtype=np.int64), np.zeros(0, dtype=np.int64)
        prefilter_s = main_s = failure_run_s = repair_s = battery_run_s = replacement_s = none
        prefilter_used_s = he_used_s = unused

        def lives(
            purpose: Purpose, spread: TimeSpread | None, least_s: int = 1, blocks: int = blocks
        ) -> IntArray:
            if spread is None:
                return np.zeros((generations, blocks * BLOCK), dtype=np.int64)
            times, count = fitted(spread), generations * BLOCK
            return self._by_block(
                purpose, blocks, lambda rng: times.sample(rng, count, least_s).reshape(-1, BLOCK)
            )

        if filters is not None:
            prefilter_s = lives(Purpose.PREFILTERS, filters.prefilter_life)
            main_s = lives(Purpose.HE_FILTERS, filters.he_filter_life)
            # how much of the first of each has gone
            share = self._by_block(Purpose.FILTER_AGES, blocks, lambda rng: rng.random((2, BLOCK)))
            prefilter_used_s = (share[0] * prefilter_s[0]).astype(np.int64)
            he_used_s = (share[1] * main_s[0]).astype(np.int64)

        def runs(purpose: Purpose, mean_run_s: int, blocks: int) -> IntArray:
            shape = (generations, BLOCK)
            runs_s = self._by_block(
                purpose, blocks, lambda rng: rng.standard_exponential(shape) * mean_run_s
            )
            return whole_seconds(runs_s, 1)

        if failures.blower_run_between_failures is not None:
            failure_run_s = runs(Purpose.FAULTS, failures.blower_run_between_failures, blocks)
            repair_s = lives(Purpose.REPAIRS, failures.repair_time, 0)
        if failures.battery_run_between_failures is not None:
            packs = -(-batteries // BLOCK)
            mean_run_s = failures.battery_run_between_failures
            battery_run_s = runs(Purpose.BATTERY_FAILURES, mean_run_s, packs)
            spread = failures.battery_replacement_time
            replacement_s = lives(Purpose.BATTERY_REPLACEMENTS, spread, 0, packs)
        wipe = NO_TIME if self.wipe is None else fitted(self.wipe)
        wipe_s = wipe.sample(self._stream(Purpose.WIPE_DOWN), wipes)
        arrays = WorkArrays(
            wipe_s, prefilter_s, main_s, prefilter_used_s, he_used_s, failure_run_s, repair_s,
            battery_run_s, replacement_s,
        )  # fmt: skip
        for array in arrays:
            array.setflags(write=False)
        return arrays

    def bay_failures(self, bays: int, bays_per_charger: int, until_s: int) -> Whole:
        """Draw which bays do not work because their chargers have failed.

        Each charger has streams of its own: more chargers move no fault of the others.

        Parameters
        ----------
        bays, bays_per_charger : int
            Bays of the unit, and how many of them stand in one charger; the last may have fewer.
        until_s : int
            End of the play [s].

        Returns
        -------
        ndarray of int64, shape (changes, 3)
            See `rows_of`: how many bays have failed from each moment on.
        """
        steps: list[tuple[int, int]] = []
        if self.failures.charger_time_between_failures is not None:
            for charger, first in enumerate(range(0, bays, bays_per_charger)):
                count = min(bays_per_charger, bays - first)
                for from_s, to_s in self._charger_failures(charger, until_s):
                    steps += [(from_s, count), (to_s, -count)]
        steps.sort()
        failed = accumulate(count for _, count in steps)
        by_moment = {at_s: count for (at_s, _), count in zip(steps, failed, strict=True)}
        return rows_of([(at_s, "bays_failed", count) for at_s, count in by_moment.items()])

    def _charger_failures(self, charger: int, until_s: int) -> Iterator[tuple[int, int]]:
        """Yield from when until when a charger does not work; those that begin before the end."""
        mean_s, repair = (
            self.failures.charger_time_between_failures,
            self.failures.charger_repair_time,
        )
        assert mean_s is not None
        failures = self._stream(Purpose.CHARGER_FAULTS, charger)
        repairs = self._stream(Purpose.CHARGER_REPAIRS, charger)
        lasts = NO_TIME if repair is None else fitted(repair)
        now_s = 0
        while True:
            works_s = whole_seconds(failures.standard_exponential(USUAL_LIVES) * mean_s, 1)
            out_s = lasts.sample(repairs, USUAL_LIVES)
            for works, out in zip(works_s.tolist(), out_s.tolist(), strict=True):
                now_s += works
                if now_s >= until_s:
                    return
                yield now_s, now_s + out
                now_s += out

    def _stream(self, purpose: Purpose, block: int = 0) -> Generator:
        return Streams(self.seed, self.sample, self.surge).stream(purpose, block)

    def _by_block(
        self, purpose: Purpose, blocks: int, draw: Callable[[Generator], NDArray]
    ) -> NDArray:
        """Draw by blocks of blowers, side by side; row by row, so that more rows only append."""
        return np.concatenate(
            [draw(self._stream(purpose, block)) for block in range(blocks)], axis=1
        )
