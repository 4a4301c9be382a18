"""Spare parts: ordered again when few are left, delivered after the lead time."""

from __future__ import annotations

from numpy.typing import NDArray

from surge_sim.equipment.rule import rule

#: numbers of the supplies
HOODS, TUBES, PREFILTERS, HE_FILTERS, LARGE_HOODS = 0, 1, 2, 3, 4
SUPPLY_NAMES = ("hoods", "tubes", "prefilters", "HE filters", "large hoods")


@rule
def spare_parts(supply: int, owned: int, kits: int) -> int:
    """Parts that are spare: of hoods and tubes, all that there are but one for each kit.

    No large hood comes with a kit.
    """
    return owned - kits if supply in (HOODS, TUBES) else owned


@rule
def hoods_of_size(large: bool) -> int:
    """Supply from which the hood of a wearer comes: no hood of one size stands for the other."""
    return LARGE_HOODS if large else HOODS


@rule
def endless_now(endless: int, run_in: int) -> bool:
    """Whether a supply never runs out: none does in the run-in.

    What is on the shelf when the surge begins is what the scenario says.
    """
    return bool(endless or run_in)


@rule
def in_stock(endless: int, spares: int) -> bool:
    """Whether there is a spare part."""
    return bool(endless or spares > 0)


@rule
def order_quantity(position: int, reorder_point: int, lot: int) -> int:
    """How many to order: whole lots until the spares (here and on order) exceed `reorder_point`.

    A negative `reorder_point` means that nothing is ever ordered.
    """
    if reorder_point < 0 or position > reorder_point:
        return 0
    return ((reorder_point - position) // lot + 1) * lot


@rule
def delivery_s(
    due_s: int, supply: int, held_from_s: NDArray, held_to_s: NDArray, held_supply: NDArray
) -> int:
    """When a delivery due at `due_s` comes; one due while deliveries are missed comes at their end.

    ``held_supply`` is the number of the supply or -1 for all; shape (missed periods,), sorted.
    """
    for period in range(len(held_from_s)):
        if held_supply[period] in (-1, supply) and held_from_s[period] <= due_s < held_to_s[period]:
            due_s = held_to_s[period]
    return due_s
