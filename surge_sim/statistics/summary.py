"""What is kept of surges once they were played: a row of whole numbers for each.

The rows of a run are a matrix in the order of the surges, so whatever is worked out from it does
not depend on how the surges were split over processes. Beside it stand a few sums of whole
numbers, which are exact in any order. A :class:`Layout` says what the numbers of a row are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.log import Count, IntArray, Outcome, RunLog, Use
from surge_sim.scenario.schema import Target
from surge_sim.statistics.recorded import (
    MEASURES,
    Recorded,
    by_entry_joined,
    recorded_in,
    recorded_play,
)
from surge_sim.statistics.target import (
    TARGET_PARTS,
    day_and_hour,
    late_entries,
    parts_missed,
    score_of,
)
from surge_sim.statistics.waits import ALL_CAUSES, coarse, rungs, tally, waiting_by_cause, within
from surge_sim.units import DAY_S, HOUR_S

if TYPE_CHECKING:
    from surge_sim.scenario.schema import Settings

#: use over time is kept in at most so many stretches of time
MOST_STRETCHES = 1_008
#: the band of use over time comes from the first so many surges; all else from all of them
BAND_SURGES = 200
#: a group and a wait of its in one number: group x this + wait
WAIT_SPAN = 2**34
NO_CLASS = "no class"

#: one number each
SINGLE = (
    "surge", "missed", "urgent_entries", "urgent_late", "reached_maximum_wait", "waiting_at_end",
    "urgent_requests", "urgent_wait_s", "longest_wait_s", "urgent_longest_wait_s", "patients",
    "boarded", "diverted", "late_by_wait", "late_by_delay", "left_early",
)  # fmt: skip
#: one number for each group of entries: entries; those in time, those unserved; requests; seconds
GROUPED = ("entries", "in_time", "unserved", "requests", "wait_s")


@dataclass(frozen=True, eq=False)
class Layout:
    """What the numbers of a surge are; the same for all surges of a scenario."""

    target: Target
    horizon_s: int
    role_names: tuple[str, ...]
    class_names: tuple[str, ...]
    #: waits up to which requests are counted
    ladder_s: IntArray
    recorded: Recorded
    #: whether some wearers need a large hood
    hood_sizes: bool = False

    @classmethod
    def of(cls, settings: Settings) -> Layout:
        """Return the layout for a scenario; names of roles and classes are those of its demand."""
        rows = None if settings.entries is None else settings.entries.rows
        return cls(
            target=settings.target,
            horizon_s=settings.horizon,
            role_names=tuple(settings.roles) if rows is None else rows.role_names,
            class_names=tuple(settings.classes) if rows is None else (),
            ladder_s=rungs(settings.horizon + settings.run_out, settings.target.wait),
            recorded=recorded_in(settings),
            hood_sizes=settings.kit.large_hood_share > 0,
        )

    @cached_property
    def row(self) -> np.dtype[np.void]:
        """The named columns of a surge's row, all int64; many are several numbers wide."""
        wide: dict[str, tuple[int, ...]] = {
            **dict.fromkeys(GROUPED, (self.total,)),
            # requests that waited no longer than each rung of the ladder
            **dict.fromkeys(("within", "urgent_within"), (len(self.ladder_s),)),
            # waiting seconds by cause
            "cause_s": (ALL_CAUSES,),
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

        Day and hour are those in which the entry was due: see :func:`day_and_hour`.
        """
        no_class, (day, hour) = len(self.class_names), day_and_hour(trace)
        inside: dict[str, Any] = {
            "all": 0,
            "urgency": trace.urgent,
            "role": trace.role,
            "class": np.where(trace.patient_class >= 0, trace.patient_class, no_class),
            "day": day,
            "hour": hour,
        }
        places = np.empty((len(inside), trace.entries), dtype=np.int64)
        for row, (by, place) in enumerate(inside.items()):
            np.add(place, self.where[by].start, out=places[row])
        return places

    def count(self, places: IntArray, amounts: IntArray | None = None) -> IntArray:
        """Count the entries at these places in every group, or sum amounts, shape (total,)."""
        weights = None if amounts is None else np.tile(amounts, len(places))
        # sums of whole numbers below 2**53 are exact in binary fractions
        return np.bincount(places.ravel(), weights, self.total).astype(np.int64)


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


def summarise(
    trace: Demand, log: RunLog, layout: Layout, delay_s: IntArray | None = None
) -> Summary:
    """Summarise one surge.

    Parameters
    ----------
    trace, log : Demand, RunLog
        The surge's demand, and how it was played; never changed.
    layout : Layout
        What the numbers are.
    delay_s : ndarray of int, shape (requests,), optional
        Delay of each request beyond ample stock [s]; else its wait.

    Returns
    -------
    Summary
        Of one surge. An entry is in time when each of its requests was served within the target's
        wait; it is unserved when one of them was not served: the maximum wait ran out, or the play
        closed first.
    """
    row = np.zeros(1, dtype=layout.row)
    late = late_entries(log, trace.entries, layout.target.wait)
    score = score_of(log, trace.urgent, layout.target)
    by_wait, by_delay = (
        late_entries(replace(log, delay_s=judged_s), trace.entries, layout.target.wait)
        for judged_s in (None, log.delay_s if delay_s is None else delay_s)
    )
    urgent = trace.urgent[log.entry]
    urgent_wait_s = log.wait_s[urgent]
    rooms = trace.patients.room
    waits = tally(
        group_of_requests(trace, log, layout) * WAIT_SPAN + coarse(log.wait_s),
        np.ones(len(log.wait_s), dtype=np.int64),
    )
    columns = {
        "surge": trace.surge,
        "missed": sum(1 << TARGET_PARTS.index(part) for part in parts_missed(score, layout.target)),
        "urgent_entries": score.urgent_entries,
        "urgent_late": score.urgent_late,
        "reached_maximum_wait": (log.outcome == Outcome.RENEGED).sum(),
        "waiting_at_end": (log.outcome == Outcome.WAITING_AT_END).sum(),
        "urgent_requests": len(urgent_wait_s),
        "urgent_wait_s": urgent_wait_s.sum(),
        "longest_wait_s": log.wait_s.max(initial=-1),
        "urgent_longest_wait_s": urgent_wait_s.max(initial=-1),
        "patients": len(rooms),
        "boarded": (rooms == -1).sum(),
        "diverted": (rooms == -2).sum(),
        "late_by_wait": by_wait.sum(),
        "late_by_delay": by_delay.sum(),
        # requests that are late, though they waited no longer than the target's wait
        "left_early": ((log.outcome != Outcome.SERVED) & (log.wait_s <= layout.target.wait)).sum(),
        **_by_group(trace, log, layout, late),
        "within": within(layout.ladder_s, log.wait_s),
        "urgent_within": within(layout.ladder_s, urgent_wait_s),
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


def group_of_requests(trace: Demand, log: RunLog, layout: Layout) -> IntArray:
    """Number each request by its class, role and urgency, shape (requests,): see `group_waits`."""
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
    # waits are rounded up, but not beyond the longest
    wait_s = np.minimum(wait_s, summary.rows["longest_wait_s"].max())
    return {"urgency": joint % 2, "role": role, "class": klass}, wait_s, summary.waits[1]


def _by_group(
    trace: Demand, log: RunLog, layout: Layout, late: NDArray[np.bool_]
) -> dict[str, IntArray]:
    places = layout.places(trace)
    # those that were late, unserved or waited are few: counting all of them again takes longer
    unserved = np.unique(log.entry[log.outcome != Outcome.SERVED])
    waited = log.wait_s.nonzero()[0]
    entries = layout.count(places)
    return {
        "entries": entries,
        "in_time": entries - layout.count(places[:, late]),
        "unserved": layout.count(places[:, unserved]),
        # the first request of each entry, and those that arose later
        "requests": entries + layout.count(places[:, log.entry[trace.entries :]]),
        "wait_s": layout.count(places[:, log.entry[waited]], log.wait_s[waited]),
    }
