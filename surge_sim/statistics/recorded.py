"""Waits that a log recorded, beside those of its plays.

Compared are the first requests of the entries of which the log has a wait: the log knows of no
others. An entry of a play is late when that request waited longer than the target, or in vain.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import IntArray, Outcome, RunLog
from surge_sim.scenario.schema import Target
from surge_sim.scenario.timeline import CareBundled, EntriesPostponed
from surge_sim.units import DAY_S

if TYPE_CHECKING:
    import pandas as pd

    from surge_sim.scenario.schema import Settings

WHOLE = "whole period"
QUANTILES = {"median": 0.5, "90th percentile": 0.9, "95th percentile": 0.95}
#: share late, mean, then the quantiles: names and units
MEASURES = {"share late": "0..1", "mean": "min", **dict.fromkeys(QUANTILES, "min")}
#: a measure is reproduced where the recorded one lies among those of the plays, or so close to
#: them: a share late by 2 points (or one entry), the rest by a minute or a tenth. Our choice, no
#: source; a single record allows no sharper test
CLOSE_SHARE, CLOSE_MIN, CLOSE_PART = 0.02, 1.0, 0.1


@dataclass(frozen=True, eq=False)
class Recorded:
    """Entries of which a log has a wait; arrays of shape (entries,)."""

    #: number of the entry, when it was due [s], its recorded wait [s]
    entry: IntArray
    due_s: IntArray
    wait_s: IntArray

    @cached_property
    def groups(self) -> dict[str, NDArray[np.bool_]]:
        """Return which entries belong to the whole period, and to each day that has some."""
        day = self.due_s // DAY_S
        days = {f"day {one + 1}": day == one for one in np.unique(day)}
        return {WHOLE: np.ones(len(day), dtype=bool), **days} if days else {}

    def measured(self, wait_s: IntArray, late: NDArray[np.bool_]) -> IntArray:
        """Measure waits of these entries: late ones, seconds, quantiles; (groups, measures)."""
        found = np.zeros((len(self.groups), len(MEASURES)), dtype=np.int64)
        for row, mine in zip(found, self.groups.values(), strict=True):
            waits = wait_s[mine]
            row[:2] = late[mine].sum(), waits.sum()
            row[2:] = np.quantile(waits, tuple(QUANTILES.values()), method="inverted_cdf")
        return found


def recorded_in(settings: Settings) -> Recorded:
    """Return what a scenario's log recorded of waits: nothing where there is none."""
    rows = None if settings.entries is None else settings.entries.rows
    # entries that are dropped or postponed are no longer those of the log
    others = any(isinstance(one, CareBundled | EntriesPostponed) for one in settings.timeline)
    if rows is None or rows.wait_s is None or others:
        nothing = np.zeros(0, dtype=np.int64)
        return Recorded(nothing, nothing, nothing)
    # entries stand by moment, urgent ones first, then in the order of the log
    order = np.lexsort((~rows.urgent, rows.due_s))
    due_s, wait_s = rows.due_s[order], rows.wait_s[order]
    entry = np.flatnonzero(wait_s >= 0)
    return Recorded(entry, due_s[entry], wait_s[entry])


def not_compared(settings: Settings) -> Iterator[str]:
    """Warn of waits in a log that are not held against those of its plays."""
    rows = None if settings.entries is None else settings.entries.rows
    known = rows is not None and rows.wait_s is not None and (rows.wait_s >= 0).any()
    if known and not recorded_in(settings).groups:
        yield (
            "The waits that the log recorded are not compared with simulated ones: the timeline "
            "bundles or postpones entries, which are no longer those of the log."
        )


def recorded_play(recorded: Recorded, log: RunLog, target: Target) -> tuple[IntArray, IntArray]:
    """Return one play of the entries with a recorded wait.

    Returns
    -------
    tuple of ndarray of int64
        What `Recorded.measured` gives; and by entry, shape (4, entries): its wait [s], whether it
        was late, its wait twice, of which plays keep the least and the longest.
    """
    # row i of the log of a play is the first request of entry i
    wait_s = log.wait_s[recorded.entry]
    late = (wait_s > target.wait) | (log.outcome[recorded.entry] != Outcome.SERVED)
    return recorded.measured(wait_s, late), np.stack([wait_s, late, wait_s, wait_s])


def by_entry_joined(parts: Sequence[IntArray]) -> IntArray:
    """Join over replications: sum of the waits [s], how often late, least and longest wait [s]."""
    each = np.stack(parts)
    return np.vstack([each[:, :2].sum(axis=0), each[:, 2].min(axis=0), each[:, 3].max(axis=0)])


def comparison_table(recorded: Recorded, plays: IntArray, target_s: int) -> pd.DataFrame:
    """Return recorded and simulated measures, of the whole period and by day.

    ``simulated`` is the mean over replications, between the lowest and the highest of them.

    Parameters
    ----------
    recorded : Recorded
        What was recorded.
    plays : ndarray of int64, shape (plays, groups, measures)
        What was measured of each play.
    target_s : int
        Wait beyond which an entry is late [s].
    """
    import pandas as pd  # here: workers load this module, and have no use for tables

    record = recorded.measured(recorded.wait_s, recorded.wait_s > target_s)
    rows: list[dict[str, Any]] = []
    for number, (group, mine) in enumerate(recorded.groups.items()):
        for place, (measure, unit) in enumerate(MEASURES.items()):
            # sums over entries become shares and means; seconds become minutes
            parts = (int(mine.sum()) if place < 2 else 1) * (60 if place else 1)
            played = plays[:, number, place]
            told = {
                "recorded": record[number, place],
                "simulated": played.mean(),
                "simulated_lowest": played.min(),
                "simulated_highest": played.max(),
            }
            row = {"group": group, "entries": int(mine.sum()), "measure": measure, "unit": unit}
            rows.append(row | {name: float(value / parts) for name, value in told.items()})
    return pd.DataFrame(rows)


def entries_table(recorded: Recorded, by_entry: IntArray, plays: int) -> pd.DataFrame:
    """Return recorded and simulated wait of each entry [min]; see :func:`by_entry_joined`."""
    import pandas as pd

    wait_s, late, least_s, longest_s = by_entry
    return pd.DataFrame(
        {
            "entry": recorded.entry,
            "day": recorded.due_s // DAY_S + 1,
            "requested_min": np.round(recorded.due_s / 60, 4),
            "recorded_min": recorded.wait_s / 60,
            "simulated_min": wait_s / plays / 60,
            "lowest_min": least_s / 60,
            "highest_min": longest_s / 60,
            "share_of_replications_late": late / plays,
        }
    )


@dataclass(frozen=True)
class Reading:
    """What the comparison comes to, over the whole period; see `CLOSE_SHARE`."""

    entries: int
    #: measures that the plays do not reproduce, and how they are: ``share late too low``
    apart: tuple[str, ...]
    #: half of the entries differ by no more [min]
    typical_difference_min: float
    #: entries late in the record and in at least half of the plays; in one of the two only
    late_in_both: int
    late_in_record_only: int
    late_in_replications_only: int

    @property
    def reproduced(self) -> bool:
        """Whether the plays reproduce every measure."""
        return not self.apart


def reading_of(measures: pd.DataFrame, pairs: pd.DataFrame, target_s: int) -> Reading:
    """Compare the whole period measure by measure, and entry by entry.

    Parameters
    ----------
    measures, pairs : DataFrame
        From :func:`comparison_table` and :func:`entries_table`.
    target_s : int
        Wait beyond which an entry is late [s].
    """
    apart = []
    for row in measures[measures["group"] == WHOLE].to_dict("records"):
        measure, recorded = str(row["measure"]), float(row["recorded"])
        allowed = max(CLOSE_MIN, CLOSE_PART * recorded) + 1e-9
        if measure == "share late":
            allowed = max(CLOSE_SHARE, 1 / len(pairs)) + 1e-9
        if float(row["simulated_highest"]) < recorded - allowed:
            apart.append(f"{measure} too low")
        elif float(row["simulated_lowest"]) > recorded + allowed:
            apart.append(f"{measure} too high")
    difference = (pairs["simulated_min"] - pairs["recorded_min"]).abs()
    seen, played = pairs["recorded_min"] > target_s / 60, pairs["share_of_replications_late"] >= 0.5
    return Reading(
        entries=len(pairs),
        apart=tuple(apart),
        typical_difference_min=float(difference.median()),
        late_in_both=int((seen & played).sum()),
        late_in_record_only=int((seen & ~played).sum()),
        late_in_replications_only=int((~seen & played).sum()),
    )
