"""Batteries: drain, alarm, which one is issued; bays: how many work, and a power outage.

Charge is in billionths of the rated charge. A battery of health h holds h of the rated charge, so
it runs h of the run time: 'health' is the usable share of rated capacity. How a battery is charged
stands in `charge_curve`; in a power outage charging stands still.
"""

from __future__ import annotations

from enum import IntEnum

from numpy.typing import NDArray

from surge_sim.equipment.charge_curve import FULL
from surge_sim.equipment.rule import rule
from surge_sim.equipment.stock import Use


@rule
def run_left(charge: int, run_time_s: int) -> int:
    """Run time left [s] at a level on which a full battery runs `run_time_s`."""
    return charge * run_time_s // FULL


@rule
def least_charge(run_time_s: int, minimum_run_time_s: int) -> int:
    """Least charge that still runs `minimum_run_time_s` at a level."""
    return -(-minimum_run_time_s * FULL // run_time_s)


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
def may_be_taken(place: int, full: int, partial_charge_at_reissue: int) -> bool:
    """Whether a battery can be issued as far as its place goes, see `Use`.

    From the shelf always; from a bay when it is full, which happens while it blocks the bay; before
    that, or while it cools or waits for a bay, only where a partial charge is allowed at reissue.
    """
    if place == Use.BATTERIES_IN_BAY:
        return bool(full or partial_charge_at_reissue)
    if place == Use.BATTERIES_WAITING_FOR_BAY or place == Use.BATTERIES_COOLING:
        return bool(partial_charge_at_reissue)
    return place == Use.BATTERIES_ON_SHELF


class Issue(IntEnum):
    """Which of the batteries that may be issued is; see `issue_rank`."""

    FULLEST = 0
    ANY_USABLE = 1
    LEAST_CHARGED = 2
    LONGEST_ON_SHELF = 3


#: the same in a scenario, in the order of the numbers
ISSUED = ("fullest", "any usable", "least charged that will do", "longest on the shelf")
#: no moment, charge or shuffled number is larger
_ORDERS = 2**33


@rule
def issue_rank(
    issued: int, charge: int, place: int, full: int, since_s: int, mark: int, number: int
) -> int:
    """Rank of a battery that may be issued: the highest goes, of equals the lowest number.

    Parameters
    ----------
    issued : int
        Which one is issued. The fullest: the one that holds most charge, wherever it is, of equals
        one that blocks no bay; per cent of what it can hold play no part. The others: from the
        shelf, where none lies there a full one out of a bay, then one out of a bay, then one that
        waits for a bay; among these the least charged, the one that lies there longest, or any.
    charge, place, full, since_s, number : int
        What the battery holds, where it is (see `Use`), whether its charge has ended, since when
        it is there [s], and its number.
    mark : int
        Drawn for the entry: in which order batteries come to hand where any is taken.
    """
    if issued == Issue.FULLEST:
        return charge * 2 + (place == Use.BATTERIES_ON_SHELF)
    where = 0
    if place == Use.BATTERIES_ON_SHELF:
        where = 3
    elif place == Use.BATTERIES_IN_BAY:
        where = 2 if full else 1
    order = since_s
    if issued == Issue.LEAST_CHARGED:
        order = charge
    elif issued == Issue.ANY_USABLE:
        order = shuffled(mark, number)
    return where * _ORDERS + _ORDERS - 1 - order


@rule
def shuffled(mark: int, number: int) -> int:
    """Mix a mark with a number: below 2**32, in another order of the numbers for each mark.

    The steps are those of common hashes of 32 bits: shift, mix in, multiply by an odd number.
    """
    mixed = (mark * 65_537 + number * 40_503) % 2**32
    for _ in range(2):
        mixed = (mixed ^ (mixed >> 16)) * 0x45D9F3B % 2**32
    return mixed ^ (mixed >> 16)


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
def bays_working(bays: int, lent: int, out: int, failed: int) -> int:
    """Count the bays that work, of the unit's own ones, which fail, and those on loan.

    ``out`` of them all do not work, which may be more than there are.
    """
    return max(bays - failed + lent - out, 0)


@rule
def has_failed(run_s: int, life_s: int) -> bool:
    """Whether a battery has failed in use."""
    return run_s >= life_s


@rule
def next_round(now_s: int, every_s: int, from_s: int) -> int:
    """First round at or after `now_s` [s]; with `every_s` 0 that is now.

    One round is at `from_s`, the others `every_s` apart.
    """
    return now_s if every_s == 0 else from_s - (from_s - now_s) // every_s * every_s
