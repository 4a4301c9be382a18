"""What a run found: numbers with intervals, and tables."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.demand.replay import Replay
from surge_sim.engine.log import IntArray
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.ranges import Range
from surge_sim.scenario.schema import Target
from surge_sim.scenario.timeline import Change
from surge_sim.statistics import rows, tables
from surge_sim.statistics.intervals import (
    CONFIDENCE,
    Interval,
    clopper_pearson,
    mean_interval,
    ratio_interval,
)
from surge_sim.statistics.recorded import (
    WHOLE,
    Reading,
    comparison_table,
    entries_table,
    reading_of,
)
from surge_sim.statistics.summary import Layout, Summary
from surge_sim.statistics.waits import Waits
from surge_sim.statistics.warnings import empty_stock, few_surges, no_entries
from surge_sim.units import DAY_S, MINUTE_S, share_text

if TYPE_CHECKING:
    # loaded where a table is made: an answer does without
    import pandas as pd

#: tables of a run: properties of its result, and names of its files
TABLES = (
    "surges", "waits", "wait_curve", "by_urgency", "by_class", "by_role", "by_day", "by_hour",
    "cause_of_waiting", "use", "use_over_time", "alarms", "consumables", "work", "spread",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class RunResult:
    """One stock, many surges; or many plays of one recorded period.

    Every table is a pandas DataFrame of its own, made when it is first asked for. Plays of a
    recorded period have no limits anywhere: they would get as narrow as there are plays, and say
    nothing of any other period.
    """

    name: str
    title: str
    question: str
    seed: int
    engine: str
    stock: Stock
    target: Target
    #: the numbers of all surges, and what they are
    summary: Summary = field(repr=False)
    layout: Layout = field(repr=False)
    wipes_per_clean: int = 0
    #: what the scenario warns of
    notes: tuple[str, ...] = ()
    #: maximum wait of the policy that some entries lack; empty: none do
    missing_maximum_wait: str = ""
    timeline: tuple[Change, ...] = ()
    #: uncertain inputs, drawn once per surge
    ranges: tuple[Range, ...] = ()
    #: calendar time at which the surges begin
    start: datetime = field(kw_only=True)
    #: a recorded period that was played; None for drawn surges
    replay: Replay | None = None

    def __repr__(self) -> str:
        """Return the answer in a few lines, with the caution; the rest is in the tables."""
        share = self.service_level.estimate
        # rounded down, so that 100 % means all entries
        least = 0.0 if share is None else math.floor(1e4 * share + 1e-9) / 1e4
        in_time = "no entries" if share is None else f"{share_text(least)} of entries in time"
        plays = "surges" if self.replay is None else "replications of one recorded period"
        return "\n".join(
            [
                f"Run of {self.name}, seed {self.seed}, {self.surges_played:,} {plays}: {in_time}; "
                f"the target was met in {self.passes:,} of them.",
                f"Tables: {', '.join(TABLES)}.",
                CAUTION_IN_SHORT,
            ]
        )

    @property
    def surges_played(self) -> int:
        """Number of surges."""
        return len(self.summary)

    @property
    def entries(self) -> int:
        """Number of entries in all surges."""
        return int(self._in_all("entries").sum())

    def _in_all(self, name: str) -> IntArray:
        """Return a number of all entries, of each surge."""
        column: IntArray = self.summary.rows[name][:, 0]
        return column

    # --- numbers -----------------------------------------------------------------------------

    @cached_property
    def passes(self) -> int:
        """Number of surges that kept every part of the target."""
        return int((self.summary.rows["missed"] == 0).sum())

    @cached_property
    def share_on_target(self) -> Interval:
        """Share of surges that kept the target, with exact limits (Clopper and Pearson)."""
        low, high = clopper_pearson(self.passes, self.surges_played, CONFIDENCE)
        return self._told(Interval(self.passes / self.surges_played, low, high))

    @cached_property
    def verdict(self) -> str:
        """Whether the stock meets the target: ``met``, ``not met`` or ``undecided``.

        Of a recorded period: whether the plays did.
        """
        wanted = self.target.share_of_surges
        if self.replay is not None:
            return "met" if self.passes >= wanted * self.surges_played - 1e-9 else "not met"
        low, high = self.share_on_target.low, self.share_on_target.high
        assert low is not None and high is not None
        if low >= wanted:
            return "met"
        return "not met" if high < wanted else "undecided"

    @cached_property
    def service_level(self) -> Interval:
        """Share of all entries of all surges: large surges weigh more."""
        return self._told(
            ratio_interval(self._in_all("in_time"), self._in_all("entries"), highest=1.0)
        )

    @cached_property
    def service_level_by_surge(self) -> Interval:
        """Mean of the surges' shares: every surge with entries weighs the same."""
        return self._told(mean_interval(self._columns["service_level"], lowest=0.0, highest=1.0))

    @cached_property
    def urgent_service_level(self) -> Interval:
        """Share of urgent entries within the target's wait for urgent ones."""
        entries, late = (self.summary.rows[f"urgent_{name}"] for name in ("entries", "late"))
        return self._told(ratio_interval(entries - late, entries, highest=1.0))

    @cached_property
    def service_level_by_delay(self) -> Interval:
        """Share of entries that were served no later beyond ample stock than the target's wait."""
        return self._within("late_by_delay")

    @cached_property
    def service_level_by_wait(self) -> Interval:
        """Share of entries that waited no longer themselves than the target's wait."""
        return self._within("late_by_wait")

    def _within(self, late: str) -> Interval:
        entries = self._in_all("entries")
        late_ones = self.summary.rows[late]
        return self._told(ratio_interval(entries - late_ones, entries, highest=1.0))

    @property
    def hides_waits(self) -> bool:
        """Whether named wearers were kept by waits, so that more entries were delayed."""
        rows = self.summary.rows
        return bool((rows["late_by_delay"] != rows["late_by_wait"]).any())

    @property
    def late_by_waits_alone(self) -> bool:
        """Whether every late entry had a request that waited longer than the target's wait."""
        return self.target.late_by == "wait" and not self.summary.rows["left_early"].any()

    @property
    def urgent_unserved(self) -> float:
        """Urgent entries that were not served, mean over surges."""
        return float(self.summary.rows["unserved"][:, self.layout.where["urgency"].stop - 1].mean())

    @cached_property
    def wait_minutes(self) -> dict[str, Interval]:
        """Mean, p50, p90, p95, p99 and max of the wait over all requests [min]."""
        return {name: self._told(one) for name, one in self._all_waits.measures().items()}

    @cached_property
    def _all_waits(self) -> Waits:
        return tables.waits_of(self.summary, self.layout)

    def per_surge(self, column: str, highest: float = math.inf) -> Interval:
        """Return the mean over surges of a column of :attr:`surges`."""
        values = self._columns[column].astype(float)
        return self._told(mean_interval(values, lowest=0.0, highest=highest))

    @cached_property
    def _columns(self) -> dict[str, np.ndarray]:
        """What was counted in each surge, by the column of :attr:`surges`."""
        return rows.surge_columns(self.summary, self.layout)

    @cached_property
    def causes(self) -> dict[str, Any]:
        """Columns of :attr:`cause_of_waiting`."""
        return tables.cause_of_waiting_columns(self.summary.rows["cause_s"])

    @cached_property
    def used(self) -> list[dict[str, Any]]:
        """Rows of :attr:`consumables`, with limits.

        A wipe-down between visits takes as many wipes as a full one.
        """
        wipes = self._columns["wipe_downs"] * self.wipes_per_clean
        return tables.used_rows({**self._columns, "wipes_used": wipes}, self.target.share_of_surges)

    @cached_property
    def quantiles(self) -> list[dict[str, Any]]:
        """Rows of :attr:`spread`, with limits."""
        return tables.spread_rows(self._columns)

    def _told(self, interval: Interval) -> Interval:
        """Leave the limits of plays of a recorded period out."""
        return interval if self.replay is None else Interval(interval.estimate, None, None)

    def _table(self, table: pd.DataFrame) -> pd.DataFrame:
        return table if self.replay is None else tables.without_limits(table)

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """What a careful reader should know, a stock that serves nobody first."""
        numbers = (
            few_surges(self._in_all("entries"), self._in_all("in_time"), self.service_level)
            if self.replay is None
            else no_entries(self._in_all("entries"), self.replay)
        )
        empty = empty_stock(self.stock, self.timeline, self.notes)
        return (*empty, *self.notes, *self._of_endless_waits(), *numbers)

    def _of_endless_waits(self) -> Iterator[str]:
        mean_min = self.wait_minutes["mean"].estimate
        name = self.missing_maximum_wait
        if name and mean_min is not None and mean_min >= DAY_S / MINUTE_S:
            yield (
                f"The mean wait is {mean_min * MINUTE_S / DAY_S:.1f} d: entries without a maximum "
                f"wait (policy.{name}) wait until they are served."
            )

    @cached_property
    def recorded_reading(self) -> Reading | None:
        """What comparing recorded with simulated waits comes to; None without recorded ones."""
        measures, pairs = self._compared or (None, None)
        if measures is None or pairs is None:
            return None
        return reading_of(measures, pairs, self.target.wait)

    # --- tables ------------------------------------------------------------------------------

    def _dates(self, days: pd.Series) -> list[str | None]:
        """Return when each day of the surge, from 1, begins; None where there is no day."""
        import pandas as pd

        return [
            None if pd.isna(day) else f"{self.start + timedelta(days=int(day) - 1):%Y-%m-%d}"
            for day in days
        ]

    @cached_property
    def surges(self) -> pd.DataFrame:
        """One row per surge, with the uncertain inputs that were drawn for it."""
        table = rows.surge_table(self.summary, self.layout)
        dates = self._dates(table["worst_day"])
        table.insert(list(table).index("worst_day") + 1, "worst_day_date", dates)
        return table.join(rows.inputs_table(self.ranges, self.seed, self.summary.rows["surge"]))

    @cached_property
    def waits(self) -> pd.DataFrame:
        """Mean, quantiles and longest wait, of all requests and of urgent ones [min]."""
        return self._table(tables.wait_table(self.summary, self.layout))

    @cached_property
    def wait_curve(self) -> pd.DataFrame:
        """Share of requests that wait longer than each of a ladder of waits."""
        return self._table(tables.wait_curve_table(self._all_waits))

    @cached_property
    def by_urgency(self) -> pd.DataFrame:
        """Routine and urgent entries."""
        return self._table(tables.group_table(self.summary, self.layout, "urgency"))

    @cached_property
    def by_class(self) -> pd.DataFrame:
        """Entries by class of patient."""
        return self._table(tables.group_table(self.summary, self.layout, "class"))

    @cached_property
    def by_role(self) -> pd.DataFrame:
        """Entries by role of staff."""
        return self._table(tables.group_table(self.summary, self.layout, "role"))

    @cached_property
    def by_day(self) -> pd.DataFrame:
        """Entries by day of the surge, from 1; a day begins at the hour of the surge's start."""
        table = self._table(tables.group_table(self.summary, self.layout, "day"))
        table.insert(1, "date", self._dates(table["day"]))
        return table

    @cached_property
    def by_hour(self) -> pd.DataFrame:
        """Entries by hour of the clock, 0 to 23."""
        return self._table(tables.group_table(self.summary, self.layout, "hour"))

    @cached_property
    def cause_of_waiting(self) -> pd.DataFrame:
        """Waiting hours by cause: what was missing, and where it was."""
        return self._table(tables.cause_of_waiting_table(self.summary.rows["cause_s"]))

    @cached_property
    def use(self) -> pd.DataFrame:
        """How many things are in each state: mean and peak."""
        return self._table(tables.use_table(self.summary, self.layout.horizon_s))

    @cached_property
    def use_over_time(self) -> pd.DataFrame:
        """How many things are in each state over time."""
        table = self._table(tables.use_over_time_table(self.summary, self.layout.horizon_s))
        begins = [self.start + timedelta(hours=hour) for hour in table["hour"].tolist()]
        table.insert(1, "begins", [f"{one:%Y-%m-%d %H:%M}" for one in begins])
        return table

    @cached_property
    def alarms(self) -> pd.DataFrame:
        """Alarms by cause."""
        return self._table(tables.count_table(self.summary, tables.ALARMS, "cause"))

    @cached_property
    def alarms_per_1000(self) -> Interval:
        """Alarms of every cause per 1,000 entries."""
        alarms = self.summary.rows["counts"][:, list(tables.ALARMS)].sum(axis=1)
        return self._told(ratio_interval(alarms, self._in_all("entries")).scaled(1000.0))

    @cached_property
    def consumables(self) -> pd.DataFrame:
        """Parts and wipes used: enough in the target's share of surges, and on average."""
        return self._table(tables.frame(self.used))

    @cached_property
    def work(self) -> pd.DataFrame:
        """Work done and stock-outs met."""
        table = tables.count_table(self.summary, tables.WORK, "what")
        return self._table(tables.without_large_hoods(table, self.layout.hood_sizes))

    @cached_property
    def _compared(self) -> tuple[pd.DataFrame, pd.DataFrame] | None:
        recorded, plays = self.layout.recorded, self.summary.rows["recorded"]
        if not recorded.groups:
            return None
        return (
            comparison_table(recorded, plays, self.target.wait),
            entries_table(recorded, self.summary.by_entry, len(plays)),
        )

    @cached_property
    def recorded_waits(self) -> pd.DataFrame | None:
        """Recorded waits beside simulated ones, whole and by day; None without recorded ones."""
        if self._compared is None:
            return None
        table = self._compared[0].copy()
        day = table["group"].where(table["group"] != WHOLE).str.removeprefix("day ")
        table.insert(1, "date", self._dates(day))
        return table

    @cached_property
    def recorded_waits_by_entry(self) -> pd.DataFrame | None:
        """Recorded and simulated wait of each entry; None without recorded ones."""
        if self._compared is None:
            return None
        table = self._compared[1].copy()
        table.insert(list(table).index("day") + 1, "date", self._dates(table["day"]))
        return table

    @cached_property
    def spread(self) -> pd.DataFrame:
        """How much surges differ from one another."""
        return self._table(tables.frame(self.quantiles))
