"""Numbers as they are printed: as many digits as mean something, never 100 % that is not."""

from __future__ import annotations

import math

from surge_sim.statistics.intervals import Interval

#: what stands where there is no number
NONE = "-"


def percent(share: float | None) -> str:
    """Write a share: ``97.3 %``; close to 0 or 100 % with more digits, and never as 0 or 100 %
    unless it is exactly that.
    """  # noqa: D205
    if share is None or math.isnan(share):
        return NONE
    return f"{percent_number(share)} %"


def percent_number(share: float) -> str:
    """Write a share in per cent without the sign."""
    if share in (0.0, 1.0):
        return str(round(100 * share))
    from_edge = min(share, 1.0 - share)
    for digits in (1, 2, 3):
        shown = round(100 * share, digits)
        if from_edge >= 0.01 or 0.0 < shown < 100.0:
            return f"{shown:.{digits}f}"
    return "under 0.001" if share < 0.5 else "over 99.999"


def percent_range(interval: Interval) -> str:
    """Write the limits of a share: ``96.1 to 98.0 %``; empty without limits."""
    if interval.low is None or interval.high is None:
        return ""
    return f"{percent_number(interval.low)} to {percent_number(interval.high)} %"


def minutes(value: float | None) -> str:
    """Write minutes: ``0.4 min``, ``12 min``, and long ones in hours or days: ``7.5 h``."""
    if value is None or math.isnan(value):
        return NONE
    # the limits are those at which rounding would show 10.0, 120 ...
    if value < 9.95:
        if 0 < value < 0.05:
            return "under 0.1 min"
        return f"{value:.1f} min" if value else "0 min"
    if value < 119.5:
        return f"{value:.0f} min"
    return f"{value / 60:.1f} h" if value < 48 * 60 else f"{value / 1440:.1f} d"


def number(value: float | None) -> str:
    """Write a mean count with three digits: ``1.24``, ``12.4``, ``124``, ``20,124``."""
    if value is None or math.isnan(value):
        return NONE
    if value == round(value) and abs(value) < 1e6:
        return f"{value:,.0f}"
    size = abs(value)
    if size < 0.01:
        return "under 0.01" if value > 0 else f"{value:.3f}"
    digits = 2 if size < 9.995 else 1 if size < 99.95 else 0
    return f"{value:,.{digits}f}"


def number_range(interval: Interval) -> str:
    """Write the limits of a mean count: ``1.1 to 1.4``; empty without limits."""
    if interval.low is None or interval.high is None:
        return ""
    return f"{number(interval.low)} to {number(interval.high)}"


def for_json(value: float | None, digits: int) -> float | None:
    """Round for JSON, which knows no nan."""
    if value is None or math.isnan(value) or math.isinf(value):
        return None
    return round(float(value), digits)
