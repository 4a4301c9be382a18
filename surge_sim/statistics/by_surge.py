"""One row per surge, and how much surges differ."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.engine.log import Count, IntArray, Use
from surge_sim.randomness import Sample
from surge_sim.scenario.ranges import Range
from surge_sim.statistics.intervals import quantile_over_surges
from surge_sim.statistics.layout import Layout
from surge_sim.statistics.promise import PARTS
from surge_sim.statistics.summary import Summary
from surge_sim.statistics.tables import ALARMS, frame

SPREAD = (0.1, 0.5, 0.9)

#: how an uncertain input stands in the table: end of its column's name, and its unit
INPUT_UNITS = {"time": ("_min", 60.0), "rate": ("_per_day", 1.0), "flow": ("_l_per_min", 1.0)}

#: what is used up, by its column of the surges' numbers
USED = {
    "hoods_used": "hoods",
    "tubes_used": "tubes",
    "prefilters_used": "prefilters",
    "main_filters_used": "main filters",
    "wipes_used": "wipes",
}
STOCK_OUTS = [
    Count.STOCK_OUTS_HOODS,
    Count.STOCK_OUTS_TUBES,
    Count.STOCK_OUTS_PREFILTERS,
    Count.STOCK_OUTS_MAIN_FILTERS,
]


def surge_table(summary: Summary, layout: Layout) -> pd.DataFrame:
    """Return one row per surge; without a worst day where there were no entries."""
    rows = summary.rows
    entries, in_time, unmet, needs, wait_s = (
        rows[name][:, 0] for name in ("entries", "in_time", "unmet", "needs", "wait_s")
    )
    counts, peak = rows["counts"], rows["peak"]
    hours = wait_s / 3_600
    by_day, good_by_day = (rows[name][:, layout.where["day"]] for name in ("entries", "in_time"))
    shares = _over(good_by_day, by_day)
    worst = np.where(np.isnan(shares), np.inf, shares).argmin(axis=1)
    kits, waiting = peak[:, Use.KITS_IN_USE], peak[:, Use.ENTRIES_WAITING]
    return pd.DataFrame(
        {
            "surge": rows["surge"],
            "on_target": rows["missed"] == 0,
            "missed": np.array([_parts_of(mask) for mask in rows["missed"]], dtype=object),
            "entries": entries,
            "in_time": in_time,
            "share_in_time": _over(in_time, entries),
            "urgent_entries": rows["urgent_entries"],
            "urgent_late": rows["urgent_late"],
            "needs": needs,
            "wait_mean_min": _over(wait_s, needs) / 60,
            "wait_max_min": np.where(needs > 0, rows["longest_wait_s"] / 60, np.nan),
            "hours_waited": hours,
            "unmet": unmet,
            "gave_up": rows["gave_up"],
            "left_waiting": rows["left_waiting"],
            "alarms": counts[:, list(ALARMS)].sum(axis=1),
            "stock_outs": counts[:, STOCK_OUTS].sum(axis=1),
            "hoods_used": counts[:, Count.HOODS_USED],
            "tubes_used": counts[:, Count.TUBES_USED],
            "prefilters_used": counts[:, Count.PREFILTERS_USED],
            "main_filters_used": counts[:, Count.MAIN_FILTERS_USED],
            "cleans": counts[:, [Count.WIPE_DOWNS, Count.SHORT_WIPES]].sum(axis=1),
            "worst_day": pd.array(np.where(entries > 0, worst + 1.0, np.nan), dtype="Int64"),
            "worst_day_share": np.take_along_axis(shares, worst[:, None], axis=1)[:, 0],
            **{name: rows[name] for name in ("patients", "boarded", "diverted")},
            "peak_kits_in_use": kits,
            "peak_waiting": waiting,
        }
    )


def inputs_table(ranges: Sequence[Range], seed: int, surges: IntArray) -> pd.DataFrame:
    """Return the value that each uncertain input had in each surge, one column an input."""
    drawn = {}
    for one in ranges:
        ending, unit = INPUT_UNITS.get(one.kind, ("", 1.0))
        if one.path[-1] == "air_changes":
            ending, unit = "_per_h", 24.0
        values = [one.drawn(seed, Sample.RUN, surge) for surge in surges.tolist()]
        # times are whole seconds once they are used
        whole = np.rint(values) if one.kind == "time" else np.array(values)
        drawn[one.name + ending] = whole / unit
    return pd.DataFrame(drawn, index=range(len(surges)))


def _over(x: IntArray, y: IntArray) -> NDArray[np.float64]:
    """Divide; nan where there is nothing to divide by."""
    return np.divide(x, y, out=np.full(x.shape, np.nan), where=y > 0)


def _parts_of(mask: int) -> str:
    return ", ".join(part for place, part in enumerate(PARTS) if mask >> place & 1)


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
        enough = quantile_over_surges(used, share).named("enough")
        mean = float(used.mean())
        rows.append({"what": name, "share_of_surges": share, **enough, "per_surge": mean})
    return frame(rows, ["what", "share_of_surges", "enough", "per_surge"])


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
            rows.append({"quantity": column, "share_of_surges": share, **interval._asdict()})
    return frame(rows, ["quantity", "share_of_surges", "estimate", "low", "high"])
