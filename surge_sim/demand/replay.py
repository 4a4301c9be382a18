"""A recorded log that is played: its entries, and what is drawn anew for each play of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from surge_sim.demand.distributions import fitted
from surge_sim.demand.entries import Columns, Visits, in_order, joined, with_details
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.randomness import Kind, Streams
from surge_sim.scenario.advice import unlike_batteries
from surge_sim.scenario.patients import LoggedEntries
from surge_sim.scenario.ranges import Range
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.timeline import CareBundled, EntriesPostponed

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario

#: sections that a log leaves unused: it holds the entries that they would give
_UNUSED_SECTIONS = ("arrivals", "classes", "rooms")
#: what a log takes from the section of a role
_OF_ROLES = ("don", "doff", "maximum_wait")


@dataclass(frozen=True)
class Replay:
    """One recorded period that is played instead of simulated surges."""

    #: the log, as the scenario names it
    file: str
    #: what is drawn anew for each play, in words; empty: every play is the same
    drawn: tuple[str, ...] = ()
    #: whether the log holds waits, with which `surge-sim run` compares those of the plays
    waits: bool = False

    @property
    def alike(self) -> bool:
        """Whether every play is the same, so that one says all."""
        return not self.drawn

    def plays(self, wanted: int) -> int:
        """Return how many plays are worth while of so many that are wanted."""
        return 1 if self.alike else wanted


def replay_of(scenario: Scenario) -> Replay | None:
    """Return what is played when the scenario names a log of entries; None when it draws demand."""
    settings = scenario.settings
    if settings.entries is None:
        return None
    inputs = [one.name for one in used_ranges(scenario)]
    listed = [f"uncertain inputs ({', '.join(inputs)})"] if inputs else []
    rows = settings.entries.rows
    waits = rows is not None and rows.wait_s is not None
    return Replay(settings.entries.file, (*listed, *_drawn(settings)), waits)


def used_ranges(scenario: Scenario) -> tuple[Range, ...]:
    """Return the uncertain inputs that a surge, or a play of a log, depends on."""
    return tuple(one for one in scenario.ranges if _is_used(one, scenario.settings))


def _is_used(one: Range, settings: Settings) -> bool:
    section = one.path[0]
    if settings.entries is None:
        return True
    if section == "roles":
        return one.path[1] in _roles(settings) and one.path[2] in _OF_ROLES
    return section not in _UNUSED_SECTIONS and one.path[:2] != ("policy", "bundled_care")


def _roles(settings: Settings) -> tuple[str, ...]:
    rows = None if settings.entries is None else settings.entries.rows
    return () if rows is None else rows.role_names


def _drawn(settings: Settings) -> Iterator[str]:
    """Name what is drawn for each play beside a log: see `logged_entries` and `WorkDraws`."""
    failures, filters, wipe = settings.failures, settings.filters, settings.cleaning.wipe_down
    roles = plan_of(settings).roles
    if any(one.don.varies for one in roles):
        yield "times to put on"
    if any(one.doff.varies for one in roles):
        yield "times to take off"
    if settings.cleaning.by != "central" and _varies(wipe):
        yield "wipe-down times"
    if filters is not None:
        if _varies(filters.prefilter_life) or _varies(filters.he_filter_life):
            yield "filter lives"
        if filters.at_start == "part worn":
            yield "wear of the filters at the start"
    if failures.blower_run_between_failures is not None:
        yield "blower failures"
        if _varies(failures.repair_time):
            yield "repair times"
    if failures.battery_run_between_failures is not None:
        yield "battery failures"
        if _varies(failures.battery_replacement_time):
            yield "times to replace batteries"
    if failures.charger_time_between_failures is not None:
        yield "charger failures"
        if _varies(failures.charger_repair_time):
            yield "repair times of chargers"
    if settings.batteries.issued == "any usable" and unlike_batteries(settings):
        yield "the choice of the battery that is issued"
    if any(0 < share < 1 for share in _shares(settings)):
        yield "the choice of entries that are bundled or postponed"
    # a share of 0 or 100 % is no chance
    if 0 < failures.hood_damage < 1:
        yield "damage to hoods"
    if 0 < failures.tube_damage < 1:
        yield "damage to tubes"
    if 0 < settings.kit.large_hood_share < 1:
        yield "the wearers who need a large hood"


def _varies(spread: TimeSpread | None) -> bool:
    return spread is not None and fitted(spread).varies


def _shares(settings: Settings) -> Iterator[float]:
    """Give the shares of entries that changes concern."""
    for change in settings.timeline:
        if isinstance(change, CareBundled):
            yield change.dropped
        elif isinstance(change, EntriesPostponed):
            yield change.share


def logged_entries(plan: Plan, streams: Streams, rows: LoggedEntries) -> Columns:
    """Return the entries of a log, in the order of the demand, with their wearers.

    Times of need, room times, roles, urgency and wearers are the log's. What a log does not
    hold is drawn as usual: donning, doffing, torn hoods and tubes. A role that the scenario
    describes too lends its donning, doffing and maximum wait.
    """
    by_role = [np.flatnonzero(rows.role == number) for number in range(len(plan.roles))]
    tables = []
    for number, those in enumerate(by_role):
        nobody = np.full(len(those), -1, dtype=np.int64)
        visits = Visits(Kind.LOGGED, number, rows.due_s[those], nobody, rows.room_s[those])
        tables.append(with_details(plan, streams, visits))
    in_order_of_log = np.concatenate(by_role).argsort()
    columns = {name: column[in_order_of_log] for name, column in joined(tables).items()}
    columns["urgent"], columns["wearer"] = rows.urgent, rows.wearer
    columns["maximum_wait_s"] = np.where(
        rows.urgent, plan.urgent_maximum_wait_s, columns["maximum_wait_s"]
    )
    return in_order(columns)
