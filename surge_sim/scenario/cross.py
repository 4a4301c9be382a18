"""Checks between fields: what each section needs of the others.

A check that meets a field that is wrong in itself ends there (``with known``); others go on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import timedelta
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.arrivals import DayWeights
from surge_sim.scenario.cross_gear import GEAR_CHECKS, disruption_faults
from surge_sim.scenario.faults import Found, known, nearest
from surge_sim.scenario.limits import MOST_NAME
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.tree import Path, Tree
from surge_sim.scenario.workload import SIZE_CHECKS

#: names that would be taken for the ends of a range
_RANGE_WORDS = ("low", "likely", "high")
_MOST_TITLE = 200


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
        if arrivals.wave is not None and arrivals.wave.width <= 0:
            yield Found(
                ("arrivals", "wave", "width"),
                "is 0",
                "A wave needs a width.\n  Write for example `width: 9 d`.",
            )
    with known:
        # a latent time of 0 is right: there is no exposed stage then
        if arrivals.epidemic is not None and arrivals.epidemic.infectious <= 0:
            yield Found(
                ("arrivals", "epidemic", "infectious"),
                "is 0",
                "It must be above 0.\n  Write for example `infectious: 5 d`.",
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


def _names(settings: Settings) -> Iterator[Found]:
    """Names and the title fit on a line, and no name is taken for the end of a range."""
    texts: list[tuple[Path, str, int]] = []
    for where in ("classes", "roles"):
        with known:
            texts += [((where, name), name, MOST_NAME) for name in getattr(settings, where)]
    with known:
        texts.append((("prices", "currency"), settings.prices.currency, MOST_NAME))
    texts.append((("title",), settings.title, _MOST_TITLE))
    for path, text, most in texts:
        with known:
            if text in _RANGE_WORDS and len(path) == 2:
                yield Found(path, "is a word for the end of a range", "Choose another name.")
            if not text.strip() or "\n" in text.strip() or len(text) > most:
                what = f"is no text of one line with {most} characters at most"
                yield Found(path, what, "Shorten it; longer text may stand in `note`.")


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


def _weights(settings: Settings) -> Iterator[Found]:
    """Weights of hours and days: none negative, some above 0."""

    def good(path: Path, values: Iterable[float]) -> Iterator[Found]:
        with known:
            listed = list(values)
            if min(listed) < 0 or sum(listed) <= 0:
                yield Found(
                    path,
                    "has a weight below 0, or no weight above 0",
                    "Weights are compared with each other: 0 for never, 2 for twice as often as 1.",
                )

    with known:
        arrivals = settings.arrivals
        if arrivals is not None:
            with known:
                days = arrivals.days_of_week
                listed = (getattr(days, day) for day in DayWeights.model_fields)
                yield from good(("arrivals", "days_of_week"), listed)
            yield from good(("arrivals", "hours_of_day"), arrivals.hours_of_day or (1.0,))
    for name, role in settings.roles.items():
        with known:
            yield from good(("roles", name, "hours_of_day"), role.hours_of_day or (1.0,))


def _shifts(settings: Settings) -> Iterator[Found]:
    for name, role in settings.roles.items():
        with known:
            shifts = role.shifts
            if not shifts or list(shifts) != sorted(set(shifts)) or shifts[-1] >= units.DAY_S:
                yield Found(
                    ("roles", name, "shifts"),
                    "are not in order",
                    "Write the starts of the shifts in order through the day, for example "
                    "`shifts: [07:00, 19:00]`.",
                )


def _rooms(settings: Settings) -> Iterator[Found]:
    if settings.rooms is not None and settings.rooms.clearance >= 1:
        yield Found(
            ("rooms", "clearance"),
            "is 100 %",
            "Air is never cleared wholly.\n  Write a "
            "share below 100 %, for example `clearance: 99 %`.",
        )


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


def _target(settings: Settings) -> Iterator[Found]:
    target = settings.target
    for path in (
        ("target", "share_of_entries"),
        ("target", "share_of_surges"),
        ("target", "urgent", "share_of_entries"),
    ):
        with known:
            section: Any = target.urgent if "urgent" in path else target
            if section is not None and getattr(section, path[-1]) <= 0:
                yield Found(
                    path,
                    "is 0 %",
                    "A promise to nobody is kept by an empty shelf.\n  Write a "
                    f"share above 0 %, for example `{path[-1]}: 95 %`.",
                )
    if target.share_of_surges >= 1:
        yield Found(
            ("target", "share_of_surges"),
            "is 100 %",
            "No number of simulated surges can show that.\n  Write a share below 100 %, for "
            "example `share_of_surges: 90 %`.",
        )


_CHECKS: tuple[Callable[[Settings], Iterator[Found]], ...] = (
    _source, _demand, _names, _names_used, _weights, _shifts, _rooms, _wearers,
    _disruptions, _target, *GEAR_CHECKS, *SIZE_CHECKS,
)  # fmt: skip
