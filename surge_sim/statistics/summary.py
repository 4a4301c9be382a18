"""What is kept of surges once they were played: a row of whole numbers for each.

The rows of a run are a matrix in the order of the surges, so whatever is worked out from it does
not depend on how the surges were split over processes. Beside it stand a few sums of whole
numbers, which are exact in any order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.log import IntArray, Outcome, RunLog, Score, alarms_in, stock_outs_in
from surge_sim.scenario.schema import Target
from surge_sim.statistics.causes import waiting_by_cause
from surge_sim.statistics.layout import Layout
from surge_sim.statistics.promise import PARTS, parts_missed
from surge_sim.statistics.recorded import by_entry_joined, recorded_play
from surge_sim.statistics.tally import coarse, tally, within
from surge_sim.units import HOUR_S

#: use over time is kept in at most so many stretches of time
MOST_STRETCHES = 1_008
#: the band of use over time comes from the first so many surges; all else from all of them
BAND_SURGES = 200
#: a group and a wait of its in one number: group x this + wait
WAIT_SPAN = 2**34


@dataclass(frozen=True, eq=False, repr=False)
class Summary:
    """One surge, or some that follow one another."""

    #: named columns of whole numbers, shape (surges,): see `Layout.row`
    rows: NDArray[np.void]
    #: distinct waits, and how often each occurred, shape (2, distinct): see `group_waits`
    waits: IntArray
    #: item-seconds by state and stretch of time, shape (states, stretches)
    use_s: IntArray
    #: of the first surges: mean number of items, shape (surges, states, stretches)
    band: NDArray[np.float32]
    #: of entries with a recorded wait, shape (4, entries): see `recorded_play`
    by_entry: IntArray

    def __len__(self) -> int:
        return len(self.rows)


def joined(parts: Sequence[Summary]) -> Summary:
    """Put summaries of surges that follow one another together."""
    return Summary(
        rows=np.concatenate([part.rows for part in parts]),
        waits=tally(*np.concatenate([part.waits for part in parts], axis=1)),
        use_s=np.sum([part.use_s for part in parts], axis=0),
        band=np.concatenate([part.band for part in parts]),
        by_entry=by_entry_joined([part.by_entry for part in parts]),
    )


def hours_per_stretch(horizon_s: int) -> int:
    """Return how many hours one stretch of time covers."""
    hours = -(-horizon_s // HOUR_S)
    return -(-hours // MOST_STRETCHES)


def stretch_seconds(horizon_s: int) -> IntArray:
    """Return the length of each stretch [s]; the last one ends with the horizon."""
    step = hours_per_stretch(horizon_s) * HOUR_S
    edges = np.append(np.arange(0, horizon_s, step, dtype=np.int64), horizon_s)
    return np.diff(edges)


def late_entries(log: RunLog, entries: int, wait_s: int) -> NDArray[np.bool_]:
    """Return which entries had a need that was not served within a wait, shape (entries,)."""
    late = np.zeros(entries, dtype=bool)
    late[log.entry[(log.outcome != Outcome.SERVED) | (log.wait_s > wait_s)]] = True
    return late


def summarise(trace: Demand, log: RunLog, layout: Layout) -> Summary:
    """Boil one surge down.

    Parameters
    ----------
    trace, log : Demand, RunLog
        The surge's demand, and how it was played; never changed.
    layout : Layout
        What the numbers are.

    Returns
    -------
    Summary
        Of one surge. An entry is in time when each of its needs was served within the target's
        wait; it is unmet when one of them was not served: the patience ran out, or the play
        closed first.
    """
    row = np.zeros(1, dtype=layout.row)
    late = late_entries(log, trace.entries, layout.target.wait)
    score = _score(trace, log, layout.target, late)
    urgent = trace.urgent[log.entry]
    urgent_wait_s = log.wait_s[urgent]
    rooms = trace.patients.room
    waits = tally(
        group_of_needs(trace, log, layout) * WAIT_SPAN + coarse(log.wait_s),
        np.ones(len(log.wait_s), dtype=np.int64),
    )
    of_urgent = waits[:, waits[0] // WAIT_SPAN % 2 == 1]
    columns = {
        "surge": trace.surge,
        "missed": sum(1 << PARTS.index(part) for part in parts_missed(score, layout.target)),
        "urgent_entries": score.urgent_entries,
        "urgent_late": score.urgent_late,
        "gave_up": (log.outcome == Outcome.GAVE_UP).sum(),
        "left_waiting": (log.outcome == Outcome.LEFT_WAITING).sum(),
        "urgent_needs": len(urgent_wait_s),
        "urgent_wait_s": urgent_wait_s.sum(),
        "longest_wait_s": log.wait_s.max(initial=-1),
        "urgent_longest_wait_s": urgent_wait_s.max(initial=-1),
        "patients": len(rooms),
        "boarded": (rooms == -1).sum(),
        "diverted": (rooms == -2).sum(),
        **_by_group(trace, log, layout, late),
        "within": within(layout.ladder_s, waits[0] % WAIT_SPAN, waits[1]),
        "urgent_within": within(layout.ladder_s, of_urgent[0] % WAIT_SPAN, of_urgent[1]),
        "cause_s": waiting_by_cause(log),
        "counts": log.counts,
        "use_s": log.use_area.sum(axis=1),
        "peak": log.use_peak,
    }
    measured, by_entry = recorded_play(layout.recorded, log, layout.target)
    for name, value in {**columns, "recorded": measured}.items():
        row[name] = value
    step = hours_per_stretch(layout.horizon_s)
    use_s = np.add.reduceat(log.use_area, np.arange(0, log.use_area.shape[1], step), axis=1)
    mean = (use_s / stretch_seconds(layout.horizon_s)).astype(np.float32)
    return Summary(row, waits, use_s, mean[None][: trace.surge < BAND_SURGES], by_entry)


def group_of_needs(trace: Demand, log: RunLog, layout: Layout) -> IntArray:
    """Number each need by its class, role and urgency, shape (needs,): see `group_waits`."""
    known = np.where(trace.patient_class >= 0, trace.patient_class, len(layout.class_names))
    joint = known * max(len(layout.role_names), 1) + trace.role
    return (2 * joint + trace.urgent)[log.entry]


def group_waits(summary: Summary, layout: Layout) -> tuple[dict[str, IntArray], IntArray, IntArray]:
    """Return the waits of all surges.

    Returns
    -------
    tuple
        By ``urgency``, ``role`` and ``class``, the group of each wait; the waits [s], long ones
        coarse; and how often each occurred. Arrays of shape (distinct,).
    """
    joint, wait_s = np.divmod(summary.waits[0], WAIT_SPAN)
    klass, role = np.divmod(joint // 2, max(len(layout.role_names), 1))
    return {"urgency": joint % 2, "role": role, "class": klass}, wait_s, summary.waits[1]


def _by_group(
    trace: Demand, log: RunLog, layout: Layout, late: NDArray[np.bool_]
) -> dict[str, IntArray]:
    places = layout.places(trace)
    # those that were late, unmet or waited are few: counting all of them again takes longer
    unmet = np.unique(log.entry[log.outcome != Outcome.SERVED])
    waited = log.wait_s.nonzero()[0]
    entries = layout.count(places)
    return {
        "entries": entries,
        "in_time": entries - layout.count(places[:, late]),
        "unmet": layout.count(places[:, unmet]),
        # the first need of each entry, and those that arose later
        "needs": entries + layout.count(places[:, log.entry[trace.entries :]]),
        "wait_s": layout.count(places[:, log.entry[waited]], log.wait_s[waited]),
    }


def _score(trace: Demand, log: RunLog, target: Target, late: NDArray[np.bool_]) -> Score:
    urgent_wait_s = target.urgent.wait if target.urgent else target.wait
    urgent_late = late_entries(log, trace.entries, urgent_wait_s) & trace.urgent
    return Score(
        entries=trace.entries,
        urgent_entries=int(trace.urgent.sum()),
        late=int(late.sum()),
        urgent_late=int(urgent_late.sum()),
        alarms=alarms_in(log.counts),
        stock_outs=stock_outs_in(log.counts),
        given_up=False,
    )
