"""What changes during a surge: events that happen, decisions that are taken, and their moments.

A moment is a time after the start, a date and clock time, or a day of the surge and a clock time.
Day 1 begins with the surge, and each day lasts 24 hours, as in every table by day: in a surge that
begins at 07:00, `day 3, 18:00` is 59 hours after the start, and `day 3, 06:00` is an hour before
day 4 begins.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.patients import KitKept
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
from surge_sim.scenario.yaml_text import Path, Tree
from surge_sim.units import NEVER_S


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


class ChangeOfEntries(_Change):
    """Changes entries that were drawn, before any engine plays them."""


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
    supply: Literal["hoods", "tubes", "prefilters", "HE filters", "large hoods", "all"] = "all"


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
    filters: Literal["prefilters", "HE filters", "both"] = "prefilters"


class Reserve(_Change):
    """Another number of complete kits is kept for urgent entries."""

    what: Literal["reserve for urgent entries"]
    kits: Count


class KitPolicy(_Change):
    """Kits are issued for each entry, or kept by named wearers for the shift or a round."""

    what: Literal["kit policy"]
    kit: KitKept


class PartialCharge(_Change):
    """Batteries may, or may not, be reissued before they are full."""

    what: Literal["partial charge at reissue"]
    allowed: YesNo


class MaximumWait(ChangeOfEntries):
    """Entries that become due meanwhile leave the queue unserved after this wait.

    They count as late.
    """

    what: Literal["maximum wait"]
    wait: Duration
    entries: Literal["routine", "urgent", "all"] = "all"


class CareBundled(ChangeOfEntries):
    """A share of the routine entries that become due meanwhile is done with others."""

    what: Literal["care bundled"]
    dropped: Share
    """Share of the routine entries that need no visit of their own."""


class EntriesPostponed(ChangeOfEntries):
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


_DATE = re.compile(r"(\d{4}-\d{1,2}-\d{1,2})(?:[ T]+(\d{1,2}:\d{2}))?")
_DAY = re.compile(r"[Dd]ay +(\d{1,4})(?:(?:, *| at +| +)(\d{1,2}:\d{2}))?")
#: what begins so is meant as a date or day, and what follows must be right
_MEANT = re.compile(r"\d{4}-|[Dd]ay\b|\d{1,2}[./]\d{1,2}[./]\d{2,4}\b")
_WAYS = (
    "Write `day 6, 18:00`, a date like `2031-01-11 18:00`, or a time after the start like `5 d`."
)


def with_times_after_start(tree: Tree) -> tuple[dict[str, Any], list[Fault]]:
    """Return the root with every `at:` as a time after the start; UNKNOWN where one is faulty.

    Parameters
    ----------
    tree : Tree
        The scenario file as it was read.
    """
    root = tree.root
    first = _read(units.parse_moment, root.get("start"))
    horizon_s = _read(units.parse_duration, root.get("horizon"))
    return times_in(tree, ("arrivals", "timeline"), first, horizon_s)


def times_in(
    tree: Tree, sections: Sequence[str], first: datetime | None, horizon_s: int | None
) -> tuple[dict[str, Any], list[Fault]]:
    """Do the same for some sections of a surge that begins and lasts so; None: not known."""
    root, faults = tree.root, list[Fault]()

    def read(raw: str, path: Path) -> Any:
        if first is None:
            return UNKNOWN  # a fault of the start, told elsewhere
        at_s = seconds_after(raw.strip(), first)
        if at_s is None:
            found = f"is '{echo(raw)}'"
            right = f"It must be a day of the surge, from 1, or a date, year-month-day.\n  {_WAYS}"
        elif at_s < 0:
            found = f"is '{echo(raw)}', before the surge begins"
            right = f"The surge begins on {units.moment_text(first)}, with day 1.\n  {_WAYS}"
        elif horizon_s is not None and at_s >= horizon_s:
            end = first + timedelta(seconds=horizon_s)
            found = f"is '{echo(raw)}', after the surge ends"
            right = f"The surge ends on {units.moment_text(end)}: write an earlier time."
        else:
            return units.duration_text(at_s)
        faults.append(tree.fault(path, found, right))
        return UNKNOWN

    def look(raw: Any, path: Path) -> Any:
        if isinstance(raw, dict):
            return {key: look(one, (*path, key)) for key, one in raw.items()}
        if isinstance(raw, list):
            return [look(one, (*path, number)) for number, one in enumerate(raw)]
        meant = "at" in path and isinstance(raw, str) and _MEANT.match(raw.strip())
        return read(raw, path) if meant else raw

    timed: dict[str, Any] = {key: look(root[key], (key,)) for key in sections if key in root}
    return {**root, **timed}, faults


def _read(parse: Callable[[Any], Any], raw: Any) -> Any:
    """Read a value; None where it is faulty, which is told elsewhere."""
    try:
        return parse(raw)
    except units.QuantityError:
        return None


#: what brings more of an item; each kit comes with a battery
_BRINGS = {
    "kits": (KitsOnLoan,), "batteries": (KitsOnLoan, BatteriesOnLoan), "bays": (ChargersOnLoan,)
}  # fmt: skip


def lent(name: str, changes: Sequence[Change]) -> bool:
    """Return whether kits, batteries or bays come on loan."""
    return any(isinstance(one, _BRINGS[name]) for one in changes)


def seconds_after(text: str, start: datetime) -> int | None:
    """Return how long after the start a day or date is [s], below 0 before it; None if none."""
    date, day = _DATE.fullmatch(text), _DAY.fullmatch(text)
    try:
        if date is not None:
            midnight = datetime.strptime(date[1], "%Y-%m-%d")
            clock_s = units.parse_clock(date[2] or "00:00")
            return round((midnight - start).total_seconds()) + clock_s
        if day is None or day[1].strip("0") == "":
            return None
        begins_s = (int(day[1]) - 1) * units.DAY_S
        if day[2] is None:
            return begins_s
        after_s = units.parse_clock(day[2]) - units.clock_at_start_s(start)
        # before the clock time of the start a day has the next date already
        return begins_s + after_s + (units.DAY_S if after_s < 0 else 0)
    except (units.QuantityError, ValueError):
        return None
