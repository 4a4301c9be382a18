"""Checks between fields: what each section needs of the others.

A check that meets a field that is wrong in itself ends there (``with known``); others go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.cross_gear import GEAR_CHECKS, disruption_faults
from surge_sim.scenario.faults import Found, known, nearest
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.tree import Path, Tree
from surge_sim.scenario.workload import SIZE_CHECKS


def cross_faults(settings: Settings, tree: Tree) -> list[Fault]:
    """Find every fault between fields, as far as each field is right in itself."""
    found: list[Found] = []
    for check in _CHECKS:
        with known:
            for one in check(settings):  # what came before it stops is kept
                found.append(one)
    return [tree.fault(*one) for one in found]


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
    if (
        settings.policy.kit == "held for a shift"
        and settings.entries is None
        and not any(role.patients_per_wearer for role in settings.roles.values())
    ):
        yield Found(
            ("policy", "kit"),
            "is 'held for a shift', but nobody is a named wearer",
            "Say for a role how many patients each wearer has, for example "
            "`patients_per_wearer: 4` in `roles`.",
        )


def _disruptions(settings: Settings) -> Iterator[Found]:
    for number, event in enumerate(settings.disruptions):
        yield from _inside(settings, ("disruptions", number, "at"), event)
        yield from disruption_faults(settings, ("disruptions", number), event)


_CHECKS: tuple[Callable[[Settings], Iterator[Found]], ...] = (
    _source, _demand, _names_used, _wearers, _disruptions, *GEAR_CHECKS, *SIZE_CHECKS,
)  # fmt: skip
