"""One surge's demand: a table of needs with every draw, complete before the equipment runs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

#: a time that never comes [s]
NEVER_S = 2**62
#: marks of entries lie below this
MARKS = 1_000_000


@dataclass(frozen=True)
class PatientTable:
    """Patients of one surge, in order of arrival; arrays of shape (patients,)."""

    arrive_s: IntArray
    #: end of isolation [s]; may lie past the horizon
    leave_s: IntArray
    patient_class: IntArray
    #: isolation room, or -1: boarded elsewhere for the whole stay, -2: diverted (no entries)
    room: IntArray


@dataclass(frozen=True)
class Demand:
    """Needs of one surge, sorted by (due_s, routine after urgent, order of drawing).

    All arrays are read-only and have shape (entries,) unless said. A row's number is the
    number of its entry. Times are int64 whole seconds from the start of the horizon.
    """

    seed: int
    sample: int
    surge: int
    #: date and time of second 0
    start: datetime
    horizon_s: int
    closing_s: int
    #: moment when the entry is due; a wearer still busy then is ready later
    due_s: IntArray
    room_s: IntArray
    don_s: IntArray
    doff_s: IntArray
    #: longest wait before the entry is done otherwise, or NEVER_S
    patience_s: IntArray
    role: IntArray
    #: -1: no class (a log without patients)
    patient_class: IntArray
    patient: IntArray
    urgent: BoolArray
    #: named wearer who makes one visit at a time, or -1
    wearer: IntArray
    #: is the hood (tube) torn in this use
    hood_torn: BoolArray
    tube_torn: BoolArray
    #: even number below MARKS: which entries a change of a share of them concerns
    mark: IntArray
    #: end of the shift of each named wearer, shape (wearers,)
    shift_end_s: IntArray
    role_names: tuple[str, ...]
    class_names: tuple[str, ...]
    patients: PatientTable

    @property
    def entries(self) -> int:
        """Number of entries in the surge."""
        return len(self.due_s)
