"""Checks between fields: what each section needs of the others, and how large a surge would be.

A check that meets a field that is wrong in itself ends there, as does each ``with known`` in it;
others go on. The size of a simulated surge is judged before it is drawn, from expected numbers,
with long stays counted rather too high than too low. What is drawn and played is held against the
same limits again: alarms and postponements show only then.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import timedelta
from itertools import pairwise
from typing import Any

from surge_sim import units
from surge_sim.errors import echo
from surge_sim.scenario.faults import Found, known, nearest
from surge_sim.scenario.how_large import expected_patients, expected_visits
from surge_sim.scenario.limits import MOST_OF_ANYTHING, MOST_PATIENTS, MOST_REQUESTS
from surge_sim.scenario.schema import CLEANING_NEEDS, REPAIRED, Settings
from surge_sim.scenario.spread import TimeSpread, least_of, most_of, typical
from surge_sim.scenario.timeline import (
    BatteriesOnLoan,
    BaysFail,
    ChargerFailure,
    ChargersOnLoan,
    CleanersAbsent,
    ExtraCleaners,
    ExtraPatients,
    KitPolicy,
    KitsOnLoan,
)
from surge_sim.scenario.yaml_text import Path


def found_between(settings: Settings) -> list[Found]:
    """Find every fault between fields, as far as each field is right in itself."""
    found: list[Found] = []
    for check in _CHECKS:
        with known:
            for one in check(settings):  # what came before it stops is kept
                found.append(one)
    return found


def _source(settings: Settings) -> Iterator[Found]:
    """There is one source of demand."""
    if settings.arrivals is None and settings.entries is None:
        right = (
            "Say which patients arrive: write a section `arrivals`, or `entries: {from: log.csv}`."
        )
        yield Found(("arrivals",), "is missing, and so is `entries`", right)
    if settings.arrivals and settings.entries:
        right = "Keep one of the two: drawn patients, or the unit's own log."
        yield Found(("entries",), "stands beside `arrivals`", right)


def _run_in(settings: Settings) -> Iterator[Found]:
    """Ordinary demand is the baseline and the initial census."""
    if not settings.run_in:
        return
    arrivals = settings.arrivals
    if arrivals is None:
        right = "A log says nothing of the days before it: leave `run_in` out."
        yield Found(("run_in",), "stands beside `entries`", right)
    elif not arrivals.baseline and not arrivals.initial_census:
        right = "Say what is ordinary, for example `arrivals: {baseline: 2 per day}`, or leave"
        found = "is there, and `arrivals` has neither `baseline` nor `initial_census`"
        yield Found(("run_in",), found, f"{right} `run_in` out.")


def _classes_and_roles(settings: Settings) -> Iterator[Found]:
    """Drawn patients have a class, and classes have roles that enter."""
    for name in ("classes", "roles") if settings.arrivals is not None else ():
        with known:
            if not getattr(settings, name):
                right = "Patients need at least one class, and classes need at least one role of "
                yield Found((name,), "is missing", f"{right}staff.")


def _class_shares(settings: Settings) -> Iterator[Found]:
    shares = sum(one.share for one in settings.classes.values())
    if settings.arrivals is not None and settings.classes and abs(shares - 1) > 1e-6:
        found = f"have shares that sum to {units.share_text(round(shares, 6))}"
        yield Found(("classes",), found, "The shares of all classes must sum to 100 %.")


def _clusters(settings: Settings) -> Iterator[Found]:
    """Clusters come within the horizon, and are of a class that is there."""
    for number, one in enumerate(settings.arrivals.clusters if settings.arrivals else ()):
        place: Path = ("arrivals", "clusters", number)
        yield from _inside(settings, (*place, "at"), one)
        with known:
            if one.patient_class is not None:
                yield from _is_there(
                    settings, "classes", (*place, "patient_class"), one.patient_class
                )


def _inside(settings: Settings, path: Path, event: Any) -> Iterator[Found]:
    with known:
        if event.at >= settings.horizon:
            below = f"Write a time below {units.duration_text(settings.horizon)}"
            right = f"{below}."
            with known:
                end = settings.start + timedelta(seconds=settings.horizon)
                right = f"{below}: the surge ends on {units.moment_text(end)}."
            yield Found(path, "is not inside the horizon", right)


def _is_there(settings: Settings, section: str, path: Path, name: str | None) -> Iterator[Found]:
    """A class or role that is named stands in its section."""
    with known:
        names = getattr(settings, section)
        if name is not None and name not in names:
            sort = {"classes": "class", "roles": "role"}[section]
            found = f"names the {sort} '{echo(name)}', which is not in `{section}`"
            right = nearest(name, list(names)) if names else f"Write a section `{section}`."
            yield Found(path, found, right)


def _roles_of_classes(settings: Settings) -> Iterator[Found]:
    for name, one in settings.classes.items():
        with known:
            for role in one.entries:
                yield from _is_there(settings, "roles", ("classes", name, "entries", role), role)
        with known:
            if one.urgent is not None:
                path = ("classes", name, "urgent", "role")
                yield from _is_there(settings, "roles", path, one.urgent.role)


def _role_that_cleans(settings: Settings) -> Iterator[Found]:
    if settings.rooms is not None and settings.rooms.terminal_clean is not None:
        path = ("rooms", "terminal_clean", "role")
        yield from _is_there(settings, "roles", path, settings.rooms.terminal_clean.role)


def _roles_bundled(settings: Settings) -> Iterator[Found]:
    bundle = settings.policy.bundled_care
    for number, name in enumerate((bundle.roles or ()) if bundle is not None else ()):
        path = ("policy", "bundled_care", "roles", number)
        yield from _is_there(settings, "roles", path, name)


def _wearers(settings: Settings) -> Iterator[Found]:
    yield from _held(settings, ("policy", "kit"), settings.policy.kit)
    for name, role in settings.roles.items():
        with known:
            patients = role.patients_per_wearer or 0
            if role.rooms_per_round is not None and role.rooms_per_round > max(patients, 1):
                found = f"is {role.rooms_per_round}, and a named wearer has {patients} patients"
                right = "A round goes to patients of one wearer: write no more than "
                right += "`patients_per_wearer`."
                yield Found(("roles", name, "rooms_per_round"), found, right)


def _held(settings: Settings, path: Path, kit: str) -> Iterator[Found]:
    """Kits are kept by named wearers, or in rounds."""
    if settings.entries is not None or kit == "per entry":
        return
    roles = settings.roles.values()
    if kit == "held for a shift" and not any(role.patients_per_wearer for role in roles):
        found = "is 'held for a shift', but nobody is a named wearer"
        right = "Say for a role how many patients each wearer has, for example "
        yield Found(path, found, f"{right}`patients_per_wearer: 4` in `roles`.")
    elif kit == "per round" and not any((role.rooms_per_round or 1) > 1 for role in roles):
        right = "Say for a role to how many rooms a wearer goes in one round, for example "
        right += "`rooms_per_round: 3` in `roles`."
        yield Found(path, "is 'per round', but nobody makes rounds", right)


def _lowest_flow(settings: Settings) -> Iterator[Found]:
    """The lowest level gives enough air."""
    lowest, minimum = settings.kit.levels[0].flow, settings.kit.minimum_flow
    if lowest is not None and lowest < minimum:
        right = f"The lowest level must give the minimum flow, {units.flow_text(minimum)}, with "
        found = f"is {units.flow_text(lowest)}"
        yield Found(("kit", "levels", 0, "flow"), found, f"{right}new filters.")


def _levels_in_order(settings: Settings) -> Iterator[Found]:
    levels = settings.kit.levels
    with known:
        flows = [(number, one.flow) for number, one in enumerate(levels) if one.flow is not None]
        for (_, lower), (number, higher) in pairwise(flows):
            with known:
                if higher <= lower:
                    right = "List the levels from the lowest flow to the highest."
                    path = ("kit", "levels", number, "flow")
                    yield Found(path, "is not above the level before", right)
    for number, (lower_level, higher_level) in enumerate(pairwise(levels), start=1):
        with known:
            if higher_level.run_time > lower_level.run_time:
                right = "A higher level drains the battery at least as fast."
                path = ("kit", "levels", number, "run_time")
                yield Found(path, "is longer than a level before", right)


def _minimum_run_time(settings: Settings) -> Iterator[Found]:
    """A battery that is issued lasts beyond donning."""
    fleet = settings.batteries
    donning = [max(don.values, default=typical(don)) for don in _donning(settings)]
    spent = fleet.low_battery_alarm + round(max(donning))
    if fleet.minimum_run_time <= spent:
        yield Found(
            ("batteries", "minimum_run_time"),
            f"is {units.duration_text(fleet.minimum_run_time)}",
            "A battery that is issued must last through donning and above the "
            f"low-battery alarm.\n  Write more than {units.duration_text(spent)}.",
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
    for name in ("prefilter_life", "he_filter_life"):
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


def _repairs(settings: Settings) -> Iterator[Found]:
    for rate, time in REPAIRED.items():
        with known:
            if getattr(settings.failures, rate) is None and getattr(settings.failures, time):
                right = "Say how long it works between failures, or leave this time out."
                yield Found(("failures", time), f"is there without `failures.{rate}`", right)


def _batteries(settings: Settings) -> Iterator[Found]:
    fleet = settings.batteries
    if fleet.age is None:
        return
    with known:
        if fleet.state_of_health != (1.0,):
            right = "Keep one of the two."
            yield Found(("batteries", "age"), "stands beside `batteries.state_of_health`", right)
    for number, age_s in enumerate(fleet.age.ages):
        with known:
            if fleet.age.health(age_s) <= 0:
                path = ("batteries", "age", "ages", number)
                right = "Age x fade per year must stay below 100 %."
                yield Found(path, "leaves no capacity", right)


def _cleaning(settings: Settings) -> Iterator[Found]:
    """Each way to wipe down has what it needs."""
    cleaning = settings.cleaning
    examples = {
        "wipe_down": "wipe_down: 4 min",
        "crew": "crew: [{start: 07:00, end: 23:00, cleaners: 2}]",
        "rounds": "rounds: [06:00, 12:00, 18:00]",
        "turnaround": "turnaround: 4 h",
    }
    for name in CLEANING_NEEDS[cleaning.by]:
        with known:
            if not getattr(cleaning, name):
                found = f"is missing, and cleaning is by {cleaning.by}"
                right = f"Write for example `{examples[name]}`."
                if name == "turnaround" and name in cleaning.model_fields_set:
                    found, right = "is 0 min", f"It must be above 0.\n  {right}"
                yield Found(("cleaning", name), found, right)


def _timeline(settings: Settings) -> Iterator[Found]:
    """Changes come within the horizon, and say what they need to."""
    for number, event in enumerate(settings.timeline):
        path = ("timeline", number)
        yield from _inside(settings, (*path, "at"), event)
        with known:
            if isinstance(event, BaysFail):
                yield from _bays_fail(path, event)
            elif isinstance(event, ExtraPatients) and settings.entries is not None:
                right = "A log has its own entries: leave this change out."
                yield Found((*path, "what"), "does not go with a log of entries", right)
            elif isinstance(event, KitPolicy):
                yield from _held(settings, (*path, "kit"), event.kit)
            elif isinstance(event, CleanersAbsent | ExtraCleaners):
                yield from _cleaners(settings, path, event)


def _bays_fail(path: Path, event: BaysFail) -> Iterator[Found]:
    if event.bays is not None and event.chargers is not None:
        yield Found((*path, "chargers"), "stands beside `bays`", "Keep one of the two.")
    if isinstance(event, ChargerFailure) and event.bays is None and event.chargers is None:
        right = "Write how many fail, for example `chargers: 1` or `bays: 4`."
        yield Found(path, "does not say how many bays or chargers fail", right)


def _cleaners(
    settings: Settings, path: Path, event: CleanersAbsent | ExtraCleaners
) -> Iterator[Found]:
    """A shift of cleaners is one of the crew's, and the only one that begins then."""
    by = settings.cleaning.by
    if by != "crew" and (isinstance(event, ExtraCleaners) or event.shift is not None):
        key = "what" if isinstance(event, ExtraCleaners) else "shift"
        right = "Only a crew has shifts of cleaners: `cleaning: {by: crew, ...}`."
        yield Found((*path, key), f"does not go with cleaning by {by}", right)
        return
    if event.shift is None:
        return
    starts = [shift.start for shift in settings.cleaning.crew]
    # 24:00 is 00:00 of the next day
    begin = sum((event.shift - start) % units.DAY_S == 0 for start in starts)
    if begin == 0:
        found = f"is {units.clock_text(event.shift)}, and no shift of the crew begins then"
        written = ", ".join(units.clock_text(start) for start in starts)
        yield Found((*path, "shift"), found, f"Write when the shift begins: {written}.")
    elif begin > 1:
        found = f"is {units.clock_text(event.shift)}, and {begin} shifts of the crew begin then"
        right = (
            f"Let one shift begin at {units.clock_text(event.shift)}, with all cleaners until the "
            "first of them go, and a second one from then on for those who stay; without `shift` "
            "the change holds for the whole crew."
        )
        yield Found((*path, "shift"), found, right)


def _on_loan(settings: Settings) -> Iterator[Found]:
    """With what is on loan there is not too much of anything."""
    stock = settings.stock
    for kind, name, total in (
        (KitsOnLoan, "kits", stock.kits),
        (BatteriesOnLoan, "batteries", stock.batteries),
        (ChargersOnLoan, "chargers", 0),
    ):
        for number, event in enumerate(settings.timeline):
            if isinstance(event, kind):
                total += getattr(event, name)
                if total > MOST_OF_ANYTHING:
                    found = f"makes {total:,} {name}, with those in hand and on loan before"
                    right = f"Use {MOST_OF_ANYTHING:,} in all at most."
                    yield Found(("timeline", number, name), found, right)
                    break


def _size(settings: Settings) -> Iterator[Found]:
    """A simulated surge has not too many patients, nor entries."""
    if settings.arrivals is None:
        return
    patients = expected_patients(settings)
    total = sum(patients.values())
    if total > MOST_PATIENTS:
        yield Found(
            max(patients, key=lambda place: patients[place]),
            f"brings the patients of a surge to some {_rounded(total)}",
            f"A simulated surge has {MOST_PATIENTS:,} patients at most: check rates, counts and "
            "the horizon.",
        )
        return
    visits = expected_visits(settings)
    entries = sum(visits.values()) * total
    if entries > MOST_REQUESTS:
        yield Found(
            max(visits, key=lambda place: visits[place]),
            f"brings the entries of a surge to some {_rounded(entries)}",
            f"A simulated surge has {MOST_REQUESTS:,} requests at most: check rates, teams, the "
            "length of isolation and the horizon.",
        )


def _rounded(number: float) -> str:
    """Write a large number with two digits that mean something."""
    if not math.isfinite(number) or number >= 1e15:
        return "a million thousand million or more"
    digits = max(int(math.log10(max(number, 1))) - 1, 0)
    return f"{round(number, -digits):,.0f}"


_CHECKS: tuple[Callable[[Settings], Iterator[Found]], ...] = (
    _source, _run_in, _classes_and_roles, _class_shares, _clusters, _roles_of_classes,
    _role_that_cleans, _roles_bundled, _wearers, _lowest_flow, _levels_in_order, _minimum_run_time,
    _filter_lives, _repairs, _batteries, _cleaning, _timeline, _on_loan, _size,
)  # fmt: skip
