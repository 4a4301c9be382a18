"""Air and fans: clearing a room, fan laws, load offered to a filter."""

from __future__ import annotations

from math import log


def clearing_minutes(air_changes: float, efficiency: float) -> float:
    """Time to remove a share of what is in the air [min], empty room, perfect mixing.

    CDC/HICPAC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003,
    Appendix B, notes to Table B.1.
    """
    return -60 * log(1 - efficiency) / air_changes


def fan(flow: float, pressure: float, power: float, speed_ratio: float) -> tuple[float, ...]:
    """Flow, pressure and power of the same fan in the same system at another speed."""
    return flow * speed_ratio, pressure * speed_ratio**2, power * speed_ratio**3


def offered_dust_mg(per_cubic_metre: float, litres_per_minute: float, minutes: float) -> float:
    """Dust that a loading test offers to a filter [mg]."""
    return per_cubic_metre * litres_per_minute / 1000 * minutes
