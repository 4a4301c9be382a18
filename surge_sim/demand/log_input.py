"""A unit's own log of entries as the demand of a surge: exactly these, nothing drawn beside."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.draws import Kind, SurgeStreams
from surge_sim.demand.entries import Part, torn
from surge_sim.demand.plan import patience_s, role_times
from surge_sim.demand.spread import sample_lots
from surge_sim.demand.trace import NEVER_S, IntArray
from surge_sim.randomness import Purpose
from surge_sim.scenario.arrivals import LoggedEntries
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
    none = np.full(count, -1, dtype=np.int64)
    faults = settings.faults
    for number, name in enumerate(rows.role_names):
        those = np.flatnonzero(rows.role == number)
        times = role_times(settings, settings.roles.get(name))
        part = Part(streams, Kind.LOGGED, number, times, rows.due_s[those], none[those])
        don_s[those] = sample_lots([part.lot(times.don, Purpose.DONNING)])
        doff_s[those] = sample_lots([part.lot(times.doff, Purpose.DOFFING)])
        longest_s[those] = times.patience_s
        hood_torn[those] = torn(Purpose.HOODS, [faults.hood_damage], [part])
        tube_torn[those] = torn(Purpose.TUBES, [faults.tube_damage], [part])
    longest_s[rows.urgent] = patience_s(settings, None, urgent=True)
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
