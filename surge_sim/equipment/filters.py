"""Filters: lives, failed checks, and the hours of the workshop that fits new ones.

Each filter has a life in run-seconds; a higher flow level buys a further share of it.
"""

from __future__ import annotations

from enum import IntEnum

from numpy.typing import NDArray

from surge_sim.equipment.kits import Repair
from surge_sim.equipment.rule import rule
from surge_sim.units import DAY_S


class AfterFailedCheck(IntEnum):
    """What follows when a kit passes its check at no flow level."""

    #: it gets a new prefilter and is checked again
    NEW_PREFILTER = 0
    #: there is no prefilter: it goes out until there is one
    LACKS_PREFILTER = 1
    #: it fails with a new prefilter: it goes out for an HE filter
    LACKS_HE_FILTER = 2


@rule
def life_at_level(life_s: int, level: int, life_ppm: NDArray) -> int:
    """Run-seconds until a filter no longer passes at a level.

    ``life_ppm[level]`` is the share of its life [parts per million], shape (levels,).
    """
    return life_s * life_ppm[level] // 1_000_000


@rule
def lowest_level(
    prefilter_run_s: int,
    prefilter_life_s: int,
    he_run_s: int,
    he_life_s: int,
    life_ppm: NDArray,
) -> int:
    """Lowest level that still gives the minimum flow; the number of levels if none does."""
    for level in range(len(life_ppm)):
        if prefilter_run_s < life_at_level(
            prefilter_life_s, level, life_ppm
        ) and he_run_s < life_at_level(he_life_s, level, life_ppm):
            return level
    return len(life_ppm)


@rule
def level_or_highest(level: int, levels: int) -> int:
    """Level that a blower is counted under: the highest if it will fail its check."""
    return min(level, levels - 1)


@rule
def seconds_to_flow_loss(
    prefilter_run_s: int,
    prefilter_life_s: int,
    he_run_s: int,
    he_life_s: int,
    level: int,
    life_ppm: NDArray,
) -> int:
    """Run-seconds until the flow at a level falls below the minimum."""
    return min(
        life_at_level(prefilter_life_s, level, life_ppm) - prefilter_run_s,
        life_at_level(he_life_s, level, life_ppm) - he_run_s,
    )


@rule
def fitted_life(life_s: int, share_ppm: int) -> int:
    """Life of a filter fitted now; of a defective lot only a share of what was drawn."""
    return max(life_s * share_ppm // 1_000_000, 1)


@rule
def after_failed_check(fresh_prefilter: int, prefilter_there: int) -> int:
    """Say what follows a check that failed at every level, see `AfterFailedCheck`."""
    if fresh_prefilter:
        return AfterFailedCheck.LACKS_HE_FILTER
    if prefilter_there:
        return AfterFailedCheck.NEW_PREFILTER
    return AfterFailedCheck.LACKS_PREFILTER


@rule
def repair_after_check(follows: int) -> int:
    """Say what a blower needs that is put aside after a failed check."""
    if follows == AfterFailedCheck.LACKS_HE_FILTER:
        return Repair.HE_FILTER
    return Repair.PREFILTER


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
