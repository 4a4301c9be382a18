"""The groups by which waits are counted: everything, urgency, role, class, day, hour of day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
        return sum(len(names) for names in self.groups.values())

    def first(self, by: str) -> int:
        """Return the place of the first group of a kind."""
        place = 0
        for kind, names in self.groups.items():
            if kind == by:
                return place
            place += len(names)
        raise KeyError(by)

    def places(self, trace: DemandTrace) -> list[IntArray]:
        """Return for each kind the place of every entry's group; arrays of shape (entries,).

        Day and hour are those in which the entry was due, which no stock can move; days are
        24 hours long and begin with the surge, hours are those of the clock.
        """
        due_s = trace.due_s
        day = np.minimum(due_s // DAY_S, self.days - 1)
        hour = (due_s + self.start_of_day_s) // HOUR_S % 24
        known = np.where(trace.patient_class >= 0, trace.patient_class, len(self.class_names))
        kinds = {
            "all": np.zeros(len(due_s), dtype=np.int64),
            "urgency": trace.urgent.astype(np.int64),
            "role": trace.role,
            "class": known,
            "day": day,
            "hour": hour,
        }
        return [self.first(by) + inside for by, inside in kinds.items()]

    def count(
        self, places: list[IntArray], amounts: IntArray | NDArray[np.bool_] | None = None
    ) -> IntArray:
        """Return amounts (or rows) summed in every group, shape (total,)."""
        sums = np.zeros(self.total, dtype=np.int64)
        for place in places:
            # sums of whole numbers below 2**53 are exact in binary fractions
            found = np.bincount(place, weights=amounts, minlength=self.total)
            sums += found.astype(np.int64)
        return sums
