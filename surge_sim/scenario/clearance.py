"""Clearance: how long the air of a room needs once its patient left, and the clean meanwhile."""

from __future__ import annotations

import math

from surge_sim.scenario.patients import Rooms, TerminalClean
from surge_sim.units import NEVER_S


def air_clearance_s(air_changes: float, clearance: float, mixing_factor: float = 1.0) -> int:
    """Return the time until the share of airborne matter is gone from an empty room [s].

    t = ln(1 / (1 - clearance)) / air changes x mixing factor. CDC/HICPAC, Guidelines for
    Environmental Infection Control in Health-Care Facilities, 2003, Appendix B, Table B.1: holds
    for an empty room without a source and with perfect mixing (factor 1).

    Parameters
    ----------
    air_changes : float
        Air changes per hour, above 0.
    clearance : float
        Share that is removed, 0..1.
    mixing_factor : float
        1 for perfect mixing, more for stagnant corners.

    Returns
    -------
    int
        Time [s]; `NEVER_S` for a clearance of 100 %.
    """
    if clearance >= 1:
        return NEVER_S
    return round(-math.log1p(-clearance) / air_changes * mixing_factor * 3_600)


def clearance_s(rooms: Rooms | None) -> int:
    """Return the time until the air of an empty room is cleared [s]; 0 without a limit of rooms."""
    if rooms is None:
        return 0
    return air_clearance_s(rooms.air_changes, rooms.clearance, rooms.mixing_factor)


def clean_in_a_kit(rooms: Rooms | None) -> TerminalClean | None:
    """Return the terminal clean if somebody in a kit does it, while the air is not yet cleared."""
    clean = None if rooms is None else rooms.terminal_clean
    if clean is None or clean.when != "with a kit" or clean.delay >= clearance_s(rooms):
        return None
    return clean
