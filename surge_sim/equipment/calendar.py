"""Clocks: working hours."""

from __future__ import annotations

from surge_sim.equipment.rule import rule
from surge_sim.units import DAY_S


@rule
def working_end(
    now_s: int,
    work_s: int,
    first_clock_s: int,
    first_weekday: int,
    open_s: int,
    shut_s: int,
    weekend: int,
) -> int:
    """When work of `work_s` is done that is started now and goes on in working hours only.

    `first_clock_s` and `first_weekday` (0 Monday) say when second 0 is; `open_s` < `shut_s`.
    """
    clock_s = first_clock_s + now_s
    day = clock_s // DAY_S
    left_s = work_s
    while True:
        if weekend or (first_weekday + day) % 7 < 5:
            start_s = max(clock_s, day * DAY_S + open_s)
            there_s = day * DAY_S + shut_s - start_s
            if there_s > 0 and there_s >= left_s:
                return start_s + left_s - first_clock_s
            left_s -= max(there_s, 0)
        day += 1
        clock_s = day * DAY_S
