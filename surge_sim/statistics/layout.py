"""Which numbers are kept of every surge: the columns of its row, and the groups among them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from surge_sim.engine.log import Count, IntArray, Use
from surge_sim.statistics.causes import STATES
from surge_sim.statistics.recorded import MEASURES, Recorded, recorded_in
from surge_sim.statistics.tally import rungs
from surge_sim.units import DAY_S, HOUR_S

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.scenario.schema import Settings, Target

NO_CLASS = "no class"

#: one number each
SINGLE = (
    "surge", "missed", "urgent_entries", "urgent_late", "gave_up", "left_waiting", "urgent_needs",
    "urgent_wait_s", "longest_wait_s", "urgent_longest_wait_s", "patients", "boarded", "diverted",
)  # fmt: skip
#: one number for each group of entries: entries; those in time, and those unmet; needs; seconds
GROUPED = ("entries", "in_time", "unmet", "needs", "wait_s")


@dataclass(frozen=True, eq=False)
class Layout:
    """What the numbers of a surge are; the same for all surges of a scenario."""

    target: Target
    horizon_s: int
    #: second of the day at which the surge begins
    start_of_day_s: int
    role_names: tuple[str, ...]
    class_names: tuple[str, ...]
    #: waits up to which needs are counted
    ladder_s: IntArray
    recorded: Recorded

    @classmethod
    def of(
        cls,
        settings: Settings,
        role_names: tuple[str, ...] | None = None,
        class_names: tuple[str, ...] | None = None,
    ) -> Layout:
        """Return the layout for a scenario; names of roles and classes are those of its demand."""
        rows = None if settings.entries is None else settings.entries.rows
        if role_names is None:
            role_names = tuple(settings.roles) if rows is None else rows.role_names
        if class_names is None:
            class_names = tuple(settings.classes) if rows is None else ()
        start, closing_s = settings.start, settings.horizon + settings.run_off
        return cls(
            target=settings.target,
            horizon_s=settings.horizon,
            start_of_day_s=start.hour * 3_600 + start.minute * 60 + start.second,
            role_names=role_names,
            class_names=class_names,
            ladder_s=rungs(closing_s, settings.target.wait),
            recorded=recorded_in(settings),
        )

    @cached_property
    def row(self) -> np.dtype[np.void]:
        """The named columns of a surge's row, all int64; many are several numbers wide."""
        wide: dict[str, tuple[int, ...]] = {
            **dict.fromkeys(GROUPED, (self.total,)),
            # needs that waited no longer than each rung of the ladder
            **dict.fromkeys(("within", "urgent_within"), (len(self.ladder_s),)),
            # waiting seconds by cause
            "cause_s": (STATES,),
            "counts": (len(Count),),
            # item-seconds in each state, and most items at once
            "use_s": (len(Use),),
            "peak": (len(Use),),
            "recorded": (len(self.recorded.groups), len(MEASURES)),
        }
        single = [(name, np.int64) for name in SINGLE]
        return np.dtype([*single, *((name, np.int64, shape) for name, shape in wide.items())])

    @cached_property
    def groups(self) -> dict[str, list[str]]:
        """Names of the groups, by what they group by, in the order in which they stand."""
        return {
            "all": ["all"],
            "urgency": ["routine", "urgent"],
            "role": list(self.role_names),
            "class": [*self.class_names, NO_CLASS],
            "day": [str(day + 1) for day in range(-(-self.horizon_s // DAY_S))],
            "hour": [str(hour) for hour in range(24)],
        }

    @cached_property
    def where(self) -> dict[str, slice]:
        """Where the groups of each kind stand among all groups."""
        found, first = {}, 0
        for by, names in self.groups.items():
            found[by] = slice(first, first + len(names))
            first += len(names)
        return found

    @property
    def total(self) -> int:
        """Number of groups."""
        return sum(map(len, self.groups.values()))

    def places(self, trace: Demand) -> IntArray:
        """Return for each kind the place of every entry's group, shape (kinds, entries).

        Day and hour are those in which the entry was due, which no stock can move; days are
        24 hours long and begin with the surge, hours are those of the clock.
        """
        due_s, no_class = trace.due_s, len(self.class_names)
        inside: dict[str, Any] = {
            "all": 0,
            "urgency": trace.urgent,
            "role": trace.role,
            "class": np.where(trace.patient_class >= 0, trace.patient_class, no_class),
            "day": np.minimum(due_s // DAY_S, len(self.groups["day"]) - 1),
            "hour": (due_s + self.start_of_day_s) // HOUR_S % 24,
        }
        places = np.empty((len(inside), len(due_s)), dtype=np.int64)
        for row, (by, place) in enumerate(inside.items()):
            np.add(place, self.where[by].start, out=places[row])
        return places

    def count(self, places: IntArray, amounts: IntArray | None = None) -> IntArray:
        """Count the entries at these places in every group, or sum amounts, shape (total,)."""
        weights = None if amounts is None else np.tile(amounts, len(places))
        # sums of whole numbers below 2**53 are exact in binary fractions
        return np.bincount(places.ravel(), weights, self.total).astype(np.int64)
