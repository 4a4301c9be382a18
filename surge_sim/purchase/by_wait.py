"""How many entries are late at other target waits: what each stage would be worth then.

One play of a surge says it for every wait at once, so a reader can move the target afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.engine.log import Outcome
from surge_sim.statistics.target import day_and_hour, parts_missed, score_of
from surge_sim.units import MINUTE_S

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.engine.log import IntArray, RunLog
    from surge_sim.scenario.schema import Target

#: target waits that a reader may choose among, with those of the scenario [min]
_CHOICES = (0, 1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 45, 60, 90, 120)
#: longer than any wait: of an entry that was not served
_NEVER_S = np.iinfo(np.int64).max


def waits_of(target: Target) -> tuple[int, ...]:
    """Return the target waits that plays are counted at, in rising order [s]."""
    own = [target.wait] if target.urgent is None else [target.wait, target.urgent.wait]
    return tuple(sorted({*own, *(MINUTE_S * one for one in _CHOICES)}))


class LateRow(NamedTuple):
    """One play, counted at each of the waits."""

    entries: int
    urgent_entries: int
    #: seconds waited, all people together
    wait_s: int
    #: whether a part of the target was missed that no choice of the reader moves: urgent entries
    #: by a wait of their own, alarms, stock-outs
    other_missed: bool
    #: late entries, shape (waits,)
    late: IntArray
    urgent_late: IntArray
    #: of the day with the largest share of late entries, that share [0..1], shape (waits,)
    worst_day: NDArray[np.float64]


def late_row(demand: Demand, log: RunLog, target: Target, waits_s: Sequence[int]) -> LateRow:
    """Count one play.

    Parameters
    ----------
    demand, log : Demand, RunLog
        One surge, as the target judges it.
    target : Target
        Its other parts are judged as they stand.
    waits_s : sequence of int
        From `waits_of`.
    """
    entries, urgent = demand.entries, demand.urgent
    judged_s = log.wait_s if log.delay_s is None else log.delay_s
    longest_s = np.zeros(entries, dtype=np.int64)
    np.maximum.at(longest_s, log.entry, np.where(log.outcome == Outcome.SERVED, judged_s, _NEVER_S))
    # an entry is late at all waits below its own: at so many of them
    late_at = np.searchsorted(np.array(waits_s), longest_s)
    day, _ = day_and_hour(demand)
    days = int(day.max(initial=0)) + 1
    by_day = np.bincount(day, minlength=days)
    late_by_day = _at_each(late_at, day, days, len(waits_s))
    missed = parts_missed(score_of(log, urgent, target), target)
    return LateRow(
        entries=entries,
        urgent_entries=int(urgent.sum()),
        wait_s=int(log.wait_s.sum()),
        other_missed=any(part != "wait" for part in missed),
        late=late_by_day.sum(axis=0),
        urgent_late=_at_each(late_at[urgent], day[urgent] * 0, 1, len(waits_s))[0],
        worst_day=(late_by_day / np.maximum(by_day, 1)[:, None]).max(axis=0),
    )


def _at_each(late_at: IntArray, group: IntArray, groups: int, waits: int) -> IntArray:
    """Count the entries of each group that are late at each wait, shape (groups, waits)."""
    cells = np.bincount(group * (waits + 1) + late_at, minlength=groups * (waits + 1))
    from_above = cells.reshape(groups, waits + 1)[:, ::-1].cumsum(axis=1)[:, ::-1]
    return from_above[:, 1:].astype(np.int64)


@dataclass(frozen=True, eq=False)
class ByWait:
    """Every stage on the same surges, counted at each of the waits."""

    #: [s]
    waits_s: tuple[int, ...]
    #: shape (surges,)
    entries: IntArray
    urgent_entries: IntArray
    #: shape (stages, surges)
    wait_s: IntArray
    other_missed: NDArray[np.bool_]
    #: shape (stages, surges, waits)
    late: IntArray
    urgent_late: IntArray
    worst_day: NDArray[np.float64]

    @classmethod
    def of(cls, rows: Sequence[Sequence[LateRow]], waits_s: Sequence[int]) -> ByWait:
        """Put rows together: for each surge, one of each stage."""
        first = [surge[0] for surge in rows]

        def column(name: str) -> NDArray[np.int64]:
            return np.array([[getattr(row, name) for row in surge] for surge in rows]).swapaxes(
                0, 1
            )

        return cls(
            waits_s=tuple(waits_s),
            entries=np.array([row.entries for row in first]),
            urgent_entries=np.array([row.urgent_entries for row in first]),
            wait_s=column("wait_s"),
            other_missed=column("other_missed").astype(bool),
            late=column("late"),
            urgent_late=column("urgent_late"),
            worst_day=column("worst_day").astype(float),
        )

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row per stage, surge and wait."""
        stage, surge, wait = np.indices(self.late.shape).reshape(3, -1)
        return pd.DataFrame(
            {
                "stage": stage,
                "surge": surge,
                "wait_min": np.array(self.waits_s)[wait] / MINUTE_S,
                "entries": self.entries[surge],
                "late": self.late.ravel(),
                "urgent_late": self.urgent_late.ravel(),
                "worst_day_late": self.worst_day.ravel().round(6),
            }
        )
