"""SimPy with the written order of a second: changes in the order of their rank, then settling."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import simpy

from surge_sim.equipment.order import Moment, moment_rank

#: SimPy keeps priorities 0 and 1 for the start and the waking of processes
_FIRST_RANK = 2


class _Change(simpy.Event):
    """A change that comes at its moment, in its place within the second."""

    def __init__(self, clock: Clock, rank: int, delay_s: int) -> None:
        super().__init__(clock)
        self._ok = True
        self._value = None
        place: Any = _FIRST_RANK + rank
        clock.schedule(self, priority=place, delay=delay_s)


class Clock(simpy.Environment):
    """Whole seconds; `settle` is called whenever a second has no change left."""

    def __init__(self, settle: Callable[[], None]) -> None:
        super().__init__(initial_time=0)
        self._settle = settle

    def moment(self, kind: Moment, number: int, delay_s: int) -> simpy.Event:
        """Return an event that comes after `delay_s`, in its place within that second."""
        return _Change(self, moment_rank(int(kind), number), delay_s)

    def play_until(self, end_s: int, done: Callable[[], bool]) -> None:
        """Play every second up to and including `end_s`, or until `done`."""
        while self.peek() <= end_s:
            self.step()
            if self.peek() > self.now:
                self._settle()
                if self.peek() > self.now and done():
                    return
