"""Checks between fields: what each section needs of the others."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

from surge_sim import units
from surge_sim.errors import Fault
from surge_sim.scenario.entry_log import MOST_ENTRIES
from surge_sim.scenario.faults import nearest
from surge_sim.scenario.gear import CLEANING_NEEDS
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.yaml_text import Path, Tree, dotted

#: names that would be taken for the ends of a range
_RANGE_WORDS = ("low", "likely", "high")


class Found(NamedTuple):
    """What is wrong between fields: where, what was found, what would be right."""

    path: Path
    found: str
    right: str


def cross_faults(settings: Settings, tree: Tree, file: str) -> list[Fault]:
    """Find every fault between fields of settings whose fields are each right."""
    return [
        Fault(file, tree.line(one.path), f"{dotted(one.path)} {one.found}.", one.right)
        for check in (_demand, _names, _weights, _rooms, _kit, _batteries, _cleaning, _rest)
        for one in check(settings)
    ]


def typical(spread: TimeSpread) -> float:
    """Say a spread's mean [s], or its middle quantile where no mean is given."""
    if spread.mean is not None:
        return spread.mean
    if spread.values:
        return sum(spread.values) / len(spread.values)
    return spread.quantiles[0].time_s if spread.quantiles else 0.0


def _demand(settings: Settings) -> Iterator[Found]:
    """There is one source of demand, with all that it needs."""
    arrivals = settings.arrivals
    if (arrivals is None) == (settings.entries is None):
        if arrivals is None:
            yield Found(
                ("arrivals",),
                "is missing, and so is `entries`",
                "Say who comes: write a section `arrivals`, or `entries: {from: log.csv}`.",
            )
        else:
            yield Found(
                ("entries",),
                "stands beside `arrivals`",
                "Keep one of the two: drawn patients, or the unit's own log.",
            )
    if arrivals is None:
        return
    for name in ("classes", "roles"):
        if not getattr(settings, name):
            yield Found(
                (name,),
                "is missing",
                "Patients need at least one class, and classes need at least one role of staff.",
            )
    shares = sum(one.share for one in settings.classes.values())
    if settings.classes and abs(shares - 1) > 1e-6:
        yield Found(
            ("classes",),
            f"have shares that sum to {units.share_text(round(shares, 6))}",
            "The shares of all classes must sum to 100 %.",
        )
    if arrivals.wave is not None and arrivals.wave.width <= 0:
        yield Found(
            ("arrivals", "wave", "width"),
            "is 0",
            "A wave needs a width.\n  Write for example `width: 9 d`.",
        )
    # a latent time of 0 is right: there is no exposed stage then
    if arrivals.epidemic is not None and arrivals.epidemic.infectious <= 0:
        yield Found(
            ("arrivals", "epidemic", "infectious"),
            "is 0",
            "It must be above 0.\n  Write for example `infectious: 5 d`.",
        )
    for number, cluster in enumerate(arrivals.clusters):
        if cluster.at >= settings.horizon:
            yield Found(
                ("arrivals", "clusters", number, "at"),
                "is not inside the horizon",
                f"Write a time below {units.duration_text(settings.horizon)}.",
            )
    entries = _most_entries(settings)
    if entries > MOST_ENTRIES:
        yield Found(
            ("arrivals",),
            f"may give {entries:.2g} entries in one surge",
            f"The most is {MOST_ENTRIES:,}: check rates, counts and the horizon.",
        )


def _most_entries(settings: Settings) -> float:
    """Upper bound of the expected entries of a surge, rough: a guard against slips."""
    arrivals = settings.arrivals
    assert arrivals is not None
    days = settings.horizon / units.DAY_S
    patients = arrivals.baseline * days + arrivals.present_at_start
    patients += sum(cluster.patients for cluster in arrivals.clusters)
    if arrivals.wave is not None:
        patients += arrivals.wave.extra_at_peak * min(days, 2.6 * arrivals.wave.width / 86_400)
    if arrivals.epidemic is not None:
        patients += arrivals.epidemic.population * arrivals.epidemic.admitted
    if arrivals.daily_counts is not None:
        patients += sum(arrivals.daily_counts.counts) * arrivals.daily_counts.share
    each = 0.0
    for one in settings.classes.values():
        stay_d = min(typical(one.isolation) * 2, settings.horizon) / units.DAY_S
        urgent = one.urgent.per_patient * one.urgent.team if one.urgent is not None else 0.0
        each += one.share * stay_d * (sum(one.entries.values()) + urgent)
    return patients * each


def _names(settings: Settings) -> Iterator[Found]:
    """Every name that is used stands in its section."""
    roles, classes = list(settings.roles), list(settings.classes)

    def role(path: Path, name: str) -> Iterator[Found]:
        if name not in settings.roles:
            yield Found(
                path,
                f"names the role '{name}', which is not in `roles`",
                nearest(name, roles) if roles else "Write a section `roles`.",
            )

    for where, names in (("classes", classes), ("roles", roles)):
        for name in names:
            if name in _RANGE_WORDS or not name.strip():
                yield Found(
                    (where, name), "is a word for the end of a range", "Choose another name."
                )
    for name, one in settings.classes.items():
        for visitor in one.entries:
            yield from role(("classes", name, "entries", visitor), visitor)
        if one.urgent is not None:
            yield from role(("classes", name, "urgent", "role"), one.urgent.role)
    rooms, bundle = settings.rooms, settings.policy.bundled_care
    if rooms is not None and rooms.terminal_clean is not None:
        yield from role(("rooms", "terminal_clean", "role"), rooms.terminal_clean.role)
    for number, name in enumerate((bundle.roles or ()) if bundle is not None else ()):
        yield from role(("policy", "bundled_care", "roles", number), name)
    clusters = settings.arrivals.clusters if settings.arrivals is not None else ()
    for number, cluster in enumerate(clusters):
        known = cluster.patient_class
        if known is not None and known not in settings.classes:
            yield Found(
                ("arrivals", "clusters", number, "patient_class"),
                f"names the class '{known}', which is not in `classes`",
                nearest(known, classes),
            )


def _weights(settings: Settings) -> Iterator[Found]:
    """Weights of hours and days: none negative, some above 0; shifts in order."""
    weights: list[tuple[Path, Iterable[float]]] = []
    if settings.arrivals is not None:
        days = settings.arrivals.days_of_week
        weights.append(
            (("arrivals", "days_of_week"), (getattr(days, day) for day in type(days).model_fields))
        )
        weights.append((("arrivals", "hours_of_day"), settings.arrivals.hours_of_day or (1.0,)))
    for name, role in settings.roles.items():
        weights.append((("roles", name, "hours_of_day"), role.hours_of_day or (1.0,)))
        shifts = role.shifts
        if not shifts or list(shifts) != sorted(set(shifts)) or shifts[-1] >= units.DAY_S:
            yield Found(
                ("roles", name, "shifts"),
                "are not in order",
                "Write the starts of the "
                "shifts in order through the day, for example `shifts: [07:00, 19:00]`.",
            )
    for path, values in weights:
        listed = list(values)
        if min(listed) < 0 or sum(listed) <= 0:
            yield Found(
                path,
                "has a weight below 0, or no weight above 0",
                "Weights are compared with each other: 0 for never, 2 for twice as often as 1.",
            )


def _rooms(settings: Settings) -> Iterator[Found]:
    if settings.rooms is not None and settings.rooms.clearance >= 1:
        yield Found(
            ("rooms", "clearance"),
            "is 100 %",
            "Air is never cleared wholly.\n  Write a "
            "share below 100 %, for example `clearance: 99 %`.",
        )


def _kit(settings: Settings) -> Iterator[Found]:
    """Flow levels in order, and a handed-out battery that lasts beyond donning."""
    kit, fleet = settings.kit, settings.batteries
    levels = kit.levels
    flows = [(number, level.flow) for number, level in enumerate(levels) if level.flow is not None]
    if levels[0].flow is not None and levels[0].flow < kit.minimum_flow:
        yield Found(
            ("kit", "levels", 0, "flow"),
            f"is {units.flow_text(levels[0].flow)}",
            f"The lowest level must give the minimum flow, "
            f"{units.flow_text(kit.minimum_flow)}, with new filters.",
        )
    for (_, lower), (number, higher) in pairwise(flows):
        if higher <= lower:
            yield Found(
                ("kit", "levels", number, "flow"),
                "is not above the level before",
                "List the levels from the lowest flow to the highest.",
            )
    for number in range(1, len(levels)):
        if levels[number].run_time > levels[number - 1].run_time:
            yield Found(
                ("kit", "levels", number, "run_time"),
                "is longer than a level before",
                "A higher level drains the battery at least as fast.",
            )
    donning = [kit.don] + [role.don for role in settings.roles.values() if role.don is not None]
    spent = fleet.alarm_reserve + max(typical(don) for don in donning)
    if fleet.least_run <= spent:
        yield Found(
            ("batteries", "least_run"),
            f"is {units.duration_text(fleet.least_run)}",
            "A battery that is handed out must last through donning and above the alarm "
            f"reserve.\n  Write more than {units.duration_text(round(spent))}.",
        )
    if settings.faults.repair_time is not None and (
        settings.faults.blower_run_between_faults is None
    ):
        yield Found(
            ("faults", "repair_time"),
            "is there without `blower_run_between_faults`",
            "Say how long blowers run between faults, or leave the repair time out.",
        )
    if settings.filters is not None:
        hours = settings.filters.working_hours
        if hours.start >= hours.end:
            yield Found(
                ("filters", "working_hours"),
                "end before they start",
                "Write for example `{start: 08:00, end: 16:00}`.",
            )


def _batteries(settings: Settings) -> Iterator[Found]:
    fleet = settings.batteries
    for name in ("knee_charge", "knee_time"):
        if not 0 < getattr(fleet, name) < 1:
            yield Found(
                ("batteries", name),
                f"is {units.share_text(getattr(fleet, name))}",
                "It must be above 0 % and below 100 %; for a straight charge curve write "
                "the same share in `knee_charge` and `knee_time`.",
            )
    for number, health in enumerate(fleet.health):
        if health <= 0:
            yield Found(
                ("batteries", "health", number),
                "is 0 %",
                "A battery without capacity is no battery: leave it out of the stock.",
            )
    if fleet.age is not None:
        if fleet.health != (1.0,):
            yield Found(("batteries", "age"), "stands beside `health`", "Keep one of the two.")
        for number, age_s in enumerate(fleet.age.ages):
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
        if not getattr(cleaning, name):
            yield Found(
                ("cleaning", name),
                f"is missing, and cleaning is by {cleaning.by}",
                f"Write for example `{examples[name]}`.",
            )


def _rest(settings: Settings) -> Iterator[Found]:
    """Policies, disruptions, target."""
    horizon_text = units.duration_text(settings.horizon)
    if (
        settings.policy.kit == "held for a shift"
        and settings.entries is None
        and not any(role.patients_per_wearer for role in settings.roles.values())
    ):
        yield Found(
            ("policy", "kit"),
            "is 'held for a shift', but nobody is a named wearer",
            "Give a role `patients_per_wearer`, for example `patients_per_wearer: 4`.",
        )
    for number, event in enumerate(settings.disruptions):
        if event.at >= settings.horizon:
            yield Found(
                ("disruptions", number, "at"),
                "is not inside the horizon",
                f"Write a time below {horizon_text}.",
            )
    target = settings.target
    shares: list[tuple[Path, float]] = [
        (("target", "share_of_entries"), target.share_of_entries),
        (("target", "share_of_surges"), target.share_of_surges),
    ]
    if target.urgent is not None:
        shares.append((("target", "urgent", "share_of_entries"), target.urgent.share_of_entries))
    for path, share in shares:
        if share <= 0:
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
            "No number of simulated surges can "
            "show that.\n  Write a share below 100 %, for example "
            "`share_of_surges: 90 %`.",
        )
