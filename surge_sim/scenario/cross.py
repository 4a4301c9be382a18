"""Checks between fields: what each section needs of the others.

A check that meets a field that is wrong in itself ends there (``with known``); others go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from itertools import pairwise
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.faults import Found, known, nearest
from surge_sim.scenario.schema import CLEANING_NEEDS, Settings
from surge_sim.scenario.spread import TimeSpread, least_of, most_of, typical
from surge_sim.scenario.timeline import (
    BaysFail,
    ChargerFailure,
    CleanersAbsent,
    ExtraCleaners,
    KitPolicy,
)
from surge_sim.scenario.workload import SIZE_CHECKS
from surge_sim.scenario.yaml_text import Path, Tree


def cross_faults(settings: Settings, tree: Tree) -> list[Fault]:
    """Find every fault between fields, as far as each field is right in itself."""
    return [tree.fault(*one) for one in cross_found(settings)]


def cross_found(settings: Settings) -> list[Found]:
    """Find the same by its path in the settings."""
    found: list[Found] = []
    for check in _CHECKS:
        with known:
            for one in check(settings):  # what came before it stops is kept
                found.append(one)
    return found


def _source(settings: Settings) -> Iterator[Found]:
    """There is one source of demand."""
    if settings.arrivals is None and settings.entries is None:
        yield Found(
            ("arrivals",),
            "is missing, and so is `entries`",
            "Say who comes: write a section `arrivals`, or `entries: {from: log.csv}`.",
        )
    if settings.arrivals and settings.entries:
        yield Found(
            ("entries",),
            "stands beside `arrivals`",
            "Keep one of the two: drawn patients, or the unit's own log.",
        )


def _demand(settings: Settings) -> Iterator[Found]:
    """Drawn patients have all that they need."""
    arrivals = settings.arrivals
    if arrivals is None:
        return
    for name in ("classes", "roles"):
        with known:
            if not getattr(settings, name):
                yield Found(
                    (name,),
                    "is missing",
                    "Patients need at least one class, and classes need at least one role of "
                    "staff.",
                )
    with known:
        shares = sum(one.share for one in settings.classes.values())
        if settings.classes and abs(shares - 1) > 1e-6:
            yield Found(
                ("classes",),
                f"have shares that sum to {units.share_text(round(shares, 6))}",
                "The shares of all classes must sum to 100 %.",
            )
    with known:
        for number, cluster in enumerate(arrivals.clusters):
            yield from _inside(settings, ("arrivals", "clusters", number, "at"), cluster)


def _inside(settings: Settings, path: Path, event: Any) -> Iterator[Found]:
    with known:
        if event.at >= settings.horizon:
            below = f"Write a time below {units.duration_text(settings.horizon)}"
            right = f"{below}."
            with known:
                end = settings.start + timedelta(seconds=settings.horizon)
                right = f"{below}: the surge ends on {units.moment_text(end)}."
            yield Found(path, "is not inside the horizon", right)


def _names_used(settings: Settings) -> Iterator[Found]:
    """Every name that is used stands in its section."""

    def there(path: Path, name: str | None, sort: str, where: str) -> Iterator[Found]:
        with known:
            section = getattr(settings, where)
            if name is not None and name not in section:
                yield Found(
                    path,
                    f"names the {sort} '{echo(name)}', which is not in `{where}`",
                    nearest(name, list(section)) if section else f"Write a section `{where}`.",
                )

    def role(path: Path, name: str) -> Iterator[Found]:
        yield from there(path, name, "role", "roles")

    with known:
        for name, one in settings.classes.items():
            with known:
                for visitor in one.entries:
                    yield from role(("classes", name, "entries", visitor), visitor)
            with known:
                if one.urgent is not None:
                    yield from role(("classes", name, "urgent", "role"), one.urgent.role)
    with known:
        if settings.rooms is not None and settings.rooms.terminal_clean is not None:
            clean = settings.rooms.terminal_clean
            yield from role(("rooms", "terminal_clean", "role"), clean.role)
    with known:
        bundle = settings.policy.bundled_care
        for number, name in enumerate((bundle.roles or ()) if bundle is not None else ()):
            yield from role(("policy", "bundled_care", "roles", number), name)
    clusters = settings.arrivals.clusters if settings.arrivals is not None else ()
    for number, cluster in enumerate(clusters):
        with known:
            path: Path = ("arrivals", "clusters", number, "patient_class")
            yield from there(path, cluster.patient_class, "class", "classes")


def _wearers(settings: Settings) -> Iterator[Found]:
    if settings.policy.kit == "held for a shift":
        yield from _held(settings, ("policy", "kit"))


def _held(settings: Settings, path: Path) -> Iterator[Found]:
    """Kits are held by named wearers."""
    if settings.entries is None and not any(
        role.patients_per_wearer for role in settings.roles.values()
    ):
        yield Found(
            path,
            "is 'held for a shift', but nobody is a named wearer",
            "Say for a role how many patients each wearer has, for example "
            "`patients_per_wearer: 4` in `roles`.",
        )


def _timeline(settings: Settings) -> Iterator[Found]:
    for number, event in enumerate(settings.timeline):
        yield from _inside(settings, ("timeline", number, "at"), event)
        yield from _change(settings, ("timeline", number), event)


def _levels(settings: Settings) -> Iterator[Found]:
    """Flow levels are in order, and the lowest gives enough air."""
    levels, minimum = settings.kit.levels, settings.kit.minimum_flow
    with known:
        if levels[0].flow is not None and levels[0].flow < minimum:
            yield Found(
                ("kit", "levels", 0, "flow"),
                f"is {units.flow_text(levels[0].flow)}",
                f"The lowest level must give the minimum flow, {units.flow_text(minimum)}, with "
                "new filters.",
            )
    with known:
        flows = [(number, one.flow) for number, one in enumerate(levels) if one.flow is not None]
        for (_, lower), (number, higher) in pairwise(flows):
            with known:
                if higher <= lower:
                    yield Found(
                        ("kit", "levels", number, "flow"),
                        "is not above the level before",
                        "List the levels from the lowest flow to the highest.",
                    )
    for number in range(1, len(levels)):
        with known:
            if levels[number].run_time > levels[number - 1].run_time:
                yield Found(
                    ("kit", "levels", number, "run_time"),
                    "is longer than a level before",
                    "A higher level drains the battery at least as fast.",
                )


def _least_run(settings: Settings) -> Iterator[Found]:
    """A battery that is handed out lasts beyond donning."""
    fleet = settings.batteries
    donning = [max(don.values, default=typical(don)) for don in _donning(settings)]
    spent = fleet.alarm_reserve + max(donning)
    if fleet.least_run <= spent:
        yield Found(
            ("batteries", "least_run"),
            f"is {units.duration_text(fleet.least_run)}",
            "A battery that is handed out must last through donning and above the alarm "
            f"reserve.\n  Write more than {units.duration_text(round(spent))}.",
        )


def _donning(settings: Settings) -> list[TimeSpread]:
    roles = settings.roles.values()
    return [settings.kit.don, *(role.don for role in roles if role.don is not None)]


def _filter_lives(settings: Settings) -> Iterator[Found]:
    """Some filter lasts beyond donning, or alarms would send everybody back from the door."""
    if settings.filters is None:
        return
    further = 1 + sum(level.further_life for level in settings.kit.levels[1:])
    shortest = min(least_of(don) for don in _donning(settings))
    for name in ("prefilter_life", "main_filter_life"):
        with known:
            longest = most_of(getattr(settings.filters, name))
            if longest is not None and 0 < longest * further <= shortest:
                yield Found(
                    ("filters", name),
                    f"is {units.duration_text(round(longest))} at most, and all of it is gone "
                    "before a kit is put on",
                    "A filter must last beyond donning, or no visit ever begins.\n  Write more "
                    f"than {units.duration_text(round(shortest))}.",
                )


def _upkeep(settings: Settings) -> Iterator[Found]:
    with known:
        faults = settings.faults
        if faults.blower_run_between_faults is None and faults.repair_time is not None:
            yield Found(
                ("faults", "repair_time"),
                "is there without `faults.blower_run_between_faults`",
                "Say how long blowers run between faults, or leave the repair time out.",
            )


def _batteries(settings: Settings) -> Iterator[Found]:
    fleet = settings.batteries
    if fleet.age is None:
        return
    with known:
        if fleet.health != (1.0,):
            right = "Keep one of the two."
            yield Found(("batteries", "age"), "stands beside `batteries.health`", right)
    for number, age_s in enumerate(fleet.age.ages):
        with known:
            if fleet.age.health(age_s) <= 0:
                yield Found(
                    ("batteries", "age", "ages", number),
                    "leaves no capacity",
                    "Age x fade per year must stay below 100 %.",
                )


def _cleaning(settings: Settings) -> Iterator[Found]:
    """Each way to wipe down has what it needs."""
    cleaning = settings.cleaning
    examples = {
        "wipe": "wipe: 4 min",
        "crew": "crew: [{start: 07:00, end: 23:00, cleaners: 2}]",
        "rounds": "rounds: [06:00, 12:00, 18:00]",
        "turnaround": "turnaround: 4 h",
    }
    for name in CLEANING_NEEDS[cleaning.by]:
        with known:
            if not getattr(cleaning, name):
                yield Found(
                    ("cleaning", name),
                    f"is missing, and cleaning is by {cleaning.by}",
                    f"Write for example `{examples[name]}`.",
                )


def _change(settings: Settings, path: Path, event: Any) -> Iterator[Found]:
    """A failure of chargers says how many, and a shift of cleaners is one of the crew's."""
    if isinstance(event, BaysFail):
        with known:
            if event.bays is not None and event.chargers is not None:
                yield Found((*path, "chargers"), "stands beside `bays`", "Keep one of the two.")
        with known:
            if isinstance(event, ChargerFailure) and event.bays is None and event.chargers is None:
                right = "Write how many fail, for example `chargers: 1` or `bays: 4`."
                yield Found(path, "does not say how many bays or chargers fail", right)
    if isinstance(event, KitPolicy) and event.kit == "held for a shift":
        with known:
            yield from _held(settings, (*path, "kit"))
    if not isinstance(event, CleanersAbsent | ExtraCleaners):
        return
    with known:
        by = settings.cleaning.by
        if by != "crew" and (isinstance(event, ExtraCleaners) or event.shift is not None):
            key = "what" if isinstance(event, ExtraCleaners) else "shift"
            right = "Only a crew has shifts of cleaners: `cleaning: {by: crew, ...}`."
            yield Found((*path, key), f"does not go with cleaning by {by}", right)
            return
        starts = [shift.start for shift in settings.cleaning.crew]
        if event.shift is not None and event.shift not in starts:
            written = ", ".join(units.clock_text(start) for start in starts)
            yield Found(
                (*path, "shift"),
                f"is {units.clock_text(event.shift)}, and no shift of the crew begins then",
                f"Write when the shift begins: {written}.",
            )


_CHECKS: tuple[Callable[[Settings], Iterator[Found]], ...] = (
    _source, _demand, _names_used, _wearers, _timeline, _levels, _least_run, _filter_lives,
    _upkeep, _batteries, _cleaning, *SIZE_CHECKS,
)  # fmt: skip
