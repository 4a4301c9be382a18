"""Charging: constant current up to the knee, then an end that tapers; or two straight lines.

A battery's charging curve is (capacity, cc_charge, cc_s, charge_s, end): from empty it holds
`cc_charge` after `cc_s` and `capacity` after `charge_s`. Up to the knee it is straight: the
current is constant. `end` says what follows: without numbers a second straight line; else shares
of what is missing at the knee, at equal steps of the time after it, with straight lines between.

Real chargers hold the voltage from the knee on, and the current falls exponentially: common
practice, no source. Where the current has no jump at the knee, the knee decides the rest. With i
the constant current and T the time constant, i x T x (1 - exp(-t / T)) has gone in t seconds after
the knee. That the rest is in at the end of the charge time gives T, and the current at which the
charger stops: 9 % of the constant one for 80 % of the charge in 60 % of the time.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.charge_end import logarithm_of_fall
from surge_sim.equipment.rule import rule

#: rated charge of a battery of full health [units of charge]
FULL = 1_000_000_000
#: steps of an exponential end; a straight line between two misses the curve by less than 1e-6 of
#: what is missing at the knee where the end takes up to half of the charge time
STEPS = 1_024

Whole = NDArray[np.int64]


@lru_cache(maxsize=64)
def exponential_end(cc_charge: float, constant_current_time: float) -> Whole:
    """Tabulate the end of a charge at constant voltage.

    Parameters
    ----------
    cc_charge, constant_current_time : float
        Shares of the charge and of the charge time at which the current begins to fall; the
        charge first, or both the same: then the current never falls.

    Returns
    -------
    ndarray of int64, shape (STEPS + 1,)
        Shares of what is missing at the knee [parts of `FULL`], at equal steps of the time that is
        left: 0 first, `FULL` last.
    """
    times = np.linspace(0, 1, STEPS + 1)
    fall = logarithm_of_fall(cc_charge, constant_current_time)
    share = times if fall == 0 else np.expm1(-fall * times) / np.expm1(-fall)
    table = np.rint(share * FULL).astype(np.int64)
    table.setflags(write=False)
    return table


@rule
def second_on_curve(
    charge: int, capacity: int, cc_charge: int, cc_s: int, charge_s: int, end: NDArray
) -> int:
    """Seconds of charging from empty that end at `charge`; whole seconds that surely suffice."""
    if charge >= capacity:
        return charge_s
    if charge <= cc_charge:
        return -(-charge * cc_s // cc_charge)
    missing, end_s = capacity - cc_charge, charge_s - cc_s
    if len(end) == 0:
        return cc_s - (-(charge - cc_charge) * end_s // missing)
    share = -(-(charge - cc_charge) * FULL // missing)
    # the step within which that share is reached: end[step] < share <= end[step + 1]
    step, above = 0, len(end) - 1
    while above - step > 1:
        middle = (step + above) // 2
        if end[middle] < share:
            step = middle
        else:
            above = middle
    within = -(-(share - end[step]) * end_s // (end[above] - end[step]))
    return cc_s - (-(step * end_s + within) // (len(end) - 1))


@rule
def charge_on_curve(
    second: int, capacity: int, cc_charge: int, cc_s: int, charge_s: int, end: NDArray
) -> int:
    """Charge after `second` seconds of charging from empty."""
    if second >= charge_s:
        return capacity
    if second < cc_s:
        return second * cc_charge // cc_s
    missing, end_s = capacity - cc_charge, charge_s - cc_s
    if len(end) == 0:
        return cc_charge + (second - cc_s) * missing // end_s
    steps = (second - cc_s) * (len(end) - 1)
    step, within = steps // end_s, steps % end_s
    share = end[step] + (end[step + 1] - end[step]) * within // end_s
    return cc_charge + missing * share // FULL


@rule
def seconds_to_charge(
    charge: int, goal: int, capacity: int, cc_charge: int, cc_s: int, charge_s: int,
    end: NDArray,
) -> int:  # fmt: skip
    """Powered seconds in a bay until a battery holds `goal`."""
    if charge >= goal:
        return 0
    start = second_on_curve(charge, capacity, cc_charge, cc_s, charge_s, end)
    # both may lie within one second of the curve; what lacks takes a second then
    least_s = min(charge_s, 1)
    return max(second_on_curve(goal, capacity, cc_charge, cc_s, charge_s, end) - start, least_s)


@rule
def charge_in_bay(
    charge: int, powered_s: int, capacity: int, cc_charge: int, cc_s: int, charge_s: int,
    end: NDArray,
) -> int:  # fmt: skip
    """Charge of a battery that came into its bay with `charge`, `powered_s` seconds ago."""
    if powered_s <= 0:
        return charge
    start = second_on_curve(charge, capacity, cc_charge, cc_s, charge_s, end)
    now = charge_on_curve(start + powered_s, capacity, cc_charge, cc_s, charge_s, end)
    return max(charge, now)
