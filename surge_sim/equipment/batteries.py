"""Batteries: drain, alarm and issue; chargers: constant up to a knee, slower above it.

Charge is in billionths of the rated charge. A battery of health h holds h of the rated charge, so
it runs h of the run time: 'health' is the usable share of rated capacity.

A battery's charging curve is (capacity, knee_charge, knee_s, charge_s): from empty it holds
`knee_charge` after `knee_s` and `capacity` after `charge_s`, straight in between. In a power outage
charging stands still.
"""

from __future__ import annotations

from numpy.typing import NDArray

from surge_sim.equipment.rule import rule
from surge_sim.equipment.stock import Use

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


@rule
def second_on_curve(
    charge: int, capacity: int, knee_charge: int, knee_s: int, charge_s: int
) -> int:
    """Seconds of charging from empty that end at `charge`; whole seconds that surely suffice."""
    if charge >= capacity:
        return charge_s
    if charge <= knee_charge:
        return -(-charge * knee_s // knee_charge)
    return knee_s - (-(charge - knee_charge) * (charge_s - knee_s) // (capacity - knee_charge))


@rule
def charge_on_curve(
    second: int, capacity: int, knee_charge: int, knee_s: int, charge_s: int
) -> int:
    """Charge after `second` seconds of charging from empty."""
    if second >= charge_s:
        return capacity
    if second < knee_s:
        return second * knee_charge // knee_s
    return knee_charge + (second - knee_s) * (capacity - knee_charge) // (charge_s - knee_s)


@rule
def seconds_to_charge(
    charge: int, goal: int, capacity: int, knee_charge: int, knee_s: int, charge_s: int
) -> int:
    """Powered seconds in a bay until a battery holds `goal`."""
    if charge >= goal:
        return 0
    start = second_on_curve(charge, capacity, knee_charge, knee_s, charge_s)
    return max(second_on_curve(goal, capacity, knee_charge, knee_s, charge_s) - start, 0)


@rule
def charge_in_bay(
    charge: int, powered_s: int, capacity: int, knee_charge: int, knee_s: int, charge_s: int
) -> int:
    """Charge of a battery that came into its bay with `charge`, `powered_s` seconds ago."""
    if powered_s <= 0:
        return charge
    start = second_on_curve(charge, capacity, knee_charge, knee_s, charge_s)
    now = charge_on_curve(start + powered_s, capacity, knee_charge, knee_s, charge_s)
    return max(charge, now)


@rule
def powered_seconds(from_s: int, to_s: int, cut_from_s: NDArray, cut_to_s: NDArray) -> int:
    """Seconds with power between two moments; cuts are sorted and apart, shape (cuts,)."""
    powered = to_s - from_s
    for cut in range(len(cut_from_s)):
        shut = min(to_s, cut_to_s[cut]) - max(from_s, cut_from_s[cut])
        if shut > 0:
            powered -= shut
    return powered


@rule
def powered_end(from_s: int, needed_s: int, cut_from_s: NDArray, cut_to_s: NDArray) -> int:
    """Moment at which `needed_s` powered seconds have passed since `from_s`."""
    end_s = from_s + needed_s
    for cut in range(len(cut_from_s)):
        if cut_to_s[cut] <= from_s:
            continue
        if cut_from_s[cut] >= end_s:
            break
        end_s += cut_to_s[cut] - max(from_s, cut_from_s[cut])
    return end_s


@rule
def bays_working(bays: int, out: int) -> int:
    """Count the bays that work when `out` of them do not; more may fail than there are."""
    return max(bays - out, 0)


@rule
def next_round(now_s: int, every_s: int) -> int:
    """First round at or after `now_s`; rounds are multiples of `every_s`, with 0 at any time."""
    return now_s if every_s == 0 else -(-now_s // every_s) * every_s
