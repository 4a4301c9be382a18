"""Charging: constant up to a knee, slower above it, standing still in a power outage.

A battery's curve is (capacity, knee_charge, knee_s, charge_s): from empty it holds
`knee_charge` after `knee_s` and `capacity` after `charge_s`, straight in between.
"""

from __future__ import annotations

from numpy.typing import NDArray

from surge_sim.equipment.rule import rule


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
