"""Tables of a run: tidy, one row per thing, units in the names of the columns.

``low`` and ``high`` are the limits of a 95 % interval for the number they stand beside; they
are empty where there are none.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from surge_sim.engine.log import ALARM_WORDS, Alarm, Count, Use
from surge_sim.statistics.causes import cause_name, missing_name
from surge_sim.statistics.intervals import (
    NOTHING,
    Interval,
    quantile_over_surges,
    ratio_interval_of,
)
from surge_sim.statistics.moments import RatioSums
from surge_sim.statistics.summary import WAIT_SPAN, hours_per_stretch, stretch_seconds
from surge_sim.statistics.totals import Totals
from surge_sim.statistics.waits import Histogram, WaitSums

MINUTE = 1.0 / 60.0
QUANTILES = (0.5, 0.9, 0.95, 0.99)
SPREAD = (0.1, 0.5, 0.9)

#: what is used up, by its column of the surges' numbers
USED = {
    "hoods_used": "hoods",
    "tubes_used": "tubes",
    "prefilters_used": "prefilters",
    "main_filters_used": "main filters",
    "wipes_used": "wipes",
}
ALARMS = {
    Count.ALARMS_BATTERY: ALARM_WORDS[Alarm.BATTERY],
    Count.ALARMS_FLOW: ALARM_WORDS[Alarm.FLOW],
    Count.ALARMS_FAULT: ALARM_WORDS[Alarm.FAULT],
}
WORK = {
    Count.WIPE_DOWNS: "wipe-downs",
    Count.SHORT_WIPES: "short wipes",
    Count.CHECKS: "checks",
    Count.FAILED_CHECKS: "failed checks",
    Count.RECHECKS: "checks during wear",
    Count.BATTERY_SWAPS: "battery swaps",
    Count.CHARGES: "charges",
    Count.BLOWER_REPAIRS: "blower repairs",
    Count.STOCK_OUTS_HOODS: "stock-outs of hoods",
    Count.STOCK_OUTS_TUBES: "stock-outs of tubes",
    Count.STOCK_OUTS_PREFILTERS: "stock-outs of prefilters",
    Count.STOCK_OUTS_MAIN_FILTERS: "stock-outs of main filters",
}


def use_name(use: Use) -> str:
    """Return the name of a state: ``kits in use``."""
    name = use.name.lower().replace("_", " ")
    return name.replace("wipe down", "wipe").replace("wipe", "wipe-down")


def with_limits(name: str, interval: Interval) -> dict[str, float | None]:
    """Return an estimate and its limits as three columns."""
    return {name: interval.estimate, f"{name}_low": interval.low, f"{name}_high": interval.high}


def _limits(interval: Interval) -> dict[str, float | None]:
    return {"estimate": interval.estimate, "low": interval.low, "high": interval.high}


def group_table(totals: Totals, by: str) -> pd.DataFrame:
    """Return one row per group that had entries: how many, share in time, mean wait.

    Parameters
    ----------
    totals : Totals
        Sums over surges.
    by : str
        ``all``, ``urgency``, ``role``, ``class``, ``day`` or ``hour``.
    """
    slices = totals.slices
    assert slices is not None
    first, rows = slices.first(by), []
    long_waits = _group_quantiles(totals, by)
    for place, name in enumerate(slices.groups[by], start=first):
        if not totals.in_time.y[place]:
            continue
        row: dict[str, float | str | None] = {
            by: int(name) if by in ("day", "hour") else name,
            "entries_per_surge": totals.entries.x[place] / totals.surges,
        }
        row |= with_limits("share_in_time", ratio_interval_of(totals.in_time, place, highest=1.0))
        row["surges_with_late"] = totals.in_time.short(place)
        unmet = ratio_interval_of(totals.unmet, place, highest=1.0)
        row |= with_limits("unmet_per_1000", unmet.scaled(1000.0))
        # pandas prints the first and the last columns of a wide table: waits are worth a place
        row |= with_limits("wait_mean_min", ratio_interval_of(totals.wait, place).scaled(MINUTE))
        if long_waits:
            row["wait_p95_min"] = long_waits[place - first]
        rows.append(row)
    return _frame(rows, [by, "entries_per_surge", "share_in_time"])


def _group_quantiles(totals: Totals, by: str) -> list[float | None]:
    """95 % quantile of the wait of each role or class [min]; empty for other groups."""
    slices = totals.slices
    assert slices is not None
    if by not in ("role", "class"):
        return []
    kept = totals.group_waits.settle()
    joint, wait_s = np.divmod(kept.values, WAIT_SPAN)
    klass, role = np.divmod(joint, max(len(slices.role_names), 1))
    found: list[float | None] = []
    for group in range(len(slices.groups[by])):
        mine = (role if by == "role" else klass) == group
        histogram = Histogram()
        histogram.add(wait_s[mine], kept.counts[mine])
        quantile = histogram.quantile(0.95)
        found.append(None if quantile is None else quantile * MINUTE)
    return found


def wait_table(totals: Totals) -> pd.DataFrame:
    """Return the mean, the quantiles and the longest of the waits, of all needs and urgent ones."""
    rows = []
    for group, sums in (("all", totals.waits), ("urgent", totals.urgent_waits)):
        if sums.needs:
            rows += [
                {"group": group, "measure": name, "unit": "min", **_limits(interval)}
                for name, interval in wait_measures(sums).items()
            ]
    return _frame(rows, ["group", "measure", "unit", "estimate", "low", "high"])


def wait_measures(sums: WaitSums) -> dict[str, Interval]:
    """Return mean, quantiles and longest of the wait [min].

    A higher quantile is never shorter, and neither are its limits: see :func:`monotone_limits`.
    """
    measures = {"mean": sums.mean()}
    quantiles = monotone_limits([sums.quantile(share) for share in QUANTILES], rising=True)
    measures |= {
        f"p{round(100 * share)}": interval
        for share, interval in zip(QUANTILES, quantiles, strict=True)
    }
    longest = sums.longest_s
    measures["max"] = NOTHING if longest is None else Interval(float(longest), None, None)
    return {name: interval.scaled(MINUTE) for name, interval in measures.items()}


def wait_curve_table(totals: Totals) -> pd.DataFrame:
    """Return the share of needs that wait longer than each of a ladder of waits.

    The share can only fall as the wait grows, so the limits are made to fall too: see
    :func:`monotone_limits`. Each holds with 95 % confidence at its own wait.
    """
    ladder = totals.waits.share_within()
    longer = monotone_limits([_other_part(within) for _, within in ladder], rising=False)
    rows = [
        {"wait_min": wait_s / 60, "share_longer": share.estimate, "low": share.low,
         "high": share.high}
        for (wait_s, _), share in zip(ladder, longer, strict=True)
    ]  # fmt: skip
    return _frame(rows, ["wait_min", "share_longer", "low", "high"])


def _other_part(share: Interval) -> Interval:
    """Return one less a share, with its limits."""
    turned = (share.estimate, share.high, share.low)
    return Interval(*(None if value is None else 1.0 - value for value in turned))


def monotone_limits(intervals: Sequence[Interval], rising: bool) -> list[Interval]:
    """Widen the limits along a curve that only rises, or only falls, until they do so too.

    Limits that are worked out point by point need not be monotone, because the error is another
    one at each point; a band with a hump says what cannot be. On a rising curve the upper limit
    becomes the highest of those at the point and before, the lower limit the lowest of those at
    the point and beyond; on a falling curve the other way round. No interval gets narrower, so
    what each holds it still holds with at least its confidence.

    Parameters
    ----------
    intervals : sequence of Interval
        Points of the curve, in order.
    rising : bool
        Whether the curve rises; otherwise it falls.

    Returns
    -------
    list of Interval
        The same estimates. A limit that is not known stays unknown and widens no other.
    """
    points = np.array(intervals, dtype=float).reshape(-1, 3)
    # a falling curve read from its end is a rising one
    estimate, low, high = points.T if rising else points[::-1].T
    wide_low = np.where(np.isnan(low), np.nan, np.fmin.accumulate(low[::-1])[::-1])
    wide_high = np.where(np.isnan(high), np.nan, np.fmax.accumulate(high))
    widened = [
        Interval(*(None if np.isnan(value) else float(value) for value in point))
        for point in zip(estimate, wide_low, wide_high, strict=True)
    ]
    return widened if rising else widened[::-1]


def waiting_for_table(totals: Totals) -> pd.DataFrame:
    """Return the waiting hours by cause, and their share of all waiting hours.

    Without limits: a few surges with long waits carry such a share, and limits from the spread of
    surges held it in 65 to 98 % of the repetitions of ``tests/studies/printed.py``, not in 95 %.
    """
    return causes_table(totals.causes, totals.surges)


def causes_table(causes: RatioSums, surges: int) -> pd.DataFrame:
    """Return the same from the sums over so many surges: seconds by cause over all seconds."""
    rows = []
    for state in np.flatnonzero(causes.x > 0).tolist():
        rows.append(
            {
                "missing": missing_name(state),
                "waiting_for": cause_name(state),
                "hours_per_surge": causes.x[state] / surges / 3_600,
                "share": float(causes.ratio(state) or 0),
                "in_surges": causes.some(state),
            }
        )
    columns = ["missing", "waiting_for", "hours_per_surge", "share", "in_surges"]
    table = _frame(rows, columns)
    return table.sort_values(
        ["hours_per_surge", "waiting_for"], ascending=[False, True], ignore_index=True
    )


def use_table(totals: Totals) -> pd.DataFrame:
    """Return how many things are in each state: mean over the horizon, and most at once."""
    rows = []
    for use in Use:
        row: dict[str, float | str | None] = {"state": use_name(use)}
        row |= with_limits(
            "mean", ratio_interval_of(totals.use, use).scaled(1.0 / totals.horizon_s)
        )
        row |= with_limits("peak_mean", ratio_interval_of(totals.peak, use))
        row["peak_highest"] = int(totals.highest_peak[use])
        rows.append(row)
    return _frame(rows, ["state", "mean"])


def use_over_time_table(totals: Totals) -> pd.DataFrame:
    """Return how many things are in each state over time: mean, and where most surges lie.

    The mean is over all surges; 10 % and 90 % are quantiles over the first 200 surges of the
    mean within each stretch of time.
    """
    assert totals.area is not None
    lengths_s = stretch_seconds(totals.horizon_s)
    mean = totals.area / lengths_s / max(totals.surges, 1)
    low, high = np.quantile(np.stack(totals.band), (0.1, 0.9), axis=0)
    step = hours_per_stretch(totals.horizon_s)
    hours = np.arange(len(lengths_s)) * step
    parts = [
        pd.DataFrame(
            {
                "hour": hours,
                "hours": lengths_s / 3_600,
                "state": use_name(use),
                "mean": mean[use],
                "p10": low[use].astype(float),
                "p90": high[use].astype(float),
            }
        )
        for use in Use
    ]
    return pd.concat(parts, ignore_index=True)


def count_table(
    totals: Totals, names: Mapping[Any, str], column: str, times: int = 1
) -> pd.DataFrame:
    """Return counts per surge and per 1,000 entries, each taken so many times."""
    rows = []
    for count, name in names.items():
        row: dict[str, float | str | None] = {column: name}
        row |= with_limits("per_surge", ratio_interval_of(totals.counts, count).scaled(times))
        row |= with_limits("per_1000_entries", per_1000_entries(totals, count).scaled(times))
        row["in_surges"] = totals.counts.some(count)
        rows.append(row)
    return _frame(rows, [column, "per_surge"])


def used_table(surges: pd.DataFrame, share: float) -> pd.DataFrame:
    """Return what was used up: a number that is enough in a share of surges, and the mean.

    The number is a quantile over surges with distribution-free limits. Limits of the mean are not
    given: they say how well the mean is known, and stock for the mean runs out in half of surges.

    Parameters
    ----------
    surges : DataFrame
        One row per surge, with the columns of :data:`USED`.
    share : float
        Share of surges that the target asks for [0..1].
    """
    rows = []
    for column, name in USED.items():
        used = surges[column].to_numpy(dtype=float)
        enough = with_limits("enough", quantile_over_surges(used, share))
        mean = float(used.mean())
        rows.append({"what": name, "share_of_surges": share, **enough, "per_surge": mean})
    return _frame(rows, ["what", "share_of_surges", "enough", "per_surge"])


def per_1000_entries(totals: Totals, count: int) -> Interval:
    """Return a count per 1,000 entries, all surges together."""
    return ratio_interval_of(totals.counts_per_entry, count).scaled(1000.0)


def spread_table(surges: pd.DataFrame) -> pd.DataFrame:
    """Return how much surges differ: quantiles over surges with distribution-free limits.

    This is luck from surge to surge, which more surges do not shrink; the limits are how well
    those quantiles are known, and they do shrink.
    """
    columns = (
        "entries", "share_in_time", "wait_mean_min", "wait_max_min", "hours_waited", "unmet",
        "alarms", "worst_day_share",
    )  # fmt: skip
    rows = []
    for column in columns:
        for share in SPREAD:
            interval = quantile_over_surges(surges[column].to_numpy(dtype=float), share)
            rows.append({"quantity": column, "share_of_surges": share, **_limits(interval)})
    return _frame(rows, ["quantity", "share_of_surges", "estimate", "low", "high"])


def without_limits(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose limits are all unknown."""
    limits = [name for name in table.columns if name.split("_")[-1] in ("low", "high")]
    return table.assign(**dict.fromkeys(limits, np.nan))


def _frame(rows: Iterable[Mapping[str, object]], columns: list[str]) -> pd.DataFrame:
    """Return a table; without rows it still has its columns. Missing numbers are nan."""
    rows = list(rows)
    table = pd.DataFrame(rows) if rows else pd.DataFrame(columns=columns)
    for column in table.columns:
        if column.split("_")[-1] in ("low", "high") or column == "estimate":
            table[column] = table[column].astype(float)
    return table
