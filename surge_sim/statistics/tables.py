"""Tables of a run: tidy, one row per thing, units in the names of the columns.

``low`` and ``high`` are the limits of a 95 % interval for the number they stand beside; they
are empty where there are none.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike

from surge_sim.engine.log import ALARM_WORDS, Alarm, Count, IntArray, Use
from surge_sim.statistics.intervals import quantile_over_surges, ratios
from surge_sim.statistics.summary import (
    Layout,
    Summary,
    group_waits,
    hours_per_stretch,
    stretch_seconds,
)
from surge_sim.statistics.waits import (
    MINUTE,
    Waits,
    cause_name,
    missing_name,
    quantile,
    rising_limits,
)

if TYPE_CHECKING:
    # loaded where a table is made: an answer does without
    import pandas as pd

ALARMS = {
    Count.ALARMS_BATTERY: ALARM_WORDS[Alarm.BATTERY],
    Count.ALARMS_FLOW: ALARM_WORDS[Alarm.FLOW],
    Count.ALARMS_FAILURE: ALARM_WORDS[Alarm.FAILURE],
    Count.ALARMS_BATTERY_FAILURE: ALARM_WORDS[Alarm.BATTERY_FAILURE],
}
#: what is used up, by its column of the surges' numbers
USED = {
    "hoods_used": "hoods",
    "tubes_used": "tubes",
    "prefilters_used": "prefilters",
    "he_filters_used": "HE filters",
    "large_hoods_used": "large hoods",
    "wipes_used": "wipes",
}
SPREAD = (0.1, 0.5, 0.9)
WORK = {
    Count.WIPE_DOWNS: "wipe-downs",
    Count.SHORT_WIPES: "wipe-downs between visits",
    Count.CHECKS: "checks",
    Count.FAILED_CHECKS: "failed checks",
    Count.RECHECKS: "checks during wear",
    Count.BATTERY_SWAPS: "battery swaps",
    Count.CHARGES: "charges",
    Count.BLOWER_REPAIRS: "blower repairs",
    Count.BATTERY_REPLACEMENTS: "battery replacements",
    Count.STOCK_OUTS_HOODS: "stock-outs of hoods",
    Count.STOCK_OUTS_TUBES: "stock-outs of tubes",
    Count.STOCK_OUTS_PREFILTERS: "stock-outs of prefilters",
    Count.STOCK_OUTS_HE_FILTERS: "stock-outs of HE filters",
    Count.STOCK_OUTS_LARGE_HOODS: "stock-outs of large hoods",
}
#: what is told only where somebody needs a large hood
_OF_LARGE_HOODS = ("large hoods", "stock-outs of large hoods")


def use_name(use: Use) -> str:
    """Return the name of a state: ``kits in use``."""
    name = use.name.lower().replace("_", " ").replace(" out", " out of service")
    return name.replace("wipe down", "wipe").replace("wipe", "wipe-down")


def group_table(summary: Summary, layout: Layout, by: str) -> pd.DataFrame:
    """Return one row per group that had entries: how many, service level, mean wait.

    Parameters
    ----------
    summary : Summary
        All surges.
    layout : Layout
        What their numbers are.
    by : str
        ``all``, ``urgency``, ``role``, ``class``, ``day`` or ``hour``.
    """
    entries, in_time, unserved, requests, wait_s = (
        summary.rows[name][:, layout.where[by]]
        for name in ("entries", "in_time", "unserved", "requests", "wait_s")
    )
    late = (in_time != entries).sum(axis=0)
    told = zip(
        layout.groups[by],
        entries.sum(axis=0).tolist(),
        ratios(in_time, entries, highest=1.0),
        late.tolist(),
        ratios(unserved, entries, highest=1.0),
        ratios(wait_s, requests),
        _long_waits(summary, layout, by),
        strict=True,
    )
    rows = []
    for name, total, share, with_late, lost, wait, long_wait in told:
        if not total:
            continue
        row: dict[str, Any] = {
            by: int(name) if by in ("day", "hour") else name,
            "entries_per_surge": total / len(summary),
            **share.named("service_level"),
            "surges_with_late": with_late,
            **lost.scaled(1000.0).named("unserved_per_1000"),
            # pandas prints the first and the last columns of a wide table: waits are worth a place
            **wait.scaled(MINUTE).named("wait_mean_min"),
        }
        if by in ("role", "class"):
            row["wait_p95_min"] = long_wait
        rows.append(row)
    return frame(rows, [by, "entries_per_surge", "service_level"])


def _long_waits(summary: Summary, layout: Layout, by: str) -> list[float | None]:
    """95 % quantile of the wait of each role or class [min]; None for other groups."""
    groups, wait_s, counts = group_waits(summary, layout)
    found: list[float | None] = []
    for number in range(len(layout.groups[by])):
        mine = groups[by] == number if by in ("role", "class") else np.zeros(len(counts), bool)
        long_s = quantile(wait_s[mine], counts[mine], 0.95)
        found.append(None if long_s is None else long_s * MINUTE)
    return found


def waits_of(summary: Summary, layout: Layout, urgent: bool = False) -> Waits:
    """Return the waits of all requests, or those of urgent ones."""
    rows = summary.rows
    groups, wait_s, counts = group_waits(summary, layout)
    some = groups["urgency"] >= urgent
    who = "urgent_" if urgent else ""
    longest_s = int(rows[f"{who}longest_wait_s"].max())
    return Waits(
        ladder_s=layout.ladder_s,
        within=rows[f"{who}within"],
        requests=rows["urgent_requests"] if urgent else rows["requests"][:, 0],
        total_s=rows["urgent_wait_s"] if urgent else rows["wait_s"][:, 0],
        wait_s=np.minimum(wait_s[some], longest_s),
        counts=counts[some],
        longest_s=longest_s,
    )


def wait_table(summary: Summary, layout: Layout) -> pd.DataFrame:
    """Return mean, quantiles and longest of the waits, of all requests and of urgent ones."""
    both = {"all": waits_of(summary, layout), "urgent": waits_of(summary, layout, urgent=True)}
    rows = [
        {"group": group, "measure": name, "unit": "min", **interval._asdict()}
        for group, waits in both.items()
        if waits.longest_s >= 0
        for name, interval in waits.measures().items()
    ]
    return frame(rows, ["group", "measure", "unit", "estimate", "low", "high"])


def wait_curve_table(waits: Waits) -> pd.DataFrame:
    """Return the share of requests that wait longer than each of a ladder of waits.

    The share that waits no longer can only rise with the wait, so its limits are made to rise too:
    see :func:`rising_limits`. Each holds with 95 % confidence at its own wait.
    """
    import pandas as pd

    ladder_s, within = zip(*waits.share_within(), strict=True)
    estimate, low, high = 1.0 - np.array(rising_limits(within), dtype=float).T
    return pd.DataFrame(
        {"wait_min": np.array(ladder_s) / 60, "share_longer": estimate, "low": high, "high": low}
    )


def cause_of_waiting_table(cause_s: IntArray) -> pd.DataFrame:
    """Return what :func:`cause_of_waiting_columns` counts as a table."""
    import pandas as pd

    return pd.DataFrame(cause_of_waiting_columns(cause_s))


def cause_of_waiting_columns(cause_s: IntArray) -> dict[str, Any]:
    """Return the waiting hours by cause, and their share of all waiting hours, most hours first.

    Without limits: a few surges with long waits carry such a share, and limits from the spread of
    surges held it in 65 to 98 % of the repetitions of ``tests/studies/printed.py``, not in 95 %.

    Parameters
    ----------
    cause_s : ndarray of int64, shape (surges, ALL_CAUSES)
        Waiting seconds of each surge by cause: see :func:`waiting_by_cause`.
    """
    total_s, in_surges = cause_s.sum(axis=0), (cause_s > 0).sum(axis=0)
    states = sorted(np.flatnonzero(total_s).tolist(), key=lambda at: (-total_s[at], cause_name(at)))
    found = np.array(states, dtype=np.int64)
    return {
        "missing": [missing_name(state) for state in states],
        "cause_of_waiting": [cause_name(state) for state in states],
        "hours_per_surge": total_s[found] / max(len(cause_s), 1) / 3_600,
        "share": total_s[found] / max(total_s.sum(), 1),
        "in_surges": in_surges[found],
    }


def use_table(summary: Summary, horizon_s: int) -> pd.DataFrame:
    """Return how many things are in each state: mean over the horizon, and most at once."""
    peak = summary.rows["peak"]
    means, peaks = (ratios(x, 1) for x in (summary.rows["use_s"], peak))
    rows = [
        {
            "state": use_name(use),
            **mean.scaled(1.0 / horizon_s).named("mean"),
            **peak_mean.named("peak_mean"),
            "peak_highest": highest,
        }
        for use, mean, peak_mean, highest in zip(
            Use, means, peaks, peak.max(axis=0).tolist(), strict=True
        )
    ]
    return frame(rows)


def use_over_time_table(summary: Summary, horizon_s: int) -> pd.DataFrame:
    """Return how many things are in each state over time: mean, and where most surges lie.

    The mean is over all surges; 10 % and 90 % are quantiles over the first 200 surges of the
    mean within each stretch of time.
    """
    import pandas as pd

    lengths_s = stretch_seconds(horizon_s)
    mean = summary.use_s / lengths_s / len(summary)
    low, high = np.quantile(summary.band, (0.1, 0.9), axis=0)
    step = hours_per_stretch(horizon_s)
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


def count_table(summary: Summary, names: Mapping[Count, str], column: str) -> pd.DataFrame:
    """Return counts per surge and per 1,000 entries."""
    counts = summary.rows["counts"][:, list(names)]
    rows = [
        {
            column: name,
            **per_surge.named("per_surge"),
            **per_entry.scaled(1000.0).named("per_1000_entries"),
            "in_surges": in_surges,
        }
        for name, per_surge, per_entry, in_surges in zip(
            names.values(),
            ratios(counts, 1),
            ratios(counts, summary.rows["entries"][:, :1]),
            (counts > 0).sum(axis=0).tolist(),
            strict=True,
        )
    ]
    return frame(rows)


def without_large_hoods(table: pd.DataFrame, hood_sizes: bool) -> pd.DataFrame:
    """Leave out what is told of large hoods, if nobody needs one."""
    if hood_sizes:
        return table
    return table[~table["what"].isin(_OF_LARGE_HOODS)].reset_index(drop=True)


def used_rows(surges: Mapping[str, ArrayLike], share: float) -> list[dict[str, Any]]:
    """Return what was used up: a number that is enough in a share of surges, and the mean.

    The number is a quantile over surges with distribution-free limits. Limits of the mean are not
    given: they say how well the mean is known, and stock for the mean runs out in half of surges.

    Parameters
    ----------
    surges : mapping of str to array
        The columns of :data:`USED`, with a number of each surge.
    share : float
        Share of surges that the target asks for [0..1].
    """
    rows = []
    for column, name in USED.items():
        if column not in surges:
            continue
        used = np.asarray(surges[column], dtype=float)
        enough = quantile_over_surges(used, share).named("enough")
        mean = float(used.mean())
        rows.append({"what": name, "share_of_surges": share, **enough, "per_surge": mean})
    return rows


def spread_rows(surges: Mapping[str, ArrayLike]) -> list[dict[str, Any]]:
    """Return how much surges differ: quantiles over surges with distribution-free limits.

    This is random variation from surge to surge, which more surges do not shrink; the limits say
    how well those quantiles are known, and they do shrink.
    """
    columns = (
        "entries", "service_level", "wait_mean_min", "wait_max_min", "hours_waited", "unserved",
        "alarms", "worst_day_service_level",
    )  # fmt: skip
    rows = []
    for column in columns:
        for share in SPREAD:
            interval = quantile_over_surges(np.asarray(surges[column], dtype=float), share)
            rows.append({"quantity": column, "share_of_surges": share, **interval._asdict()})
    return rows


def without_limits(table: pd.DataFrame) -> pd.DataFrame:
    """Return a table whose limits are all unknown."""
    limits = [name for name in table.columns if name.split("_")[-1] in ("low", "high")]
    return table.assign(**dict.fromkeys(limits, np.nan))


def frame(rows: Sequence[Mapping[str, object]], columns: Sequence[str] = ()) -> pd.DataFrame:
    """Return a table; without rows it still has its columns. Missing numbers are nan."""
    import pandas as pd

    table = pd.DataFrame(rows) if rows else pd.DataFrame(columns=list(columns))
    for column in table.columns:
        if column.split("_")[-1] in ("low", "high") or column == "estimate":
            table[column] = table[column].astype(float)
    return table
