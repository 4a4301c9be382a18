"""A file on the life of the equipment: years, use, what lasts how long, prices; and its reading.

Each value stands beside its source: ``{value: 8 years, source: ...}``; one that nobody knows says
``source: invented``.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field, ValidationError

from surge_sim.errors import ScenarioError, echo
from surge_sim.quantity import QuantityError
from surge_sim.scenario.faults import Found, faults_of, known
from surge_sim.scenario.load import shortened
from surge_sim.scenario.quantities import (
    AS_FAR_AS_KNOWN,
    Count,
    FieldError,
    Label,
    Money,
    Section,
    Share,
    Title,
    quantity,
)
from surge_sim.scenario.yaml_text import Tree, tree_of_file
from surge_sim.units import number_text

#: so many years ahead at most, and so many costs of a kind of their own
MOST_YEARS, MOST_COSTS = 40, 20
_MOST_SOURCE = 600
# years and numbers per year are no times of a surge, so they are no seconds
_YEARS = re.compile(r"(\d{1,6}(?:\.\d{0,6})?) *years?")
_PER_YEAR = re.compile(r"(\d{1,9}(?:\.\d{0,6})?) *(?:per|/) *year")
_OLDEST_YEARS = 100


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
        f"It must be a number of years, {_OLDEST_YEARS} at most.", "Write a number and `years`",
        "3 years",
    )  # fmt: skip
    years = _read(raw, _YEARS, error)
    if years > _OLDEST_YEARS:
        raise error
    return years


def parse_years(raw: Any) -> float:
    """Read years above 0, such as ``8 years``."""
    error = QuantityError(
        f"It must be a number of years above 0, {_OLDEST_YEARS} at most.",
        "Write a number and `years`", "8 years",
    )  # fmt: skip
    years = _read(raw, _YEARS, error)
    if not 0 < years <= _OLDEST_YEARS:
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
    large_hood: Annotated[Price, _ASKED] | None = None
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


@dataclass(frozen=True, eq=False, repr=False)
class LifeInputs:
    """A checked file on the life of the equipment."""

    path: Path
    sha256: str
    file: LifeFile
    #: the very bytes, for the copy beside results
    data: bytes
    #: for the places of faults that come out with the scenario only
    tree: Tree = field(repr=False)


def load_life(path: str | Path) -> LifeInputs:
    """Read a file on the life of the equipment.

    Parameters
    ----------
    path : str or Path
        A YAML file; ``surge-sim new --life FILE`` writes one.

    Raises
    ------
    ScenarioError
        With every fault that was found.
    """
    tree, data, faults = tree_of_file(str(path), "a life", LifeFile.starter)
    faults += shortened(tree)
    try:
        file = LifeFile.model_validate(tree.root)
    except ValidationError as error:
        faults += faults_of(error, tree, tree.root, LifeFile)
        file = LifeFile.model_validate(tree.root, context=AS_FAR_AS_KNOWN)
    with known:
        faults += [tree.fault(*one) for one in _same_names(file)]
    if faults:
        raise ScenarioError(faults)
    return LifeInputs(Path(path), hashlib.sha256(data).hexdigest(), file, data, tree)


def _same_names(file: LifeFile) -> Iterator[Found]:
    """Costs of each year have different names."""
    names: list[str] = []
    for number, one in enumerate(file.yearly):
        with known:
            name = one.name.strip().lower()
            if name in names:
                found = f"is '{echo(one.name)}' again"
                yield Found(("yearly", number, "name"), found, "Give each its own name.")
            names.append(name)
