"""What changes during a surge: events that happen, and decisions that are taken."""

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
    Share,
    When,
    YesNo,
)

#: a moment that never comes [s]
NEVER_S = 2**62


class _Change(Section):
    at: When
    """A time after the start, a day and clock time, or a date and clock time."""
    lasts: Duration | None = Field(default=None, gt=0)
    """Missing: for good."""

    @property
    def until(self) -> int:
        """First second after it [s], or NEVER_S."""
        return NEVER_S if self.lasts is None else self.at + self.lasts


class _Event(_Change):
    # an event that is forgotten to end would be a strange surge
    lasts: Duration = Field(gt=0)


class BaysFail(_Event):
    """Some bays, or all, do not work."""

    bays: Count | None = Field(default=None, ge=1)
    """So many bays; batteries in them move to bays that work, or wait for one."""
    chargers: Count | None = Field(default=None, ge=1)
    """So many chargers, each of `prices.bays_per_charger` bays."""


class PowerOutage(BaysFail):
    """No bay charges, and batteries stay in them; or so many bays or chargers do not work."""

    what: Literal["power outage"]


class ChargerFailure(BaysFail):
    """So many bays or chargers do not work."""

    what: Literal["charger failure"]


class CleanersAbsent(_Event):
    """Fewer cleaners, or no central rounds; missing number: none come."""

    what: Literal["cleaning crew absent"]
    cleaners: Count | None = Field(default=None, ge=1)
    shift: ClockTime | None = None
    """Of the crew's shift that begins then, in its hours; missing: of those on duty."""


class ExtraCleaners(_Change):
    """More cleaners than the crew's shifts have."""

    what: Literal["extra cleaners"]
    cleaners: Count = Field(ge=1)
    shift: ClockTime | None = None
    """In the hours of the crew's shift that begins then; missing: the whole time."""


class KitsRecalled(_Event):
    """Kits are taken off the shelf, no more than there are, and come back afterwards.

    A battery, a hood and a tube go with each, or follow when there are any.
    """

    what: Literal["kits recalled"]
    kits: Count = Field(ge=1)


class KitsOnLoan(_Change):
    """Kits, each with a full battery, come from elsewhere and go back afterwards, or stay."""

    what: Literal["kits on loan"]
    kits: Count = Field(ge=1)


class BatteriesOnLoan(_Change):
    """Full batteries come from elsewhere and go back afterwards, or stay."""

    what: Literal["batteries on loan"]
    batteries: Count = Field(ge=1)


class ChargersOnLoan(_Change):
    """Chargers, each of `prices.bays_per_charger` bays, come and go back afterwards, or stay."""

    what: Literal["chargers on loan"]
    chargers: Count = Field(ge=1)


class LateDelivery(_Event):
    """Deliveries due meanwhile come at its end."""

    what: Literal["late delivery"]
    supply: Literal["hoods", "tubes", "prefilters", "main filters", "all"] = "all"


class ExtraPatients(_Event):
    """More patients than usual come: the rate of arrivals is multiplied.

    ``150 %`` and ``+50 %`` are half as many more; less than 100 % would be fewer patients.
    """

    what: Literal["extra patients"]
    arrivals: Increase


class DefectiveFilters(_Event):
    """Filters fitted meanwhile have only a share of their life."""

    what: Literal["defective filter lot"]
    life: Factor
    filters: Literal["prefilters", "main filters", "both"] = "prefilters"


class Reserve(_Change):
    """Another number of complete kits is kept for urgent entries."""

    what: Literal["reserve for urgent entries"]
    kits: Count


class KitPolicy(_Change):
    """Kits are handed out for each entry, or kept by named wearers for the shift."""

    what: Literal["kit policy"]
    kit: Literal["per entry", "held for a shift"]


class PartialCharge(_Change):
    """Batteries may, or may not, be reissued before they are full."""

    what: Literal["partial charge at reissue"]
    allowed: YesNo


class MaximumWait(_Change):
    """Entries that become due meanwhile leave the queue unserved after this wait.

    They count as late.
    """

    what: Literal["maximum wait"]
    wait: Duration
    entries: Literal["routine", "urgent", "all"] = "all"


class CareBundled(_Change):
    """A share of the routine entries that become due meanwhile is done with others."""

    what: Literal["care bundled"]
    dropped: Share
    """Share of the routine entries that need no visit of their own."""


class EntriesPostponed(_Change):
    """Routine entries that become due meanwhile become due later."""

    what: Literal["routine entries postponed"]
    by: Duration = Field(gt=0)
    share: Share = 1.0
    """Share of the routine entries that are postponed."""


def _what(raw: Any) -> Any:
    """Say which change it is; text and None are none."""
    if raw is UNKNOWN:
        return None
    what = raw.get("what") if isinstance(raw, dict) else getattr(raw, "what", None)
    return what if isinstance(what, str) else None


# a function, for `what` itself is read like any other field
Change = Annotated[
    Annotated[PowerOutage, Tag("power outage")]
    | Annotated[ChargerFailure, Tag("charger failure")]
    | Annotated[CleanersAbsent, Tag("cleaning crew absent")]
    | Annotated[ExtraCleaners, Tag("extra cleaners")]
    | Annotated[KitsRecalled, Tag("kits recalled")]
    | Annotated[KitsOnLoan, Tag("kits on loan")]
    | Annotated[BatteriesOnLoan, Tag("batteries on loan")]
    | Annotated[ChargersOnLoan, Tag("chargers on loan")]
    | Annotated[LateDelivery, Tag("late delivery")]
    | Annotated[ExtraPatients, Tag("extra patients")]
    | Annotated[DefectiveFilters, Tag("defective filter lot")]
    | Annotated[Reserve, Tag("reserve for urgent entries")]
    | Annotated[KitPolicy, Tag("kit policy")]
    | Annotated[PartialCharge, Tag("partial charge at reissue")]
    | Annotated[MaximumWait, Tag("maximum wait")]
    | Annotated[CareBundled, Tag("care bundled")]
    | Annotated[EntriesPostponed, Tag("routine entries postponed")],
    Discriminator(_what),
]

#: names of former releases, and what they are called now
RENAMED = {
    "disruptions": "timeline",
    "power cut": "power outage",
    "cleaners absent": "cleaning crew absent",
    "kits withdrawn": "kits recalled",
    "kits borrowed": "kits on loan",
    "delivery missed": "late delivery",
    "bad filters": "defective filter lot",
}
