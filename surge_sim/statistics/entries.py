"""One row per need, for those who want to look at every single one."""

from __future__ import annotations

import numpy as np
import pandas as pd

from surge_sim.demand.table import Demand
from surge_sim.engine.log import Alarm, Outcome, RunLog
from surge_sim.plain import csv_text
from surge_sim.statistics.causes import STATES, cause_name, longest_cause

_OUTCOMES = {
    Outcome.SERVED: "served",
    Outcome.GAVE_UP: "gave up",
    Outcome.LEFT_WAITING: "left waiting",
}
_ALARMS = {
    Alarm.NONE: "",
    Alarm.BATTERY: "battery",
    Alarm.FLOW: "flow",
    Alarm.FAULT: "fault",
}
_CAUSES = {-1: ""} | {state: cause_name(state) for state in range(STATES)}

#: columns of the table, in order; times in minutes from the start of the surge
COLUMNS = (
    "surge", "need", "wait", "outcome", "role", "urgent", "waiting_for", "entry", "part",
    "class", "in_hand", "end", "alarm", "failed_checks", "kit", "battery", "need_time",
)  # fmt: skip


def entry_table(trace: Demand, log: RunLog) -> pd.DataFrame:
    """Return every need of one surge.

    Parameters
    ----------
    trace, log : Demand, RunLog
        One surge.

    Returns
    -------
    pandas.DataFrame
        One row per need: the rest of a visit after an alarm is a need of its own with the same
        ``entry`` and the next ``part``. ``need``, ``wait``, ``in_hand`` and ``end`` are in
        minutes (the first from the start of the surge); ``waiting_for`` is the cause
        of the longest part of the wait; kits and batteries are numbered from 0, -1 is none.
    """
    rows = log.entry
    classes = np.array([*trace.class_names, ""], dtype=object)
    return pd.DataFrame(
        {
            "surge": trace.surge,
            "need": _minutes(log.need_s),
            "wait": _minutes(log.wait_s),
            "outcome": _named(log.outcome, _OUTCOMES),
            "role": np.array([*trace.role_names, ""], dtype=object)[trace.role[rows]],
            "urgent": np.where(trace.urgent[rows], "yes", "no"),
            "waiting_for": _named(longest_cause(log), _CAUSES),
            "entry": rows,
            "part": log.part,
            "class": classes[trace.patient_class[rows]],
            "in_hand": _minutes(log.in_hand_s, none=-1),
            "end": _minutes(log.end_s, none=-1),
            "alarm": _named(log.alarm, _ALARMS),
            "failed_checks": log.failed_checks,
            "kit": log.blower,
            "battery": log.battery,
            "need_time": _clock(trace, log),
        },
        columns=list(COLUMNS),
    )


def csv_rows(table: pd.DataFrame, header: bool) -> str:
    """Return the table as CSV text; numbers that are missing are empty."""
    return csv_text(table, header)


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
