"""A unit's own log of entries as the demand of a surge: exactly these, nothing drawn beside."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.draws import Kind, SurgeStreams
from surge_sim.demand.entries import donning_and_doffing, patience_s, torn
from surge_sim.demand.trace import NEVER_S, IntArray
from surge_sim.randomness import Purpose
from surge_sim.scenario.entry_log import LoggedEntries
from surge_sim.scenario.schema import Settings


def log_columns(
    settings: Settings, streams: SurgeStreams, rows: LoggedEntries
) -> tuple[dict[str, NDArray[Any]], IntArray]:
    """Return the columns of the trace in the order of the log, and the ends of the shifts.

    Times of need, room times, roles, urgency and wearers are the log's. What a log does not
    hold is drawn as usual: donning, doffing, torn hoods and tubes. A role that the scenario
    describes too lends its donning, doffing and patience.

    Parameters
    ----------
    settings : Settings
        One surge's settings.
    streams : SurgeStreams
        Streams of the surge.
    rows : LoggedEntries
        The log.

    Returns
    -------
    columns : dict of ndarray, shape (entries,)
        By the names of the trace's fields.
    shift_end_s : ndarray of int64, shape (wearers,)
        Never: a log says nothing of shifts.
    """
    count = len(rows)
    don_s, doff_s, longest_s = (np.zeros(count, dtype=np.int64) for _ in range(3))
    hood_torn, tube_torn = (np.zeros(count, dtype=np.bool_) for _ in range(2))
    faults = settings.faults
    for number, name in enumerate(rows.role_names):
        those = np.flatnonzero(rows.role == number)
        role, many = settings.roles.get(name), len(those)
        don_s[those], doff_s[those] = donning_and_doffing(
            settings, streams, Kind.LOGGED, number, role, many
        )
        longest_s[those] = patience_s(settings, role, urgent=False)
        hood_torn[those] = torn(
            streams, Purpose.HOODS, Kind.LOGGED, number, faults.hood_damage, many
        )
        tube_torn[those] = torn(
            streams, Purpose.TUBES, Kind.LOGGED, number, faults.tube_damage, many
        )
    longest_s[rows.urgent] = patience_s(settings, None, urgent=True)
    none = np.full(count, -1, dtype=np.int64)
    columns: dict[str, NDArray[Any]] = {
        "due_s": rows.due_s,
        "room_s": rows.room_s,
        "don_s": don_s,
        "doff_s": doff_s,
        "patience_s": longest_s,
        "role": rows.role,
        "patient_class": none,
        "patient": none,
        "urgent": rows.urgent,
        "wearer": rows.wearer,
        "hood_torn": hood_torn,
        "tube_torn": tube_torn,
    }
    return columns, np.full(len(rows.wearer_names), NEVER_S, dtype=np.int64)
