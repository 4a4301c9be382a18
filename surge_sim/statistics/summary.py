"""What is kept of one surge once it was played: counts and a small histogram."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.trace import DemandTrace
from surge_sim.engine.log import IntArray, Outcome, RunLog, Score, alarms_in, stock_outs_in
from surge_sim.scenario.goal import Target
from surge_sim.statistics.causes import waiting_by_cause
from surge_sim.statistics.promise import parts_missed
from surge_sim.statistics.recorded import RecordedPlays, recorded_play
from surge_sim.statistics.slices import Slices
from surge_sim.statistics.waits import coarse
from surge_sim.units import HOUR_S

#: use over time is kept in at most so many stretches of time
MOST_STRETCHES = 1_008

#: a wait and the group that it belongs to in one number: group x this + wait
WAIT_SPAN = 2**34


@dataclass(frozen=True)
class SurgeSummary:
    """One surge in some tens of kilobytes.

    An entry is in time when each of its needs was served within the target's wait; it is unmet
    when one of them was not served: the patience ran out, or the play closed first.
    """

    surge: int
    slices: Slices
    score: Score
    #: parts of the target that were missed
    missed: tuple[str, ...]
    #: per group: entries, entries in time, unmet entries, needs, waiting seconds; (5, groups)
    table: IntArray
    #: distinct waits [s] of all needs and how often each occurred; then of urgent ones
    waits: tuple[IntArray, IntArray]
    urgent_waits: tuple[IntArray, IntArray]
    #: the same by role and class: (class x roles + role) x WAIT_SPAN + wait
    group_waits: tuple[IntArray, IntArray]
    longest_wait_s: int
    longest_urgent_wait_s: int
    urgent_wait_s: int
    #: waiting seconds by cause, shape (STATES,)
    cause_s: IntArray
    #: needs that ended by patience; needs still waiting at the close
    gave_up: int
    left_waiting: int
    counts: IntArray
    #: item-seconds by state and stretch of time, shape (states, stretches)
    use_area: IntArray
    use_peak: IntArray
    #: patients, those without an isolation room, those sent elsewhere
    patients: int
    boarded: int
    diverted: int
    #: day with the lowest share in time, from 0; -1 without entries
    worst_day: int
    worst_day_share: float
    #: of a log that recorded waits: this play beside them
    recorded: RecordedPlays | None = None


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


def summarise(trace: DemandTrace, log: RunLog, target: Target) -> SurgeSummary:
    """Boil one surge down.

    Parameters
    ----------
    trace, log : DemandTrace, RunLog
        The surge's demand, and how it was played; never changed.
    target : Target
        What the surge is judged by.

    Returns
    -------
    SurgeSummary
    """
    slices = Slices.of(trace)
    places = slices.places(trace)
    late = late_entries(log, trace.entries, target.wait)
    # those that were late, unmet or waited are few: counting all of them again takes longer
    unmet = np.unique(log.entry[log.outcome != Outcome.SERVED])
    waited = log.wait_s.nonzero()[0]
    entries = slices.count(places)
    table = np.stack(
        [
            entries,
            entries - slices.count(places, late.nonzero()[0]),
            slices.count(places, unmet),
            # the first need of each entry, and those that arose later
            entries + slices.count(places, log.entry[trace.entries :]),
            slices.count(places, log.entry[waited], log.wait_s[waited]),
        ]
    )
    urgent_needs = trace.urgent[log.entry]
    urgent_wait_s = log.wait_s[urgent_needs]
    score = _score(trace, log, target, late)
    day, share = _worst_day(slices, table)
    rooms = trace.patients.room
    return SurgeSummary(
        surge=trace.surge,
        slices=slices,
        score=score,
        missed=parts_missed(score, target),
        table=table,
        waits=_tally(coarse(log.wait_s)),
        urgent_waits=_tally(coarse(urgent_wait_s)),
        group_waits=_tally(_group_of_needs(trace, log, slices) * WAIT_SPAN + coarse(log.wait_s)),
        longest_wait_s=int(log.wait_s.max(initial=-1)),
        longest_urgent_wait_s=int(urgent_wait_s.max(initial=-1)),
        urgent_wait_s=int(urgent_wait_s.sum()),
        cause_s=waiting_by_cause(log),
        gave_up=int((log.outcome == Outcome.GAVE_UP).sum()),
        left_waiting=int((log.outcome == Outcome.LEFT_WAITING).sum()),
        counts=np.array(log.counts, dtype=np.int64),
        use_area=_in_stretches(log.use_area, trace.horizon_s),
        use_peak=np.array(log.use_peak, dtype=np.int64),
        patients=len(rooms),
        boarded=int((rooms == -1).sum()),
        diverted=int((rooms == -2).sum()),
        worst_day=day,
        worst_day_share=share,
        recorded=recorded_play(trace, log, target),
    )


def _score(trace: DemandTrace, log: RunLog, target: Target, late: NDArray[np.bool_]) -> Score:
    urgent_wait_s = target.urgent.wait if target.urgent else target.wait
    urgent_late = late_entries(log, trace.entries, urgent_wait_s) & trace.urgent
    counts = log.counts
    return Score(
        entries=trace.entries,
        urgent_entries=int(trace.urgent.sum()),
        late=int(late.sum()),
        urgent_late=int(urgent_late.sum()),
        alarms=alarms_in(counts),
        stock_outs=stock_outs_in(counts),
        given_up=False,
    )


def _tally(values: IntArray) -> tuple[IntArray, IntArray]:
    distinct, counts = np.unique(values, return_counts=True)
    return distinct, counts.astype(np.int64)


def _group_of_needs(trace: DemandTrace, log: RunLog, slices: Slices) -> IntArray:
    classes = len(slices.class_names)
    known = np.where(trace.patient_class >= 0, trace.patient_class, classes)
    return (known * max(len(slices.role_names), 1) + trace.role)[log.entry]


def _worst_day(slices: Slices, table: IntArray) -> tuple[int, float]:
    first = slices.first("day")
    entries, in_time = table[:2, first : first + slices.days]
    if not entries.any():
        return -1, float("nan")
    shares = np.where(entries > 0, in_time / np.maximum(entries, 1), np.inf)
    worst = int(np.argmin(shares))
    return worst, float(shares[worst])


def _in_stretches(area: IntArray, horizon_s: int) -> IntArray:
    step = hours_per_stretch(horizon_s)
    return np.add.reduceat(area, np.arange(0, area.shape[1], step), axis=1)
