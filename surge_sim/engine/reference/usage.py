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
        self.in_hour = [0] * len(Use)
        self.hour = self.hour_end_s = 0
        self.area: IntArray = np.zeros((len(Use), hours), dtype=np.int64)
        self.peak: IntArray = np.zeros(len(Use), dtype=np.int64)

    def change(self, use: Use, by: int, now_s: int) -> None:
        """Add `by` things to a state; what they add by the end of the hour is counted at once."""
        if now_s >= self.hour_end_s:
            self.next_hours(now_s)
        self.note_peak(use, now_s)
        self.now_there[use] += by
        self.in_hour[use] += by * max(self.hour_end_s - now_s, 0)

    def note_peak(self, use: Use, now_s: int) -> None:
        """A number that lasts no time makes no peak."""
        now_s = min(now_s, self.horizon_s)
        if now_s > self.since_s[use]:
            self.peak[use] = max(self.peak[use], self.now_there[use])
            self.since_s[use] = now_s

    def next_hours(self, now_s: int) -> None:
        """Write down the hours that are over; begin each with what it adds if nothing changes."""
        while now_s >= self.hour_end_s and self.hour_end_s < self.horizon_s:
            self.write_hour()
            from_s = self.hour_end_s
            self.hour = from_s // HOUR_S
            self.hour_end_s = min(from_s + HOUR_S, self.horizon_s)
            self.in_hour = [there * (self.hour_end_s - from_s) for there in self.now_there]

    def write_hour(self) -> None:
        """Write down the item-seconds of the hour."""
        self.area[:, self.hour] = self.in_hour
