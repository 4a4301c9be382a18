"""Quantities: text with a unit outside, plain numbers inside. Only this module converts.

Text comes from scenario files, where every scalar is kept as text. Code may hand over numbers
that are inside already (whole seconds, shares from 0 to 1 ...), and the ranges of a scenario
hand over a :class:`Quantity`.
"""

from __future__ import annotations

import math
import re
from datetime import datetime
from decimal import Decimal
from functools import lru_cache
from typing import Any

from surge_sim.quantity import Quantity as Quantity
from surge_sim.quantity import QuantityError as QuantityError
from surge_sim.quantity import ask_which, factor_error, rate_error

MINUTE_S, HOUR_S, DAY_S, WEEK_S = 60, 3_600, 86_400, 604_800
#: a moment that never comes [s]
NEVER_S = 2**62
#: nothing in a surge lasts longer [s]
LONGEST_S = 3_653 * DAY_S
#: largest count or plain number that means anything here
LARGEST = 1_000_000_000
#: a quantity has no more characters than this
LONGEST_TEXT = 400

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)"
TIME_UNITS = {
    **dict.fromkeys(("s", "sec", "second", "seconds"), 1),
    **dict.fromkeys(("min", "minute", "minutes"), MINUTE_S),
    **dict.fromkeys(("h", "hour", "hours"), HOUR_S),
    **dict.fromkeys(("d", "day", "days"), DAY_S),
    **dict.fromkeys(("week", "weeks"), WEEK_S),
}
_TIME_PART = re.compile(rf"\s*({_NUMBER})\s*([A-Za-z]+)")
_SHARE = re.compile(rf"({_NUMBER})\s*%")
_RATE = re.compile(rf"({_NUMBER})\s*(?:per|/)\s*([A-Za-z]+)")
_FLOW = re.compile(rf"({_NUMBER})\s*[Ll]\s*(?:/|per)\s*min")
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})")
_PLAIN = re.compile(_NUMBER)
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}


def _time_error(must: str = "It must be a length of time.") -> QuantityError:
    return QuantityError(must, "Write a number and a unit (s, min, h, d or weeks)", "25 min")


def _outside(raw: Any, kind: str, error: QuantityError) -> float | None:
    """Take a number that is inside already; None for text."""
    if isinstance(raw, str):
        if len(raw) > LONGEST_TEXT:
            raise error  # no number needs so many signs, and reading them takes long
        return None
    if isinstance(raw, Quantity):
        if raw.kind != kind:
            raise error
        return raw.value
    if isinstance(raw, bool) or not isinstance(raw, int | float) or not math.isfinite(raw):
        raise error
    return raw


def _checked_time(seconds: Decimal | float, drawn: bool = False) -> int:
    """Round a time [s]; one that a range gave may come to 0."""
    whole = round(seconds)
    if seconds < 0:
        raise _time_error("A time must not be negative.")
    if seconds > LONGEST_S:
        raise _time_error("It must be 10 years at most.")
    if seconds > 0 and whole == 0 and not drawn:
        raise _time_error("Times are whole seconds; this is less than one.")
    return whole


@lru_cache(maxsize=4096)
def _time_of_text(text: str) -> int:
    parts, at = [], 0
    while at < len(text):
        part = _TIME_PART.match(text, at)
        if part is None:
            raise _time_error()
        if part[2] not in TIME_UNITS:
            unit = part[2].lower().removesuffix("s")
            must = f"It must be a length of time: the unit is `{unit}`, not `{part[2]}`."
            raise _time_error(must) if unit in TIME_UNITS else _time_error()
        parts.append((Decimal(part[1]), TIME_UNITS[part[2]]))
        at = part.end()
    sizes = [unit for _, unit in parts]
    if not parts or sizes != sorted(set(sizes), reverse=True):
        raise _time_error()
    if len(parts) > 1 and any(number < 0 for number, _ in parts):
        raise _time_error("A time must not be negative.")
    return _checked_time(sum((number * unit for number, unit in parts), Decimal(0)))


def parse_duration(raw: Any) -> int:
    """Read a length of time, such as ``25 min``, ``1 h 30 min``, ``2 d`` or ``3 weeks`` [s].

    Rounded to whole seconds; 10 years at most.
    """
    inside = _outside(raw, "time", _time_error())
    if inside is None:
        return _time_of_text(raw.strip())
    return _checked_time(inside, drawn=isinstance(raw, Quantity))


def parse_when(raw: Any) -> int:
    """Read a time after the start [s], such as ``5 d``; days and dates are brought to it before."""
    try:
        return parse_duration(raw)
    except QuantityError as error:
        must = error.must if "negative" in error.must else "It must be a time of the surge."
        write = "Write `day 6, 18:00`, a date like `2031-01-11 18:00`, or a time after the start"
        raise QuantityError(must, write, "5 d") from None


def _share_error(most: str, write: str = "a number with `%`") -> QuantityError:
    return QuantityError(f"It must be a share {most}.", f"Write {write}", "95 %")


@lru_cache(maxsize=4096)
def _share_of_text(text: str) -> float:
    found = _SHARE.fullmatch(text)
    if found is None:
        raise _share_error("in per cent")
    if text[0] in "+-":
        raise _share_error("of the whole, and no change of it", "a number and `%`, no sign")
    return float(Decimal(found[1]) / 100)


def _share(raw: Any, most: float, error: QuantityError) -> float:
    inside = _outside(raw, "share", error)
    share = _share_of_text(raw.strip()) if inside is None else inside
    if not 0 <= share <= most:
        raise error
    return share


def parse_share(raw: Any) -> float:
    """Read a share from 0 to 100 %, such as ``95 %``, as a number from 0 to 1."""
    return _share(raw, 1, _share_error("from 0 % to 100 %"))


def parse_percent(raw: Any) -> float:
    """Read a share that may exceed 100 %, such as ``150 %``, as a number (1.5)."""
    return _share(raw, 1_000, _share_error("of 0 % or more (up to 100,000 %)"))


@lru_cache(maxsize=4096)
def _factor_of_text(text: str) -> float:
    found = _SHARE.fullmatch(text)
    if found is None:
        raise factor_error()
    change = text[0] in "+-"
    return float((Decimal(found[1]) + (100 if change else 0)) / 100)


def parse_factor(raw: Any) -> float:
    """Read a factor: ``150 %`` and ``+50 %`` are 1.5, ``50 %`` and ``-50 %`` are 0.5."""
    if isinstance(raw, Quantity) and raw.kind == "factor":
        raw = Quantity("share", raw.value)
    inside = _outside(raw, "share", factor_error())
    factor = _factor_of_text(raw.strip()) if inside is None else inside
    if not 0 <= factor <= 1_000:
        raise factor_error()
    return factor


def parse_increase(raw: Any) -> float:
    """Read a factor of 1 or more: ``150 %`` and ``+50 %`` are half as much more."""
    factor = parse_factor(raw)
    if factor < 1:
        raise QuantityError(
            "It must be 100 % or more: `50 %` would be half as many as usual.",
            "For half as many more write `150 %` or `+50 %`",
            "150 %",
        )
    return factor


@lru_cache(maxsize=4096)
def _rate_of_text(text: str, unit: str) -> float:
    found = _RATE.fullmatch(text)
    size = TIME_UNITS.get(found[2]) if found else None
    if found is None or size not in (HOUR_S, DAY_S, WEEK_S):
        raise rate_error(unit)
    return float(Decimal(found[1]) * DAY_S / size)


def _rate(raw: Any, unit: str) -> float:
    inside = _outside(raw, "rate", rate_error(unit))
    rate = _rate_of_text(raw.strip(), unit) if inside is None else inside
    if not 0 <= rate <= 1_000_000:
        raise rate_error(unit, "A rate must be 0 or more, and 1,000,000 per day at most.")
    return rate


def parse_rate_per_day(raw: Any) -> float:
    """Read a rate, such as ``4 per day``, ``0.5 per h`` or ``3 per week`` [per day]."""
    return _rate(raw, "day")


def parse_rate_per_hour(raw: Any) -> float:
    """Read a rate, such as ``12 per h`` [per hour]; a plain number from code is per hour."""
    if not isinstance(raw, str | Quantity):
        raw = 24 * (_outside(raw, "rate", rate_error("h")) or 0.0)
    return _rate(raw, "h") / 24


def parse_flow(raw: Any) -> float:
    """Read a flow of air, such as ``170 L/min`` [L/min]."""
    error = QuantityError(
        "It must be a flow of air from 0 to 10,000 L/min.",
        "Write a number with `L/min`",
        "170 L/min",
    )
    flow = _outside(raw, "flow", error)
    if flow is None:
        found = _FLOW.fullmatch(raw.strip())
        if found is None:
            raise error
        flow = float(found[1])
    if not 0 <= flow <= 10_000:
        raise error
    return flow


def parse_clock(raw: Any) -> int:
    """Read a time of day from ``00:00`` to ``24:00`` [s after midnight]."""
    error = QuantityError(
        "It must be a time of day from 00:00 to 24:00.", "Write hours and minutes", "07:00"
    )
    if isinstance(raw, str):
        found = _CLOCK.fullmatch(raw.strip())
        if found is None or int(found[2]) > 59:
            raise error
        raw = int(found[1]) * HOUR_S + int(found[2]) * MINUTE_S
    if isinstance(raw, bool) or not isinstance(raw, int) or not 0 <= raw <= DAY_S:
        raise error
    return raw


def parse_moment(raw: Any) -> datetime:
    """Read a date, or a date and a time of day, such as ``2031-01-06 07:00``, without a zone."""
    error = QuantityError(
        "It must be a date (and a time of day), from 1900 to 2199, without a time zone.",
        "Write year-month-day",
        "2031-01-06 07:00",
    )
    if isinstance(raw, str):
        try:
            raw = datetime.fromisoformat(raw.strip())
        except ValueError:
            raise error from None
    if not isinstance(raw, datetime) or raw.tzinfo is not None or not 1900 <= raw.year <= 2199:
        raise error
    return raw.replace(microsecond=0)


def parse_yes_no(raw: Any) -> bool:
    """Read ``yes`` or ``no``."""
    if isinstance(raw, str) and raw.strip().lower() in _YES_NO:
        return _YES_NO[raw.strip().lower()]
    if isinstance(raw, bool):
        return raw
    raise QuantityError("It must be yes or no.", "Write `yes` or `no`", "yes")


def parse_number(raw: Any) -> float:
    """Read a plain number without a unit, such as ``2.5``."""
    error = QuantityError(
        "It must be a plain number, 1,000,000,000 at most.", "Write a number without a unit", "2.5"
    )
    number = _outside(raw, "number", error)
    if number is None:
        if _PLAIN.fullmatch(raw.strip()) is None:
            raise error
        number = float(raw)
    if abs(number) > LARGEST:
        raise error
    return number


def parse_money(raw: Any) -> float:
    """Read an amount of money without its currency; ``1.400`` is asked about."""
    if isinstance(raw, str):
        ask_which(raw)
    return parse_number(raw)


def parse_count(raw: Any, most: int = LARGEST) -> int:
    """Read a whole number from 0 to `most`, such as ``14``; what a range gave is rounded."""
    if isinstance(raw, str):
        ask_which(raw)
    must = f"It must be a whole number from 0 to {most:,}."
    signed = isinstance(raw, str) and raw.strip().startswith("+")  # 4, or 4 more than before?
    error = QuantityError(must, "Write how many in all" if signed else "Write a whole number", "14")
    number = _outside(raw, "number", error)
    if number is None:
        if signed or _PLAIN.fullmatch(raw.strip()) is None:
            raise error
        number = float(raw)
    whole = round(number) if 0 <= number <= most + 1 else -1
    if not 0 <= whole <= most or (whole != number and not isinstance(raw, Quantity)):
        raise error
    return whole


def parse_quantity(text: str) -> Quantity:
    """Read a number whose kind is not known beforehand, for the ends of a range."""
    text = text.strip()
    if len(text) > LONGEST_TEXT:
        raise _time_error()
    ask_which(text)
    if _PLAIN.fullmatch(text):
        return Quantity("number", parse_number(text))
    if "%" in text:
        if text[0] in "+-":
            return Quantity("factor", parse_factor(text))
        return Quantity("share", parse_percent(text))
    if _RATE.fullmatch(text):
        return Quantity("rate", parse_rate_per_day(text))
    if _FLOW.fullmatch(text):
        return Quantity("flow", parse_flow(text))
    return Quantity("time", float(parse_duration(text)))


def number_text(number: float) -> str:
    """Write a plain number without exponent, such that reading it gives it back."""
    text = format(Decimal(repr(float(number))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def duration_text(seconds: int) -> str:
    """Write a length of time in as few units as say it exactly: ``1 h 30 min``, ``68 h``."""
    if seconds == 0:
        return "0 min"
    if seconds % HOUR_S == 0 and seconds % DAY_S and seconds < 5 * DAY_S:
        return f"{seconds // HOUR_S} h"
    if DAY_S < seconds < 5 * DAY_S and seconds % (HOUR_S // 2) == 0 and seconds % DAY_S:
        return f"{number_text(seconds / HOUR_S)} h"
    parts, left = [], seconds
    for size, unit in ((DAY_S, "d"), (HOUR_S, "h"), (MINUTE_S, "min"), (1, "s")):
        if left >= size:
            parts.append(f"{left // size} {unit}")
            left %= size
    return " ".join(parts)


def length_text(seconds: int) -> str:
    """Write the length of something that may take none: ``30 s``, ``no time``."""
    return duration_text(seconds) if seconds else "no time"


def share_text(share: float) -> str:
    """Write a share or factor in per cent: ``95 %``."""
    return f"{number_text(float(Decimal(repr(float(share))) * 100))} %"


def rate_text(per_day: float) -> str:
    """Write a rate [per day]: ``4 per day``."""
    return f"{number_text(per_day)} per day"


def hourly_rate_text(per_hour: float) -> str:
    """Write a rate [per hour]: ``12 per h``."""
    return f"{number_text(per_hour)} per h"


def flow_text(flow: float) -> str:
    """Write a flow [L/min]: ``170 L/min``."""
    return f"{number_text(flow)} L/min"


def clock_at_start_s(start: datetime) -> int:
    """Return the second of the day at which second 0 of a surge falls."""
    return start.hour * HOUR_S + start.minute * MINUTE_S + start.second


def clock_text(seconds: int) -> str:
    """Write a time of day [s after midnight]: ``07:00``."""
    return f"{seconds // HOUR_S:02d}:{seconds % HOUR_S // MINUTE_S:02d}"


def moment_text(moment: datetime) -> str:
    """Write a date and time of day: ``2031-01-06 07:00``."""
    return moment.isoformat(sep=" ", timespec="seconds" if moment.second else "minutes")


def yes_no_text(value: bool) -> str:
    """Write ``yes`` or ``no``."""
    return "yes" if value else "no"
