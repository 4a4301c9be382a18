"""Batteries: charge in billionths of the rated charge, drain, least run time, alarm.

A battery of health h holds h of the rated charge, so it runs h of the run time: 'health' is
the usable share of rated capacity.
"""

from __future__ import annotations

from surge_sim.equipment.places import Use
from surge_sim.equipment.rule import rule

#: rated charge of a battery of full health [units of charge]
FULL = 1_000_000_000


@rule
def run_left(charge: int, run_time_s: int) -> int:
    """Run time left [s] at a level on which a full battery runs `run_time_s`."""
    return charge * run_time_s // FULL


@rule
def least_charge(run_time_s: int, least_run_s: int) -> int:
    """Least charge that still runs `least_run_s` at a level."""
    return -(-least_run_s * FULL // run_time_s)


@rule
def charge_after_wear(charge: int, worn_s: int, run_time_s: int) -> int:
    """Charge left when a kit comes off; drain is constant while the blower runs."""
    return max(charge - worn_s * FULL // run_time_s, 0)


@rule
def seconds_to_reserve(charge: int, run_time_s: int, reserve_s: int) -> int:
    """Time from donning until the battery alarm [s]."""
    return max(run_left(charge, run_time_s) - reserve_s, 0)


@rule
def wants_charging(charge: int, capacity: int, below_ppm: int, least_for_use: int) -> bool:
    """Whether a battery that came back is charged: below the threshold, or too low for any use."""
    return charge < least_for_use or charge * 1_000_000 < capacity * below_ppm


@rule
def may_be_taken(place: int, full: int, early_take: int) -> bool:
    """Whether a battery can be issued as far as its place goes, see `Use`.

    From the shelf always; from a bay when it is full, which happens while it blocks the bay; before
    that, or while it waits for a bay, only where a partial charge is allowed at reissue.
    """
    if place == Use.BATTERIES_IN_BAY:
        return bool(full or early_take)
    if place == Use.BATTERIES_WAITING_FOR_BAY:
        return bool(early_take)
    return place == Use.BATTERIES_ON_SHELF


@rule
def issue_rank(charge: int, place: int) -> int:
    """Rank of a battery for issue: the fullest first, of equals one that blocks no bay.

    Of batteries of the same rank the one with the lowest number goes first.
    """
    return charge * 2 + (place == Use.BATTERIES_ON_SHELF)


@rule
def level_wanted(lacks_battery: int, urgent: bool, level_of_swap: int, level_on_shelf: int) -> int:
    """Level for which the first in line lacks a battery, or -1.

    That is the first of the ``urgent`` ones, else of the swaps of a battery (``level_of_swap``; -1:
    none), else of the others.
    """
    if not lacks_battery:
        return -1
    return level_on_shelf if urgent or level_of_swap < 0 else level_of_swap


@rule
def may_be_issued(charge: int, least: int, usable: int, back: int) -> bool:
    """Whether the first by rank may be issued.

    It must hold the minimum run time at issue, ``least``; -1 is the charge where there is none.
    Where ``back`` batteries stay behind (reserved for urgent entries, or, for the swap of a
    battery, one for each urgent entry that waits), there must be more ``usable`` ones than that.
    """
    return charge >= least and (back == 0 or usable > back)
