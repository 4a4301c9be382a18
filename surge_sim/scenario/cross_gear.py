"""Checks between the fields of the equipment."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any

from surge_sim import units
from surge_sim.scenario.events import BaysFail, ChargerFailure, CleanersAbsent, ExtraCleaners
from surge_sim.scenario.faults import Found, known
from surge_sim.scenario.gear import CLEANING_NEEDS
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread, least_of, most_of, typical
from surge_sim.scenario.tree import Path


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


def disruption_faults(settings: Settings, path: Path, event: Any) -> Iterator[Found]:
    """A failure of chargers says how many, and a shift of cleaners is one of the crew's."""
    if isinstance(event, BaysFail):
        with known:
            if event.bays is not None and event.chargers is not None:
                yield Found((*path, "chargers"), "stands beside `bays`", "Keep one of the two.")
        with known:
            if isinstance(event, ChargerFailure) and event.bays is None and event.chargers is None:
                right = "Write how many fail, for example `chargers: 1` or `bays: 4`."
                yield Found(path, "does not say how many bays or chargers fail", right)
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


GEAR_CHECKS: tuple[Callable[[Settings], Iterator[Found]], ...] = (
    _levels, _least_run, _filter_lives, _upkeep, _batteries, _cleaning,
)  # fmt: skip
