"""Years, and numbers per year: times that are no times of a surge, so they are no seconds."""

from __future__ import annotations

import re
from typing import Annotated, Any

from surge_sim.quantity import QuantityError
from surge_sim.scenario.quantities import quantity
from surge_sim.units import number_text

_YEARS = re.compile(r"(\d{1,6}(?:\.\d{0,6})?) *years?")
_PER_YEAR = re.compile(r"(\d{1,9}(?:\.\d{0,6})?) *(?:per|/) *year")
_MOST_YEARS = 100


def _read(raw: Any, pattern: re.Pattern[str], error: QuantityError) -> float:
    """Read text of a form; a number comes from code and is taken as it is."""
    if isinstance(raw, int | float) and not isinstance(raw, bool) and raw >= 0:
        return float(raw)
    found = pattern.fullmatch(raw.strip()) if isinstance(raw, str) else None
    if found is None:
        raise error
    return float(found[1])


def parse_age(raw: Any) -> float:
    """Read a number of years, such as ``3 years`` or ``0 years``."""
    error = QuantityError(
        f"It must be a number of years, {_MOST_YEARS} at most.", "Write a number and `years`",
        "3 years",
    )  # fmt: skip
    years = _read(raw, _YEARS, error)
    if years > _MOST_YEARS:
        raise error
    return years


def parse_years(raw: Any) -> float:
    """Read years above 0, such as ``8 years``."""
    error = QuantityError(
        f"It must be a number of years above 0, {_MOST_YEARS} at most.",
        "Write a number and `years`", "8 years",
    )  # fmt: skip
    years = _read(raw, _YEARS, error)
    if not 0 < years <= _MOST_YEARS:
        raise error
    return years


def parse_per_year(raw: Any) -> float:
    """Read a rate, such as ``0.5 per year`` [per year]."""
    error = QuantityError(
        "It must be a number per year, 0 or more.", "Write a number and `per year`", "0.5 per year"
    )
    return _read(raw, _PER_YEAR, error)


def years_text(years: float) -> str:
    """Write years the way a file has them."""
    return f"{number_text(years)} {'year' if years == 1 else 'years'}"


def per_year_text(rate: float) -> str:
    """Write a rate per year the way a file has it."""
    return f"{number_text(rate)} per year"


#: Years above 0, written like ``8 years``.
Years = Annotated[float, *quantity("years", parse_years, years_text)]
#: Years, which may be none.
Age = Annotated[float, *quantity("years", parse_age, years_text)]
#: Number per year, written like ``0.5 per year``.
PerYear = Annotated[float, *quantity("per_year", parse_per_year, per_year_text)]
