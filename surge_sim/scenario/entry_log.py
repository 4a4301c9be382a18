"""A unit's own log of entries in a compact form: one row per entry, in arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class LoggedEntries:
    """Entries of a log, sorted by time of need; read-only arrays of shape (entries,).

    Rows outside the horizon are left out.
    """

    #: need [s] from the start of the horizon, int64
    due_s: NDArray[np.int64]
    #: time in the room [s], int64
    room_s: NDArray[np.int64]
    #: number of the role in `role_names`, int64
    role: NDArray[np.int64]
    urgent: NDArray[np.bool_]
    #: number of the named wearer in `wearer_names`, or -1, int64
    wearer: NDArray[np.int64]
    role_names: tuple[str, ...]
    wearer_names: tuple[str, ...]
    #: recorded wait [s], -1 where there is none, int64; None: the log has no waits
    wait_s: NDArray[np.int64] | None = None

    def __len__(self) -> int:
        """Number of entries."""
        return len(self.due_s)
