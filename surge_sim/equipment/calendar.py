"""Clocks: steps over time, working hours, collection rounds."""

from __future__ import annotations

from numpy.typing import NDArray

from surge_sim.equipment.rule import rule
from surge_sim.units import DAY_S


@rule
def value_at(now_s: int, step_s: NDArray, value: NDArray) -> int:
    """Value of a step function: ``value[i]`` from ``step_s[i]`` on; shape (steps,), first at 0."""
    low, high = 0, len(step_s)
    while high - low > 1:
        middle = (low + high) // 2
        if step_s[middle] <= now_s:
            low = middle
        else:
            high = middle
    return value[low]


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


@rule
def round_after(now_s: int, round_s: NDArray) -> int:
    """Number of the first round at or after `now_s` (the number of rounds if none); sorted."""
    low, high = 0, len(round_s)
    while low < high:
        middle = (low + high) // 2
        if round_s[middle] < now_s:
            low = middle + 1
        else:
            high = middle
    return low
