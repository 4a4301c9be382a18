"""One row per request, and one row per surge, for those who want to look at every single one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.log import ALARM_WORDS, Alarm, Count, IntArray, Outcome, RunLog, Use
from surge_sim.randomness import Sample
from surge_sim.scenario.ranges import Range
from surge_sim.statistics.summary import Layout, Summary
from surge_sim.statistics.tables import ALARMS
from surge_sim.statistics.target import TARGET_PARTS
from surge_sim.statistics.waits import ALL_CAUSES, cause_name, longest_cause

if TYPE_CHECKING:
    # loaded where a table is made: an answer does without
    import pandas as pd

_OUTCOMES = {
    Outcome.SERVED: "served",
    Outcome.RENEGED: "maximum wait reached",
    Outcome.WAITING_AT_END: "still waiting at the end",
}
_ALARMS = {Alarm.NONE: ""} | ALARM_WORDS
_CAUSES = {-1: ""} | {state: cause_name(state) for state in range(ALL_CAUSES)}

#: how an uncertain input stands in the table: end of its column's name, and its unit
INPUT_UNITS = {"time": ("_min", 60.0), "rate": ("_per_day", 1.0), "flow": ("_l_per_min", 1.0)}
STOCK_OUTS = [
    Count.STOCK_OUTS_HOODS,
    Count.STOCK_OUTS_TUBES,
    Count.STOCK_OUTS_PREFILTERS,
    Count.STOCK_OUTS_HE_FILTERS,
    Count.STOCK_OUTS_LARGE_HOODS,
]


def entry_table(trace: Demand, log: RunLog, delay_s: IntArray | None = None) -> pd.DataFrame:
    """Return every request of one surge.

    Parameters
    ----------
    trace, log : Demand, RunLog
        One surge.
    delay_s : ndarray of int, shape (requests,), optional
        Delay of each request beyond ample stock [s]; else its wait.

    Returns
    -------
    pandas.DataFrame
        One row per request: the rest of a visit after an alarm is a request of its own with the
        same ``entry`` and the next ``visit_part``. Moments are in minutes from the start of the
        surge; ``cause_of_waiting`` is the cause of the longest part of the wait; kits and
        batteries are numbered from 0, -1 is none.
    """
    import pandas as pd

    rows = log.entry
    classes = np.array([*trace.class_names, ""], dtype=object)
    return pd.DataFrame(
        {
            "surge": trace.surge,
            "requested_min": _minutes(log.need_s),
            "wait_min": _minutes(log.wait_s),
            "outcome": _named(log.outcome, _OUTCOMES),
            "role": np.array([*trace.role_names, ""], dtype=object)[trace.role[rows]],
            "urgent": np.where(trace.urgent[rows], "yes", "no"),
            "cause_of_waiting": _named(longest_cause(log), _CAUSES),
            "entry": rows,
            "visit_part": log.part,
            "class": classes[trace.patient_class[rows]],
            "kit_in_hand_min": _minutes(log.in_hand_s, none=-1),
            "end_min": _minutes(log.end_s, none=-1),
            "alarm": _named(log.alarm, _ALARMS),
            "failed_checks": log.failed_checks,
            "kit": log.blower,
            "battery": log.battery,
            "requested_at": _clock(trace, log),
            "delay_min": _minutes(log.wait_s if delay_s is None else delay_s),
        }
    )


def _minutes(seconds: np.ndarray, none: int | None = None) -> np.ndarray:
    # four decimals give every whole second back
    minutes = np.round(seconds / 60, 4)
    return minutes if none is None else np.where(seconds == none, np.nan, minutes)


def _named(numbers: np.ndarray, names: dict) -> np.ndarray:
    named = np.empty(len(numbers), dtype=object)
    for number, name in names.items():
        named[numbers == number] = name
    return named


def _clock(trace: Demand, log: RunLog) -> np.ndarray:
    start = np.datetime64(trace.start, "s")
    return np.datetime_as_string(start + log.need_s.astype("timedelta64[s]"), unit="s")


def surge_table(summary: Summary, layout: Layout) -> pd.DataFrame:
    """Return one row per surge; without a worst day where there were no entries."""
    import pandas as pd

    return pd.DataFrame(surge_columns(summary, layout)).astype({"worst_day": "Int64"})


def surge_columns(summary: Summary, layout: Layout) -> dict[str, np.ndarray]:
    """Return the columns of :func:`surge_table`."""
    rows = summary.rows
    entries, in_time, unserved, requests, wait_s = (
        rows[name][:, 0] for name in ("entries", "in_time", "unserved", "requests", "wait_s")
    )
    counts, peak = rows["counts"], rows["peak"]
    hours = wait_s / 3_600
    by_day, good_by_day = (rows[name][:, layout.where["day"]] for name in ("entries", "in_time"))
    shares = _over(good_by_day, by_day)
    worst = np.where(np.isnan(shares), np.inf, shares).argmin(axis=1)
    kits, waiting = peak[:, Use.KITS_IN_USE], peak[:, Use.ENTRIES_WAITING]
    return {
        "surge": rows["surge"],
        "on_target": rows["missed"] == 0,
        "target_parts_missed": np.array([_parts_of(mask) for mask in rows["missed"]], dtype=object),
        "entries": entries,
        "in_time": in_time,
        "service_level": _over(in_time, entries),
        "urgent_entries": rows["urgent_entries"],
        "urgent_late": rows["urgent_late"],
        "requests": requests,
        "wait_mean_min": _over(wait_s, requests) / 60,
        "wait_max_min": np.where(requests > 0, rows["longest_wait_s"] / 60, np.nan),
        "hours_waited": hours,
        "unserved": unserved,
        "reached_maximum_wait": rows["reached_maximum_wait"],
        "waiting_at_end": rows["waiting_at_end"],
        "alarms": counts[:, list(ALARMS)].sum(axis=1),
        "stock_outs": counts[:, STOCK_OUTS].sum(axis=1),
        "hoods_used": counts[:, Count.HOODS_USED],
        "tubes_used": counts[:, Count.TUBES_USED],
        "prefilters_used": counts[:, Count.PREFILTERS_USED],
        "he_filters_used": counts[:, Count.HE_FILTERS_USED],
        **_large_hoods(counts, layout),
        "wipe_downs": counts[:, [Count.WIPE_DOWNS, Count.SHORT_WIPES]].sum(axis=1),
        "worst_day": np.where(entries > 0, worst + 1.0, np.nan),
        "worst_day_service_level": np.take_along_axis(shares, worst[:, None], axis=1)[:, 0],
        **{name: rows[name] for name in ("patients", "boarded", "diverted")},
        "peak_kits_in_use": kits,
        "peak_waiting": waiting,
        **{name: rows[name] for name in ("late_by_wait", "late_by_delay")},
    }


def _large_hoods(counts: IntArray, layout: Layout) -> dict[str, IntArray]:
    """Return the column of large hoods, where somebody needs one."""
    return {"large_hoods_used": counts[:, Count.LARGE_HOODS_USED]} if layout.hood_sizes else {}


def inputs_table(ranges: Sequence[Range], seed: int, surges: IntArray) -> pd.DataFrame:
    """Return the value that each uncertain input had in each surge, one column an input."""
    import pandas as pd

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
    return ", ".join(part for place, part in enumerate(TARGET_PARTS) if mask >> place & 1)
