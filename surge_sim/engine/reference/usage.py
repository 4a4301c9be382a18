"""How many things are in each state over time."""

from __future__ import annotations

import numpy as np

from surge_sim.engine.log import IntArray, Use
from surge_sim.units import HOUR_S


class Usage:
    """Counts by state, their item-seconds per hour of the horizon, and their peaks."""

    def __init__(self, horizon_s: int) -> None:
        self.horizon_s = horizon_s
        hours = -(-horizon_s // HOUR_S)
        self.now_there = [0] * len(Use)
        self.since_s = [0] * len(Use)
        self.area: IntArray = np.zeros((len(Use), hours), dtype=np.int64)
        self.peak: IntArray = np.zeros(len(Use), dtype=np.int64)

    def change(self, use: Use, by: int, now_s: int) -> None:
        """Add `by` things to a state; a number that lasts no time makes no peak."""
        self.close(use, now_s)
        self.now_there[use] += by

    def close(self, use: Use, now_s: int) -> None:
        """Account for the time since the last change of a state."""
        from_s, to_s = self.since_s[use], min(now_s, self.horizon_s)
        self.since_s[use] = now_s
        there = self.now_there[use]
        if to_s <= from_s or there == 0:
            return
        self.peak[use] = max(self.peak[use], there)
        for hour in range(from_s // HOUR_S, (to_s - 1) // HOUR_S + 1):
            inside_s = min(to_s, (hour + 1) * HOUR_S) - max(from_s, hour * HOUR_S)
            self.area[use, hour] += there * inside_s
