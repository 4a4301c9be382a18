"""What is kept of one play of one alternative: a row of whole numbers.

Rows of many plays are exact whatever the order in which they were made, are small enough to be
kept for every surge, and hold all that a comparison tells.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.statistics.target import (
    TARGET_PARTS,
    late_entries,
    parts_missed,
    score_of,
    worst_day,
)

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.engine.log import RunLog
    from surge_sim.scenario.schema import Target

#: named columns of a row, all int64
ROW = np.dtype(
    [
        (name, np.int64)
        for name in (
            "surge",
            # parts of the target that were missed, one bit for each of `target.TARGET_PARTS`
            "missed",
            "entries",
            # of which every need was served within the target's wait
            "in_time",
            "urgent_entries",
            # later than the target's wait for urgent entries
            "urgent_late",
            # with a need that was never served
            "unserved",
            "requests",
            # waited by all people together [s]
            "wait_s",
            # of the day with the smallest service level: its entries, and those in time
            "worst_entries",
            "worst_in_time",
            "alarms",
            "stock_outs",
            # first stock of the alternative's ladder that keeps the target, counted from 0; as
            # many as there are where none does; 0 without a ladder
            "stage",
        )
    ]
)

Rows = NDArray[np.void]


def outcome(demand: Demand, log: RunLog, target: Target) -> Rows:
    """Count what is kept of one surge as it was played, shape (1,).

    The numbers are those of a run's table of surges: an entry is in time when each of its needs
    was served within the target's wait, and belongs to the day in which it was due.
    """
    from surge_sim.engine.log import Outcome

    entries, score = demand.entries, score_of(log, demand.urgent, target)
    late = late_entries(log, entries, target.wait)
    worst_entries, worst_late = worst_day(demand, late)
    row = np.zeros(1, dtype=ROW)
    told = {
        "surge": demand.surge,
        "missed": sum(1 << TARGET_PARTS.index(part) for part in parts_missed(score, target)),
        "entries": entries,
        "in_time": entries - score.late,
        "urgent_entries": score.urgent_entries,
        "urgent_late": score.urgent_late,
        "unserved": len(np.unique(log.entry[log.outcome != Outcome.SERVED])),
        "requests": len(log.entry),
        "wait_s": log.wait_s.sum(),
        "worst_entries": worst_entries,
        "worst_in_time": worst_entries - worst_late,
        "alarms": score.alarms,
        "stock_outs": score.stock_outs,
    }
    for name, value in told.items():
        row[name] = value
    return row
