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
def fitted_life(life_s: int, share_ppm: int) -> int:
    """Life of a filter fitted now; of a defective lot only a share of what was drawn."""
    return max(life_s * share_ppm // 1_000_000, 1)
