"""What a file on the life of the equipment says: years, use, what lasts how long, prices.

Each value stands beside its source: ``{value: 8 years, source: ...}``; one that nobody knows says
``source: invented``.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from surge_sim.scenario.life_units import Age, PerYear, Years
from surge_sim.scenario.quantities import (
    Count,
    FieldError,
    Label,
    Money,
    Section,
    Share,
    Title,
)

#: so many years ahead at most, and so many costs of a kind of their own
MOST_YEARS, MOST_COSTS = 40, 20
_MOST_SOURCE = 600


def _some_source(text: str) -> str:
    if not text.strip() or len(text) > _MOST_SOURCE:
        found = f"is empty, or longer than {_MOST_SOURCE} characters"
        right = "Say where the number comes from; one that is made up says `source: invented`."
        raise FieldError(found, right)
    return " ".join(text.split())


#: Where a number comes from, or that it is invented.
Source = Annotated[str, AfterValidator(_some_source)]


def _whole_years(years: float) -> float:
    if years != int(years) or years > MOST_YEARS:
        right = f"Write whole years, {MOST_YEARS} at most, for example `10 years`."
        raise FieldError("", right)
    return years


class Sourced(Section):
    """A value beside its source."""

    source: Source


def _with_source(raw: Any) -> Any:
    """A value alone lacks its source."""
    if isinstance(raw, str | int | float):
        right = f"Write the value and its source: `{{value: {raw}, source: invented}}`."
        raise FieldError("has no source", right)
    return raw


_ASKED = BeforeValidator(_with_source)


class Horizon(Sourced):
    """How far the case looks ahead."""

    value: Annotated[Years, AfterValidator(_whole_years)]


class Frequency(Sourced):
    """How often something happens in a year."""

    value: PerYear


class Interest(Sourced):
    """What money is discounted at, per year."""

    value: Share


class Price(Sourced):
    """What one costs, in the scenario's currency."""

    value: Annotated[Money, Field(ge=0)]


class Lasting(Sourced):
    """How long a thing lasts until it is replaced."""

    years: Years
    age_in_hand: Age = 0.0
    """Age of those in hand; 0: as new."""


class BatteryLasting(Lasting):
    """A battery is replaced by age or by use, whichever comes first."""

    full_charges: Annotated[Count, Field(ge=1)] | None = None
    """Equivalent full charges; missing: by age alone."""


class Lasts(Section):
    """How long things last; all of one sort alike."""

    kits: Annotated[Lasting, _ASKED]
    batteries: Annotated[BatteryLasting, _ASKED]
    chargers: Annotated[Lasting, _ASKED]


class UnitPrices(Section):
    """What is used up; a part that is missing has its price in the scenario."""

    wipe: Annotated[Price, _ASKED] | None = None
    hood: Annotated[Price, _ASKED] | None = None
    tube: Annotated[Price, _ASKED] | None = None
    prefilter: Annotated[Price, _ASKED] | None = None
    he_filter: Annotated[Price, _ASKED] | None = None
    repair: Annotated[Price, _ASKED] | None = None
    """Of a blower."""


class Labour(Section):
    """An hour of work; what is missing is not counted."""

    cleaning: Annotated[Price, _ASKED] | None = None
    waiting: Annotated[Price, _ASKED] | None = None
    """An hour that somebody waits for a kit; told apart, as nobody is paid for it."""


class YearlyCost(Sourced):
    """What is paid each year: a service contract, a rent."""

    name: Label
    price: Annotated[Money, Field(ge=0)]
    per: Literal["kit", "battery", "charger", "year"]
    """For each kit, battery or charger that there is, or `year`: whatever there is."""


class LifeFile(Section):
    """What it costs to own the equipment over some years."""

    starter: ClassVar[str] = "surge-sim new --life FILE"

    title: Title
    note: str = ""
    years: Annotated[Horizon, _ASKED]
    surges_per_year: Annotated[Frequency, _ASKED]
    """Surges like those of the scenario; on average, so 0.2 per year is one in five years."""
    ordinary_entries: Annotated[Frequency, _ASKED] | None = None
    """Entries with a kit outside surges; missing: none."""
    interest: Annotated[Interest, _ASKED] | None = None
    """For the net present value; missing: none is told."""
    lasts: Lasts
    prices: UnitPrices = UnitPrices()
    labour: Labour = Labour()
    yearly: Annotated[tuple[YearlyCost, ...], Field(max_length=MOST_COSTS)] = ()
