"""Many surges in one: what is kept while surge after surge comes in."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import Count, IntArray, Use, alarms_in
from surge_sim.statistics.causes import STATES
from surge_sim.statistics.moments import RatioSums
from surge_sim.statistics.recorded import RecordedPlays
from surge_sim.statistics.rows import SurgeRows
from surge_sim.statistics.slices import Slices
from surge_sim.statistics.summary import SurgeSummary, stretch_seconds
from surge_sim.statistics.waits import Histogram, WaitSums, rungs

#: the band of use over time comes from the first so many surges; all else from all of them
BAND_SURGES = 200

#: alarms of all causes, kept behind the counts: limits of a sum are not sums of limits
ALL_ALARMS = len(Count)
COUNTS = len(Count) + 1


@dataclass
class Totals:
    """Exact sums over surges; room grows by one short row of numbers per surge."""

    target_wait_s: int
    horizon_s: int
    #: nobody waits longer than until the play closes
    closing_s: int
    slices: Slices | None = None
    #: numbers of each surge, in the order of the surges
    rows: SurgeRows = field(default_factory=SurgeRows)
    #: per group: entries in time over entries; unmet over entries; waiting seconds over needs
    in_time: RatioSums = field(default_factory=lambda: RatioSums(0))
    unmet: RatioSums = field(default_factory=lambda: RatioSums(0))
    wait: RatioSums = field(default_factory=lambda: RatioSums(0))
    #: per group, over surges: entries
    entries: RatioSums = field(default_factory=lambda: RatioSums(0))
    waits: WaitSums = field(init=False)
    urgent_waits: WaitSums = field(init=False)
    group_waits: Histogram = field(default_factory=Histogram)
    #: per cause of waiting: its seconds over all waiting seconds
    causes: RatioSums = field(default_factory=lambda: RatioSums(STATES))
    #: per count and sum of counts, over surges, and over entries
    counts: RatioSums = field(default_factory=lambda: RatioSums(COUNTS))
    counts_per_entry: RatioSums = field(default_factory=lambda: RatioSums(COUNTS))
    #: per use, over surges: item-seconds, and the most at once
    use: RatioSums = field(default_factory=lambda: RatioSums(len(Use)))
    peak: RatioSums = field(default_factory=lambda: RatioSums(len(Use)))
    highest_peak: IntArray = field(default_factory=lambda: np.zeros(len(Use), dtype=np.int64))
    area: IntArray | None = None
    band: list[NDArray[np.float32]] = field(default_factory=list, repr=False)
    #: of a log that recorded waits: its plays beside them
    recorded: RecordedPlays | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        ladder_s = rungs(self.closing_s, self.target_wait_s)
        self.waits, self.urgent_waits = WaitSums(ladder_s), WaitSums(ladder_s)

    @property
    def surges(self) -> int:
        """Number of surges so far."""
        return len(self.rows)

    def take(self, found: SurgeSummary | Totals) -> None:
        """Add one surge, or the totals of the surges that come next."""
        if isinstance(found, Totals):
            self._join(found)
        else:
            self.add(found)

    def add(self, summary: SurgeSummary) -> None:
        """Add one surge."""
        area = self._area(summary.slices)
        entries, in_time, unmet, needs, wait_s = summary.table
        one = np.ones_like(entries)
        self.in_time.add(in_time, entries)
        self.unmet.add(unmet, entries)
        self.wait.add(wait_s, needs)
        self.entries.add(entries, one)
        self.waits.add(*summary.waits, int(wait_s[0]), summary.longest_wait_s)
        self.urgent_waits.add(
            *summary.urgent_waits, summary.urgent_wait_s, summary.longest_urgent_wait_s
        )
        self.group_waits.add(*summary.group_waits)
        self.causes.add(summary.cause_s, np.full(STATES, int(wait_s[0])))
        ones, counts = np.ones(COUNTS, dtype=np.int64), _with_sums(summary.counts)
        self.counts.add(counts, ones)
        self.counts_per_entry.add(counts, ones * int(entries[0]))
        uses = np.ones(len(Use), dtype=np.int64)
        self.use.add(summary.use_area.sum(axis=1), uses)
        self.peak.add(summary.use_peak, uses)
        self.highest_peak = np.maximum(self.highest_peak, summary.use_peak)
        area += summary.use_area
        if summary.surge < BAND_SURGES:
            there = summary.use_area / stretch_seconds(self.horizon_s)
            self.band.append(there.astype(np.float32))
        self.rows.add(_row(summary))
        self._record(summary.recorded)

    def _join(self, other: Totals) -> None:
        assert other.slices is not None and other.area is not None
        area = self._area(other.slices)
        area += other.area
        for mine, theirs in zip(self._sums(), other._sums(), strict=True):
            mine.join(theirs)
        self.waits.join(other.waits)
        self.urgent_waits.join(other.urgent_waits)
        self.group_waits.join(other.group_waits)
        self.highest_peak = np.maximum(self.highest_peak, other.highest_peak)
        self.band += other.band
        self.rows.join(other.rows)
        self._record(other.recorded)

    def _record(self, plays: RecordedPlays | None) -> None:
        if self.recorded is not None and plays is not None:
            self.recorded.join(plays)
        else:
            self.recorded = self.recorded or plays

    def _sums(self) -> list[RatioSums]:
        found = (getattr(self, one.name) for one in fields(self))
        return [one for one in found if isinstance(one, RatioSums)]

    def _area(self, slices: Slices) -> IntArray:
        """Return the sums of use over time; the first surge says which groups there are."""
        if self.slices is None:
            self.slices = slices
            self.in_time, self.unmet, self.wait, self.entries = (
                RatioSums(slices.total) for _ in range(4)
            )
            self.area = np.zeros((len(Use), len(stretch_seconds(self.horizon_s))), dtype=np.int64)
        assert self.slices == slices and self.area is not None
        return self.area


def _with_sums(counts: IntArray) -> IntArray:
    """Return the counts with the sum of the alarms behind them."""
    return np.append(counts, [alarms_in(counts)])


def _row(summary: SurgeSummary) -> dict[str, Any]:
    """Return the numbers that are kept of every surge."""
    entries, in_time, unmet, needs, wait_s = (int(column[0]) for column in summary.table)
    score, counts = summary.score, summary.counts
    nan = float("nan")
    return {
        "surge": summary.surge,
        "on_target": not summary.missed,
        "missed": ", ".join(summary.missed),
        "entries": entries,
        "in_time": in_time,
        "share_in_time": in_time / entries if entries else nan,
        "urgent_entries": score.urgent_entries,
        "urgent_late": score.urgent_late,
        "needs": needs,
        "wait_mean_min": wait_s / needs / 60 if needs else nan,
        "wait_max_min": summary.longest_wait_s / 60 if needs else nan,
        "hours_waited": wait_s / 3_600,
        "unmet": unmet,
        "gave_up": summary.gave_up,
        "left_waiting": summary.left_waiting,
        "alarms": score.alarms,
        "stock_outs": score.stock_outs,
        "hoods_used": int(counts[Count.HOODS_USED]),
        "tubes_used": int(counts[Count.TUBES_USED]),
        "prefilters_used": int(counts[Count.PREFILTERS_USED]),
        "main_filters_used": int(counts[Count.MAIN_FILTERS_USED]),
        "cleans": int(counts[Count.WIPE_DOWNS] + counts[Count.SHORT_WIPES]),
        "worst_day": float(summary.worst_day + 1) if summary.worst_day >= 0 else nan,
        "worst_day_share": summary.worst_day_share,
        "patients": summary.patients,
        "boarded": summary.boarded,
        "diverted": summary.diverted,
        "peak_kits_in_use": int(summary.use_peak[Use.KITS_IN_USE]),
        "peak_waiting": int(summary.use_peak[Use.ENTRIES_WAITING]),
    }
