"""A number with its kind, and what is said of one that cannot be used."""

from __future__ import annotations

import re
from typing import NamedTuple

#: groups of three digits behind points: thousands in some countries, decimals in others
_GROUPED = re.compile(r"([+-]?)([1-9]\d{0,2}(?:\.\d{3})+)")


class QuantityError(ValueError):
    """A quantity that cannot be used: what it must be, and how it is written."""

    def __init__(self, must: str, write: str, example: str) -> None:
        super().__init__(must)
        self.must = must
        self.write = write
        self.example = example

    def right(self, key: str = "", example: str = "") -> str:
        """Say what would be right in a field called `key`."""
        written = f"{key}: {example or self.example}" if key else example or self.example
        return f"{self.must}\n  {self.write}, for example `{written}`."


class TwoReadings(QuantityError):
    """A number that is read differently elsewhere: ``1.400`` is 1400 or 1.4."""

    def __init__(self, readings: list[str]) -> None:
        write = f"Write {' or '.join(readings)}"
        super().__init__(f"Is it {' or '.join(readings)}?", write, readings[0])
        self.readings = readings

    def right(self, key: str = "", example: str = "") -> str:
        """Ask which reading is meant; the field's own example is of no help here."""
        named = [f"`{key}: {one}`" if key else f"`{one}`" for one in self.readings]
        return (
            f"{self.must} A point parts thousands in some countries and decimals in others.\n"
            f"  Write {' or '.join(named)}."
        )


def ask_which(text: str) -> None:
    """Refuse a price or count that is read differently elsewhere, such as ``1.400``."""
    found = _GROUPED.fullmatch(text.strip())
    if found is None:
        return
    sign, digits = found.groups()
    readings = [sign + digits.replace(".", "")]
    if digits.count(".") == 1:
        decimal = digits.rstrip("0").rstrip(".")
        # three decimals that matter would be asked about again
        readings.append(sign + (decimal if decimal[-4:-3] != "." else f"{decimal}0"))
    raise TwoReadings(readings)


def factor_error() -> QuantityError:
    """Say what a factor must be."""
    return QuantityError(
        "It must be a factor in per cent, from 0 % to 100,000 %.",
        "`150 %` and `+50 %` are half as much more, `50 %` and `-50 %` are half as much. Write one",
        "150 %",
    )


def rate_error(unit: str, must: str = "") -> QuantityError:
    """Say what a rate must be; `unit` is ``h`` or ``day``."""
    write, example = "Write a number and `per h`", "12 per h"
    if unit == "day":
        write, example = f"{write}, `per day` or `per week`", "4 per day"
    return QuantityError(must or "It must be a number of events per time.", write, example)


class Quantity(NamedTuple):
    """A number that a range gave: its kind and its value inside.

    Kinds are ``time`` [s], ``share`` [0..1], ``factor`` (written with a sign), ``rate`` [per day],
    ``flow`` [L/min], ``number``.
    """

    kind: str
    value: float
