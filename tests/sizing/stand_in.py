"""A small kit cycle with known truth, for tests of the method; numbers are invented.

First come first served, kits K, batteries B, bays C; each duration of clean and charge is tied
to the order in which that work starts, so more stock never hurts any entry (Glasserman and Yao,
"Monotone structure in discrete-event systems", 1992, recursions by increasing functions).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit

from surge_sim.equipment.stock import Stock
from surge_sim.scenario.schema import Prices, SearchLimits, Target
from surge_sim.sizing.player import SEEN, Seen
from surge_sim.sizing.search import search_region
from surge_sim.sizing.size import Sizing
from surge_sim.statistics.target import late_allowed

WAIT_S = 300
TARGET = Target.model_construct(
    wait=WAIT_S,
    service_level=0.95,
    share_of_surges=0.90,
    urgent=None,
    most_alarms_per_1000=None,
    most_stock_outs=None,
)
PRICES = Prices(kit=1.0, battery=0.2, charger=0.3)
EMPTY = Stock(0, 0, 12)
LIMITS = SearchLimits(kits=60, batteries=80, bays=40)


@njit(cache=True)
def count_late(  # type: ignore[no-untyped-def]
    due, use, clean, charge, kits, batteries, bays, wait, most
):
    """Late entries of one surge; stops once more than ``most`` are late."""
    entries = len(due)
    if kits <= 0 or batteries <= 0:
        return entries
    kit_free = np.zeros(kits, np.int64)
    ready = np.zeros(batteries, np.int64)
    ready_count = batteries
    bay_free = np.zeros(max(bays, 1), np.int64)
    off = np.empty(entries, np.int64)
    off_count, charges, late, last = 0, 0, 0, 0
    for n in range(entries):
        kit = np.argmin(kit_free)
        start = max(due[n], last, kit_free[kit])
        while True:
            # batteries that come off by then go to bays, in order
            first = 2**62
            for j in range(ready_count):
                first = min(first, ready[j])
            best = -1
            for j in range(off_count):
                if best < 0 or off[j] < off[best]:
                    best = j
            if best >= 0 and (off[best] <= start or (first > start and off[best] < first)):
                if bays <= 0:
                    return entries
                bay = np.argmin(bay_free)
                done = max(off[best], bay_free[bay]) + charge[charges]
                charges += 1
                bay_free[bay] = done
                ready[ready_count] = done
                ready_count += 1
                off_count -= 1
                off[best] = off[off_count]
                continue
            break
        pick = 0
        for j in range(1, ready_count):
            if ready[j] < ready[pick]:
                pick = j
        start = max(start, ready[pick])
        ready_count -= 1
        ready[pick] = ready[ready_count]
        off[off_count] = start + use[n]
        off_count += 1
        kit_free[kit] = start + use[n] + clean[n]
        last = start
        if start - due[n] > wait:
            late += 1
            if late > most:
                return late
    return late


@dataclass(frozen=True)
class StandInSurge:
    """One drawn surge."""

    due: np.ndarray
    use: np.ndarray
    clean: np.ndarray
    charge: np.ndarray

    def kept(self, stock: Stock) -> bool:
        most = late_allowed(len(self.due), TARGET.service_level)
        return self._late(stock, most) <= most

    def missed(self, stock: Stock) -> float:
        most = late_allowed(len(self.due), TARGET.service_level)
        late = self._late(stock, len(self.due))
        return 0.0 if late <= most else 1.0 + (late - most) / max(most, 1)

    def row(self, stock: Stock) -> np.ndarray:
        late = self._late(stock, len(self.due))
        return row_of_counts(self.kept(stock), len(self.due), late)

    def _late(self, stock: Stock, most: int) -> int:
        return int(
            count_late(
                self.due, self.use, self.clean, self.charge,
                stock.kits, stock.batteries, stock.bays, WAIT_S, most,
            )
        )  # fmt: skip


def row_of_counts(on_target: bool, entries: int, late: int) -> np.ndarray:
    """Return the row of a play of which only these counts are known."""
    row = np.zeros(SEEN, dtype=np.int64)
    row[Seen.ON_TARGET], row[Seen.ENTRIES], row[Seen.LATE] = on_target, entries, late
    row[Seen.WORST_LATE], row[Seen.WORST_ENTRIES] = late, entries
    return row


@dataclass(frozen=True)
class StandIn:
    """Draws surges: two days, a wave of needs, use, clean and charge times."""

    seed: int
    target: Target = TARGET
    #: needs per hour, at the base and beyond it at the peak
    base: float = 1.0
    peak: float = 3.0
    hours: int = 48

    def surge(self, sample: int, number: int) -> StandInSurge:
        rng = np.random.Generator(
            np.random.PCG64DXSM(np.random.SeedSequence(self.seed, spawn_key=(sample, number)))
        )
        hour = np.arange(self.hours)
        rate = self.base + self.peak * np.exp(-(((hour - self.hours / 2) / 10) ** 2) / 2)
        counts = rng.poisson(rate * rng.gamma(25.0, 1 / 25.0))
        entries = int(counts.sum())
        due = np.sort(np.repeat(hour, counts) * 3600 + rng.integers(0, 3600, entries))
        use = rng.gamma(4.0, 600.0, entries).astype(np.int64) + 60
        clean = rng.gamma(4.0, 450.0, entries).astype(np.int64) + 900
        charge = rng.gamma(9.0, 1000.0, entries).astype(np.int64)
        return StandInSurge(due.astype(np.int64), use, clean, charge)


def stand_in_case(
    seed: int,
    owned: Stock = EMPTY,
    names: tuple[str, ...] = ("kits", "batteries"),
    **changes: Any,
) -> Sizing:
    """Return the stand-in as a case to be sized; by default kits and batteries from nothing."""
    space = search_region(owned, names, PRICES, LIMITS)
    guess = {"kits": 8, "batteries": 20, "bays": 8}
    return Sizing(StandIn(seed), space, LIMITS, guess=guess, **changes)
