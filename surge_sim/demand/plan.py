"""What a scenario's settings mean for the drawing of its entries, worked out once."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import DailyShapes, daily_shape, side_by_side
from surge_sim.demand.curve import Curve, expected_curve
from surge_sim.demand.draws import SurgeStreams
from surge_sim.demand.residual import found_shares
from surge_sim.demand.rooms import clearance_s, is_cleaned_in_a_kit
from surge_sim.demand.spread import Fitted, fitted
from surge_sim.demand.trace import NEVER_S
from surge_sim.demand.wearers import WearerRule, wearer_rules
from surge_sim.scenario.care import Role, UrgentEvents
from surge_sim.scenario.schema import Settings
from surge_sim.units import DAY_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: settings whose plans are kept: of one scenario without ranges all surges have the same
_KEPT = 4


def care_factors(settings: Settings, role: str) -> tuple[float, float]:
    """Return the factors of the number and of the room time of visits by bundled care."""
    care = settings.policy.bundled_care
    if care is None or (care.roles is not None and role not in care.roles):
        return 1.0, 1.0
    return care.entries, care.room_time


def visit_rates(settings: Settings, role: str) -> list[float]:
    """Return the visits of a role per patient-day by class, bundled care included."""
    factor, _ = care_factors(settings, role)
    return [one.entries.get(role, 0.0) * factor for one in settings.classes.values()]


def patience_s(settings: Settings, role: Role | None, urgent: bool) -> int:
    """Return the longest wait before an entry is done otherwise [s], or `NEVER_S`."""
    policy = settings.policy
    if urgent:
        longest = policy.urgent_patience
    else:
        longest = policy.patience
        if role is not None and role.patience is not None:
            longest = role.patience
    return NEVER_S if longest is None else longest


@dataclass(frozen=True)
class RoleTimes:
    """Distributions of the times of one role's entries, and its patience [s]."""

    room: Fitted | None
    don: Fitted
    doff: Fitted
    patience_s: int
    urgent_patience_s: int


def role_times(settings: Settings, role: Role | None) -> RoleTimes:
    """Return the times of a role: its own, or the kit's; None is a role only a log names."""
    don, doff = settings.kit.don, settings.kit.doff
    if role is not None:
        don, doff = role.don or don, role.doff or doff
    return RoleTimes(
        room=None if role is None else fitted(role.room_time),
        don=fitted(don),
        doff=fitted(doff),
        patience_s=patience_s(settings, role, urgent=False),
        urgent_patience_s=patience_s(settings, role, urgent=True),
    )


@dataclass(frozen=True)
class Plan:
    """Numbers that every surge of the same settings draws with."""

    #: times of each role
    times: tuple[RoleTimes, ...]
    #: roles whose visits are drawn, and per such role: visits per second by class
    visiting: tuple[int, ...]
    visits_per_s: FloatArray
    shapes: DailyShapes | None
    #: per such role: share of visits with a kit, and factor of the room time by bundled care
    kit_share: tuple[float, ...]
    longer: tuple[float, ...]
    #: urgent events per second by class; per role: people that an event brings by class
    urgent_per_s: FloatArray
    teams: IntArray
    #: shares of the classes, summed
    classes_below: FloatArray
    #: the same among the initial census, if it stays for the rest of its stay; None: as all
    found_below: FloatArray | None
    #: time in isolation of each class
    isolation: tuple[Fitted, ...]
    #: per role: how its wearers are named, if they are
    wearer_rules: tuple[WearerRule | None, ...]
    #: until the air of a room is cleared [s], and time of its terminal clean; None without one
    clearance_s: int
    clean: Fitted | None
    #: somebody in a kit does the clean, while the air is not yet cleared
    cleaned_in_a_kit: bool
    #: expected admissions, and without disruptions; None without arrivals
    curve: Curve | None
    undisturbed: Curve | None
    #: surges of one scenario of which these are equal are drawn side by side
    patients_alike: tuple[object, ...]
    entries_alike: tuple[object, ...]


class SurgeStart(NamedTuple):
    """One surge of which nothing is drawn yet but its settings."""

    settings: Settings
    plan: Plan
    streams: SurgeStreams


def _visits(settings: Settings) -> tuple[tuple[int, ...], FloatArray, DailyShapes | None]:
    roles = list(settings.roles.items())
    rates = [visit_rates(settings, name) for name, _ in roles]
    those = tuple(
        number
        for number, (_, role) in enumerate(roles)
        if any(rates[number]) and role.kit_share > 0
    )
    if not those:
        return those, np.zeros((0, len(settings.classes))), None
    shapes = [daily_shape(roles[number][1].hours_of_day, settings.start) for number in those]
    per_day = np.array([rates[number] for number in those], dtype=np.float64)
    return those, per_day / DAY_S, side_by_side(*shapes)


@lru_cache(maxsize=64)
def _urgent(
    roles: tuple[str, ...], events: tuple[UrgentEvents | None, ...]
) -> tuple[FloatArray, IntArray]:
    per_day = np.array([0.0 if event is None else event.per_patient for event in events])
    teams = [
        [event.team if event is not None and event.role == name else 0 for event in events]
        for name in roles
    ]
    people = np.array(teams, dtype=np.int64).reshape(len(teams), len(events))
    people.setflags(write=False)
    per_s = per_day / DAY_S
    per_s.setflags(write=False)
    return per_s, people


@lru_cache(maxsize=64)
def _classes_below(shares: tuple[float, ...]) -> FloatArray:
    whole = np.array(shares, dtype=np.float64)
    total = whole.sum()
    summed = np.cumsum(whole / total) if total > 0 else np.ones(len(whole))
    summed[-1:] = 1.0
    summed.setflags(write=False)
    return summed


def _plan(settings: Settings) -> Plan:
    visiting, visits_per_s, shapes = _visits(settings)
    roles, classes = list(settings.roles.items()), settings.classes.values()
    urgent_per_s, teams = _urgent(tuple(settings.roles), tuple(one.urgent for one in classes))
    arrivals = settings.arrivals
    curve = undisturbed = None
    if arrivals is not None:
        undisturbed = expected_curve(arrivals, settings.start, settings.horizon)
        curve = expected_curve(arrivals, settings.start, settings.horizon, settings.disruptions)
    rooms = settings.rooms
    cleared_s = clearance_s(rooms)
    terminal = None if rooms is None else rooms.terminal_clean
    clean = None if terminal is None else fitted(terminal.room_time)
    isolation = tuple(fitted(one.isolation) for one in classes)
    classes_below = _classes_below(tuple(one.share for one in classes))
    found_below = None
    if arrivals is not None and arrivals.stay_at_start == "residual":
        found_below = _classes_below(found_shares(list(classes)))
    named = wearer_rules(settings.roles.values())
    # what is worked out once for all surges and held by the plan is told apart by where it lies;
    # the same arrivals have the same curve
    of_arrivals = id(curve), id(undisturbed)
    of_clean = id(clean), None if terminal is None else terminal.delay
    return Plan(
        times=tuple(role_times(settings, role) for _, role in roles),
        visiting=visiting,
        visits_per_s=visits_per_s,
        shapes=shapes,
        kit_share=tuple(roles[number][1].kit_share for number in visiting),
        longer=tuple(care_factors(settings, roles[number][0])[1] for number in visiting),
        urgent_per_s=urgent_per_s,
        teams=teams,
        classes_below=classes_below,
        found_below=found_below,
        isolation=isolation,
        wearer_rules=named,
        clearance_s=cleared_s,
        clean=clean,
        cleaned_in_a_kit=is_cleaned_in_a_kit(cleared_s, terminal),
        curve=curve,
        undisturbed=undisturbed,
        patients_alike=(of_arrivals, *map(id, isolation), classes_below.tobytes(), of_clean),
        entries_alike=(visiting, id(shapes), named),
    )


_plans: deque[tuple[Settings, Plan]] = deque(maxlen=_KEPT)


def plan_of(settings: Settings) -> Plan:
    """Return the plan of settings; the very same object again is not worked out again."""
    # by identity: comparing two trees of settings takes longer than drawing a small surge
    for known, plan in tuple(_plans):
        if known is settings:
            return plan
    plan = _plan(settings)
    _plans.appendleft((settings, plan))
    return plan
