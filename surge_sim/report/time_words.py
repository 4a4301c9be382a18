"""Lengths of time and how they vary, in plain words."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from surge_sim.demand.distributions import mean_s
from surge_sim.scenario.spread import TimeSpread
from surge_sim.units import DAY_S, duration_text, share_text


def about(seconds: float, longest: str = "d") -> str:
    """Say a length of time with two or three digits, in `longest` units at most: ``6.1 min``."""
    for size, unit, least in ((86_400, "d", 5 * 86_400), (3_600, "h", 7_200), (60, "min", 60)):
        if seconds >= least and (unit != "d" or longest == "d"):
            value = seconds / size
            return (
                f"{value:.1f}".removesuffix(".0") + f" {unit}"
                if value < 20
                else (f"{value:,.0f} {unit}")
            )
    return f"{seconds:.0f} s"


def moment_words(start: datetime, after_s: int) -> str:
    """Say a moment by the day of the surge and the calendar: ``day 3 (Wed 2031-01-08 18:00)``."""
    moment = start + timedelta(seconds=after_s)
    return f"day {after_s // DAY_S + 1} ({moment:%a} {moment:%Y-%m-%d %H:%M})"


def date_of_day(start: datetime, day: int) -> date:
    """Return the date on which a day of the surge begins; days are numbered from 1."""
    return (start + timedelta(days=day - 1)).date()


def spread_words(spread: TimeSpread, longest: str = "d") -> str:
    """Say how a time varies."""
    if spread.shape == "fixed":
        fixed = spread.mean or 0
        return duration_text(fixed) if longest == "d" else about(fixed, longest)
    mean = about(mean_s(spread), longest)
    if spread.values:
        return f"one of {len(spread.values):,} values, mean {mean}"
    if spread.quantiles:
        said = [f"{_quantile(one.p)} {duration_text(one.time_s)}" for one in spread.quantiles]
        return f"{', '.join(said)}, mean {mean}"
    varies = "" if spread.cv is None else f" (standard deviation {share_text(spread.cv)} of it)"
    return f"mean {mean}{varies}"


def _quantile(share: float) -> str:
    """Name a quantile: ``median``, ``90th percentile``, ``97.5th percentile``."""
    if share == 0.5:
        return "median"
    percent = f"{round(100 * share, 4):g}"
    teens = percent[-2:] in ("11", "12", "13")
    ending = (
        "th"
        if teens or "." in percent
        else {"1": "st", "2": "nd", "3": "rd"}.get(percent[-1], "th")
    )
    return f"{percent}{ending} percentile"
