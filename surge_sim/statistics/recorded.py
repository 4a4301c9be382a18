"""Waits that a log recorded, beside those of its plays.

Compared are the first requests of the entries of which the log has a wait: the log knows of no
others. An entry of a play is late when that request waited longer than the target, or in vain.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.demand.trace import DemandTrace
from surge_sim.engine.log import IntArray, Outcome, RunLog
from surge_sim.scenario.goal import Target
from surge_sim.units import DAY_S

WHOLE = "whole period"
QUANTILES = {"median": 0.5, "90th percentile": 0.9, "95th percentile": 0.95}
#: share late, mean, then the quantiles: names and units
MEASURES = {"share late": "0..1", "mean": "min", **dict.fromkeys(QUANTILES, "min")}

#: a measure is reproduced where the recorded one lies among those of the plays, or so close to
#: them: a share late by 2 points (or one entry), the rest by a minute or a tenth. Our choice, no
#: source; a single record allows no sharper test
CLOSE_SHARE, CLOSE_MIN, CLOSE_PART = 0.02, 1.0, 0.1


@dataclass
class RecordedPlays:
    """Plays of the entries of which a log has a wait; arrays of shape (entries,)."""

    #: number of the entry in the trace, when it was due [s], its recorded wait [s]
    entry: IntArray
    due_s: IntArray
    recorded_s: IntArray
    #: summed over plays: wait [s]; how often it was late; least and longest wait [s]
    wait_s: IntArray
    late: IntArray
    least_s: IntArray
    longest_s: IntArray
    #: of each play, in order: late entries, waiting seconds, quantiles [s]; (groups, measures)
    plays: list[IntArray]
    target_s: int

    def join(self, other: RecordedPlays) -> None:
        """Add the plays that come next."""
        self.wait_s = self.wait_s + other.wait_s
        self.late = self.late + other.late
        self.least_s = np.minimum(self.least_s, other.least_s)
        self.longest_s = np.maximum(self.longest_s, other.longest_s)
        self.plays += other.plays


def recorded_play(trace: DemandTrace, log: RunLog, target: Target) -> RecordedPlays | None:
    """Return one play of a log that recorded waits; None for all else."""
    rows = None if trace.settings.entries is None else trace.settings.entries.rows
    if rows is None or rows.wait_s is None:
        return None
    # the trace has its entries by moment, urgent ones first, then in the order of the log
    recorded_s = rows.wait_s[np.lexsort((~rows.urgent, rows.due_s))]
    entry = np.flatnonzero(recorded_s >= 0)
    if not len(entry):
        return None
    # row i of the log of a play is the first request of entry i
    wait_s = log.wait_s[entry]
    late = (wait_s > target.wait) | (log.outcome[entry] != Outcome.SERVED)
    due_s = trace.due_s[entry]
    measured = _measured(wait_s, late, due_s // DAY_S)
    return RecordedPlays(
        entry, due_s, recorded_s[entry], wait_s, late.astype(np.int64), wait_s, wait_s,
        [measured], target.wait,
    )  # fmt: skip


def _measured(wait_s: IntArray, late: NDArray[np.bool_], day: IntArray) -> IntArray:
    """Measure the whole period, then each day that has entries; shape (groups, measures)."""
    groups = [np.ones(len(day), dtype=bool), *(day == one for one in np.unique(day))]
    return np.array([_measures(wait_s[mine], late[mine]) for mine in groups], dtype=np.int64)


def _measures(wait_s: IntArray, late: NDArray[np.bool_]) -> list[int]:
    ordered = np.sort(wait_s)
    places = [max(int(np.ceil(share * len(ordered) - 1e-9)) - 1, 0) for share in QUANTILES.values()]
    return [int(late.sum()), int(ordered.sum()), *(int(ordered[place]) for place in places)]


def comparison_table(plays: RecordedPlays) -> pd.DataFrame:
    """Return recorded and simulated measures, of the whole period and by day.

    ``simulated`` is the mean over plays, between the lowest and the highest of them.
    """
    day = plays.due_s // DAY_S
    recorded = _measured(plays.recorded_s, plays.recorded_s > plays.target_s, day)
    each = np.stack(plays.plays)
    days, counts = np.unique(day, return_counts=True)
    groups = [(WHOLE, len(day))]
    groups += [(f"day {one + 1}", int(count)) for one, count in zip(days, counts, strict=True)]
    rows: list[dict[str, Any]] = []
    for number, (group, entries) in enumerate(groups):
        for place, (measure, unit) in enumerate(MEASURES.items()):
            # sums over entries become shares and means; seconds become minutes
            parts = (entries if place < 2 else 1) * (60 if place else 1)
            played = each[:, number, place]
            values = recorded[number, place], played.mean(), played.min(), played.max()
            names = ("recorded", "simulated", "simulated_lowest", "simulated_highest")
            told = {name: float(value / parts) for name, value in zip(names, values, strict=True)}
            row = {"group": group, "entries": entries, "measure": measure, "unit": unit}
            rows.append(row | told)
    return pd.DataFrame(rows)


def entries_table(plays: RecordedPlays) -> pd.DataFrame:
    """Return recorded and simulated wait of each entry [min]."""
    played = len(plays.plays)
    return pd.DataFrame(
        {
            "entry": plays.entry,
            "day": plays.due_s // DAY_S + 1,
            "need": np.round(plays.due_s / 60, 4),
            "recorded_min": plays.recorded_s / 60,
            "simulated_min": plays.wait_s / played / 60,
            "lowest_min": plays.least_s / 60,
            "highest_min": plays.longest_s / 60,
            "share_of_plays_late": plays.late / played,
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
    late_in_plays_only: int

    @property
    def reproduced(self) -> bool:
        """Whether the plays reproduce every measure."""
        return not self.apart


def reading_of(plays: RecordedPlays) -> Reading:
    """Compare the whole period measure by measure, and entry by entry."""
    table = comparison_table(plays)
    entries, apart = len(plays.entry), []
    for row in table[table["group"] == WHOLE].to_dict("records"):
        measure, recorded = str(row["measure"]), float(row["recorded"])
        allowed = max(CLOSE_MIN, CLOSE_PART * recorded) + 1e-9
        if measure == "share late":
            allowed = max(CLOSE_SHARE, 1 / entries) + 1e-9
        if float(row["simulated_highest"]) < recorded - allowed:
            apart.append(f"{measure} too low")
        elif float(row["simulated_lowest"]) > recorded + allowed:
            apart.append(f"{measure} too high")
    pairs = entries_table(plays)
    difference = (pairs["simulated_min"] - pairs["recorded_min"]).abs()
    seen = plays.recorded_s > plays.target_s
    played = 2 * plays.late >= len(plays.plays)
    return Reading(
        entries=entries,
        apart=tuple(apart),
        typical_difference_min=float(difference.median()),
        late_in_both=int((seen & played).sum()),
        late_in_record_only=int((seen & ~played).sum()),
        late_in_plays_only=int((~seen & played).sum()),
    )
