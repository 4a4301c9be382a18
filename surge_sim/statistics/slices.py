"""The groups by which waits are counted: everything, urgency, role, class, day, hour of day."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from surge_sim.demand.trace import DemandTrace, IntArray
from surge_sim.units import DAY_S, HOUR_S

NO_CLASS = "no class"


@dataclass(frozen=True)
class Slices:
    """Where each group stands in an array that holds all groups side by side."""

    role_names: tuple[str, ...]
    class_names: tuple[str, ...]
    days: int
    #: second of the day at which the surge begins
    start_of_day_s: int

    @classmethod
    def of(cls, trace: DemandTrace) -> Slices:
        """Return the groups of a surge; all surges of one scenario have the same."""
        start = trace.settings.start
        return cls(
            tuple(trace.role_names),
            tuple(trace.class_names),
            -(-trace.horizon_s // DAY_S),
            start.hour * 3_600 + start.minute * 60 + start.second,
        )

    @property
    def groups(self) -> dict[str, list[str]]:
        """Names of the groups, by what they group by, in the order in which they stand."""
        return {
            "all": ["all"],
            "urgency": ["routine", "urgent"],
            "role": list(self.role_names),
            "class": [*self.class_names, NO_CLASS],
            "day": [str(day + 1) for day in range(self.days)],
            "hour": [str(hour) for hour in range(24)],
        }

    @property
    def total(self) -> int:
        """Number of groups."""
        return _firsts(self)[""]

    def first(self, by: str) -> int:
        """Return the place of the first group of a kind."""
        return _firsts(self)[by]

    def places(self, trace: DemandTrace) -> IntArray:
        """Return for each kind the place of every entry's group, shape (kinds, entries).

        Day and hour are those in which the entry was due, which no stock can move; days are
        24 hours long and begin with the surge, hours are those of the clock.
        """
        due_s = trace.due_s
        day = np.minimum(due_s // DAY_S, self.days - 1)
        hour = (due_s + self.start_of_day_s) // HOUR_S % 24
        known = np.where(trace.patient_class >= 0, trace.patient_class, len(self.class_names))
        kinds: dict[str, Any] = {
            "all": 0,
            "urgency": trace.urgent,
            "role": trace.role,
            "class": known,
            "day": day,
            "hour": hour,
        }
        places = np.empty((len(kinds), len(due_s)), dtype=np.int64)
        for row, (by, inside) in enumerate(kinds.items()):
            np.add(inside, self.first(by), out=places[row])
        return places

    def count(
        self, places: IntArray, rows: IntArray | None = None, amounts: IntArray | None = None
    ) -> IntArray:
        """Count entries in every group.

        Parameters
        ----------
        places : ndarray of int64, shape (kinds, entries)
            See `places`.
        rows : ndarray of int64, shape (rows,), optional
            Numbers of the entries to count, each as often as it stands there; by default all.
        amounts : ndarray of int64, shape (rows,), optional
            Summed instead of being counted.

        Returns
        -------
        ndarray of int64, shape (total,)
        """
        some = places if rows is None else places[:, rows]
        weights = None if amounts is None else np.tile(amounts, len(some))
        # sums of whole numbers below 2**53 are exact in binary fractions
        found = np.bincount(some.ravel(), weights=weights, minlength=self.total)
        return found.astype(np.int64)


@lru_cache(maxsize=64)
def _firsts(slices: Slices) -> dict[str, int]:
    """Return the place of the first group of each kind, and under "" the number of groups."""
    firsts, place = {}, 0
    for kind, names in slices.groups.items():
        firsts[kind] = place
        place += len(names)
    return firsts | {"": place}
