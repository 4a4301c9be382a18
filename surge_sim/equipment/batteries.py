"""Batteries: charge in billionths of the rated charge, drain, least run time, alarm.

A battery of health h holds h of the rated charge, so it runs h of the run time: 'health' is
the usable share of rated capacity.
"""

from __future__ import annotations

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
