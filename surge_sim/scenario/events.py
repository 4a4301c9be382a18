"""Disruptions: what goes wrong at a time, for a time."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from surge_sim.scenario.quantities import (
    UNKNOWN,
    ClockTime,
    Count,
    Duration,
    Factor,
    Increase,
    Section,
    When,
)


class _Disruption(Section):
    at: When
    """A time after the start, a day and clock time, or a date and clock time."""
    lasts: Duration = Field(gt=0)


class BaysFail(_Disruption):
    """Some bays, or all, do not work."""

    bays: Count | None = Field(default=None, ge=1)
    """So many bays; batteries in them move to bays that work, or wait for one."""
    chargers: Count | None = Field(default=None, ge=1)
    """So many chargers, each of `prices.bays_per_charger` bays."""


class PowerCut(BaysFail):
    """No bay charges, and batteries stay in them; or so many bays or chargers do not work."""

    what: Literal["power cut"]


class ChargerFailure(BaysFail):
    """So many bays or chargers do not work."""

    what: Literal["charger failure"]


class CleanersAbsent(_Disruption):
    """Fewer cleaners, or no central rounds; missing number: none come."""

    what: Literal["cleaners absent"]
    cleaners: Count | None = Field(default=None, ge=1)
    shift: ClockTime | None = None
    """Of the crew's shift that begins then, in its hours; missing: of those on duty."""


class ExtraCleaners(_Disruption):
    """More cleaners than the crew's shifts have."""

    what: Literal["extra cleaners"]
    cleaners: Count = Field(ge=1)
    shift: ClockTime | None = None
    """In the hours of the crew's shift that begins then; missing: the whole time."""


class KitsWithdrawn(_Disruption):
    """Kits are taken off the shelf, no more than there are, and come back afterwards.

    A battery, a hood and a tube go with each, or follow when there are any.
    """

    what: Literal["kits withdrawn"]
    kits: Count = Field(ge=1)


class KitsBorrowed(_Disruption):
    """Kits (each with a full battery) come from elsewhere and go back afterwards."""

    what: Literal["kits borrowed"]
    kits: Count = Field(ge=1)


class DeliveryMissed(_Disruption):
    """Deliveries due meanwhile come at its end."""

    what: Literal["delivery missed"]
    supply: Literal["hoods", "tubes", "prefilters", "main filters", "all"] = "all"


class ExtraPatients(_Disruption):
    """More patients than usual come: the rate of arrivals is multiplied.

    ``150 %`` and ``+50 %`` are half as many more; less than 100 % would be fewer patients.
    """

    what: Literal["extra patients"]
    arrivals: Increase


class BadFilters(_Disruption):
    """Filters fitted meanwhile have only a share of their life."""

    what: Literal["bad filters"]
    life: Factor
    filters: Literal["prefilters", "main filters", "both"] = "prefilters"


def _what(raw: Any) -> Any:
    """Say which disruption it is; text and None are none."""
    if raw is UNKNOWN:
        return None
    what = raw.get("what") if isinstance(raw, dict) else getattr(raw, "what", None)
    return what if isinstance(what, str) else None


# a function, for `what` itself is read like any other field
Disruption = Annotated[
    Annotated[PowerCut, Tag("power cut")]
    | Annotated[ChargerFailure, Tag("charger failure")]
    | Annotated[CleanersAbsent, Tag("cleaners absent")]
    | Annotated[ExtraCleaners, Tag("extra cleaners")]
    | Annotated[KitsWithdrawn, Tag("kits withdrawn")]
    | Annotated[KitsBorrowed, Tag("kits borrowed")]
    | Annotated[DeliveryMissed, Tag("delivery missed")]
    | Annotated[ExtraPatients, Tag("extra patients")]
    | Annotated[BadFilters, Tag("bad filters")],
    Discriminator(_what),
]
