"""Recorded waits beside simulated ones: by measure and by entry, and what that comes to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from surge_sim.engine.log import IntArray
from surge_sim.statistics.recorded import MEASURES, WHOLE, Recorded
from surge_sim.units import DAY_S

#: a measure is reproduced where the recorded one lies among those of the plays, or so close to
#: them: a share late by 2 points (or one entry), the rest by a minute or a tenth. Our choice, no
#: source; a single record allows no sharper test
CLOSE_SHARE, CLOSE_MIN, CLOSE_PART = 0.02, 1.0, 0.1


def comparison_table(recorded: Recorded, plays: IntArray, target_s: int) -> pd.DataFrame:
    """Return recorded and simulated measures, of the whole period and by day.

    ``simulated`` is the mean over plays, between the lowest and the highest of them.

    Parameters
    ----------
    recorded : Recorded
        What was recorded.
    plays : ndarray of int64, shape (plays, groups, measures)
        What was measured of each play.
    target_s : int
        Wait beyond which an entry is late [s].
    """
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
    wait_s, late, least_s, longest_s = by_entry
    return pd.DataFrame(
        {
            "entry": recorded.entry,
            "day": recorded.due_s // DAY_S + 1,
            "need": np.round(recorded.due_s / 60, 4),
            "recorded_min": recorded.wait_s / 60,
            "simulated_min": wait_s / plays / 60,
            "lowest_min": least_s / 60,
            "highest_min": longest_s / 60,
            "share_of_plays_late": late / plays,
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
    seen, played = pairs["recorded_min"] > target_s / 60, pairs["share_of_plays_late"] >= 0.5
    return Reading(
        entries=len(pairs),
        apart=tuple(apart),
        typical_difference_min=float(difference.median()),
        late_in_both=int((seen & played).sum()),
        late_in_record_only=int((seen & ~played).sum()),
        late_in_plays_only=int((~seen & played).sum()),
    )
