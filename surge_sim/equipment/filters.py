"""Filters: each has a life in run-seconds; a higher flow level buys a further share of it."""

from __future__ import annotations

from numpy.typing import NDArray

from surge_sim.equipment.rule import rule


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
    main_run_s: int,
    main_life_s: int,
    life_ppm: NDArray,
) -> int:
    """Lowest level that still gives the minimum flow; the number of levels if none does."""
    for level in range(len(life_ppm)):
        if prefilter_run_s < life_at_level(
            prefilter_life_s, level, life_ppm
        ) and main_run_s < life_at_level(main_life_s, level, life_ppm):
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
    main_run_s: int,
    main_life_s: int,
    level: int,
    life_ppm: NDArray,
) -> int:
    """Run-seconds until the flow at a level falls below the minimum."""
    return min(
        life_at_level(prefilter_life_s, level, life_ppm) - prefilter_run_s,
        life_at_level(main_life_s, level, life_ppm) - main_run_s,
    )


@rule
def fitted_life(
    life_s: int, now_s: int, bad_from_s: NDArray, bad_to_s: NDArray, bad_ppm: NDArray
) -> int:
    """Life of a filter fitted now; in a run of bad filters only a share of what was drawn."""
    for run in range(len(bad_from_s)):
        if bad_from_s[run] <= now_s < bad_to_s[run]:
            life_s = max(life_s * bad_ppm[run] // 1_000_000, 1)
    return life_s
