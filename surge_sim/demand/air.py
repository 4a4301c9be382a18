"""How long a room stays shut until its air is cleared."""

from __future__ import annotations

import math

from surge_sim.demand.trace import NEVER_S


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
