"""Numbers and times as they are printed: as many digits as mean something, never 100 % that is not.

The one place where an answer rounds.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Any

from surge_sim.units import DAY_S

if TYPE_CHECKING:
    from surge_sim.statistics.intervals import Interval

#: what stands where there is no number
NONE = "-"
#: a limit that is nearer to the share that is asked for gets decimals
_NEAR = 0.01


def percent(share: float | None, known_to: float | None = None) -> str:
    """Write a share: ``97.3 %``; close to 0 or 100 % with more digits, and never as 0 or 100 %
    unless it is exactly that.

    Parameters
    ----------
    share : float, optional
        From 0 to 1.
    known_to : float, optional
        Half the width of its interval: where that is 10 % or more, ``97 %`` is enough.
    """  # noqa: D205
    if share is None or math.isnan(share):
        return NONE
    return f"{percent_number(share, known_to)} %"


def percent_number(share: float, known_to: float | None = None) -> str:
    """Write a share in per cent without the sign; see :func:`percent`."""
    if share in (0.0, 1.0):
        return str(round(100 * share))
    from_edge = min(share, 1.0 - share)
    if known_to is not None and known_to >= 0.1 and from_edge >= 0.01:
        return f"{100 * share:.0f}"
    for digits in (1, 2):
        shown = round(100 * share, digits)
        if from_edge >= 0.01 or 0.0 < shown < 100.0:
            return f"{shown:.{digits}f}"
    return "under 0.01" if share < 0.5 else "over 99.99"


def with_minus(text: str) -> str:
    """Write the minus sign of a number as such, not as a hyphen, for tables on paper."""
    return text.replace("-", "\u2212")


def half_width(interval: Interval) -> float | None:
    """Return half the width of an interval; None without limits."""
    if interval.low is None or interval.high is None:
        return None
    return (interval.high - interval.low) / 2


def limit_number(limit: float, asked: float) -> str:
    """Write a limit of a share in per cent: ``89.9``; never what is asked for: ``over 90``."""
    if abs(limit - asked) >= _NEAR or limit in (0.0, 1.0, asked):
        return percent_number(limit, 0.1)
    shown = f"{100 * limit:.1f}"
    # 99.96 must not be written as 100.0, nor 0.04 as 0.0
    if float(shown) not in (0.0, 100.0, round(100 * asked, 9)):
        return shown
    if float(shown) != round(100 * asked, 9):
        return percent_number(limit)
    return f"{'over' if limit > asked else 'under'} {100 * asked:g}"


def percent_range(interval: Interval, asked: float | None = None) -> str:
    """Write the limits of a share: ``96.1 to 98.0 %``; empty without limits.

    ``asked``: the share that is asked for, if one is; see :func:`percent_near`.
    """
    if interval.low is None or interval.high is None:
        return ""
    known_to = half_width(interval)
    low, high = (percent_near(one, asked, known_to) for one in (interval.low, interval.high))
    return f"{low} to {high} %"


def percent_near(share: float, asked: float | None, known_to: float | None = None) -> str:
    """Write a share in per cent; near the share that is asked for, never as that share itself.

    See :func:`limit_number`.
    """
    if asked is None or abs(share - asked) >= _NEAR:
        return percent_number(share, known_to)
    return limit_number(share, asked)


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


def signed(value: float) -> str:
    """Write a change of a mean count with its sign: ``+12.4``."""
    return with_minus(f"{'+' * (value > 0)}{number(value)}")


def three_digits(value: float) -> str:
    """Write a number with its first three digits: ``1,160`` for 1,155.4."""
    # a number below 1 has two decimals and is rounded once: 0.1553 is 0.16, not 0.155 and then 0.15
    return number(value if abs(value) < 1 else float(f"{value:.3g}"))


def one_decimal(value: float) -> str:
    """Write a number with one decimal, a whole one without: ``6.1``, ``6``."""
    return f"{value:.1f}".removesuffix(".0")


def counted(count: int, one: str, many: str = "") -> str:
    """Write a number of things: ``1 kit``, ``1,200 kits``, ``2 batteries``."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def listed(words: Sequence[str]) -> str:
    """Return one or more words as a list in a sentence: ``a, b and c``."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if words[1:] else words)


def interval_numbers(interval: Interval) -> tuple[str, str]:
    """Write a mean count with three digits, and its limits: ``136``, ``80 to 340``.

    The last digit of a limit is at least a hundredth of half the interval's width; more would be
    noise. Without limits, or where they cannot be told from one another, it is written alone.
    """
    half = half_width(interval)
    estimate = interval.estimate
    if estimate is None or not half:
        return number(estimate), ""
    last = math.floor(math.log10(half)) - 1
    size = abs(estimate)
    digits = min(-last, 2 if size < 9.995 else 1 if size < 99.95 else 0)
    low, high = (_to_digit(value, digits) for value in interval[1:] if value is not None)
    return three_digits(estimate), f"{low} to {high}" if low != high else ""


def _to_digit(value: float, digits: int) -> str:
    """Round to so many decimals (negative: to tens, hundreds ...); never to 0 what is not."""
    rounded = round(value, digits)
    if rounded == 0.0:
        return "0" if value == 0.0 else number(value)
    return f"{rounded:,.{max(digits, 0)}f}"


def about(seconds: float, longest: str = "d") -> str:
    """Say a length of time with two or three digits, in `longest` units at most: ``6.1 min``."""
    for size, unit, least in ((86_400, "d", 5 * 86_400), (3_600, "h", 7_200), (60, "min", 60)):
        if seconds >= least and (unit != "d" or longest == "d"):
            value = seconds / size
            return f"{one_decimal(value) if value < 20 else f'{value:,.0f}'} {unit}"
    return f"{seconds:.0f} s"


def moment_words(start: datetime, after_s: int) -> str:
    """Say a moment by the day of the surge and the calendar: ``day 3 (Wed 2031-01-08 18:00)``."""
    moment = start + timedelta(seconds=after_s)
    return f"day {after_s // DAY_S + 1} ({moment:%a} {moment:%Y-%m-%d %H:%M})"


def date_of_day(start: datetime, day: int) -> date:
    """Return the date on which a day of the surge begins; days are numbered from 1."""
    return (start + timedelta(days=day - 1)).date()


def csv_number(value: Any) -> str:
    """Write a number for further work: six significant digits, all those before the point.

    Plain as a rule, since ``0.00000228`` can be read where ``2.28e-06`` is overlooked.
    """
    if not math.isfinite(value):
        return str(value)
    if abs(value) >= 1e5:
        return f"{value:.0f}"
    if 0 < abs(value) < 1e-8:
        return f"{value:.6g}"
    digits = 6 if not value else 5 - math.floor(math.log10(abs(value)))
    plain = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if plain in ("", "-", "-0") else plain


def for_json(value: float | None, digits: int) -> float | None:
    """Round for JSON, which knows no nan."""
    if value is None or math.isnan(value) or math.isinf(value):
        return None
    return round(float(value), digits)
