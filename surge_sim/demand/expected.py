"""Patients and entries to expect at average rates, hour by hour, without drawing anything."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.distributions import Distribution, mean_s
from surge_sim.demand.patients import still_there
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.scenario.clearance import clean_in_a_kit
from surge_sim.scenario.patients import LoggedEntries
from surge_sim.scenario.schema import Settings
from surge_sim.units import HOUR_S

FloatArray = NDArray[np.float64]

#: steps of an hour in which the survival of stays is summed
_STEPS = 12


class ExpectedEntries(NamedTuple):
    """Entries of one role in a kit, by hour of the horizon; arrays of shape (hours,)."""

    role: str
    entries: FloatArray
    #: seconds that the entries of each hour spend in the room
    room_s: FloatArray


class ExpectedCourse(NamedTuple):
    """Expected course by hour of the horizon; the last hour may be cut by it."""

    #: mean patients in isolation, shape (hours,); 0 for a log of entries
    census: FloatArray
    #: a role may stand here more than once, with visits of other lengths
    by_role: tuple[ExpectedEntries, ...]
    #: patients who come within the horizon, those present at its start and clusters included
    patients_total: float

    @property
    def entries(self) -> FloatArray:
        """Entries that need a kit, shape (hours,)."""
        return np.sum([one.entries for one in self.by_role], axis=0) + np.zeros(len(self.census))


def expected_course(settings: Settings) -> ExpectedCourse:
    """Work out the expected patients and entries.

    Parameters
    ----------
    settings : Settings
        Settings in which no range is left.

    Returns
    -------
    ExpectedCourse
        The limit of rooms is ignored (boarded patients are visited too), unless patients are
        diverted: then no more than the rooms hold are counted.
    """
    plan, hours = plan_of(settings), -(-settings.horizon // HOUR_S)
    if settings.entries is not None and settings.entries.rows is not None:
        by_role = tuple(_of_log(plan, settings.entries.rows, hours))
        return ExpectedCourse(np.zeros(hours), by_role, 0.0)
    census, leaving, patients = _patients_by_class(plan, hours)
    limit = settings.rooms
    if limit is not None and limit.when_full == "divert":
        total = census.sum(axis=0)
        kept = np.minimum(1.0, np.divide(limit.count, total, out=np.ones(hours), where=total > 0))
        census, leaving = census * kept, leaving * kept
    by_role = (*_visits(plan, census), *_cleans(plan, leaving.sum(axis=0)))
    return ExpectedCourse(census.sum(axis=0), by_role, patients)


def _edges_s(plan: Plan, hours: int) -> NDArray[np.int64]:
    return np.minimum(np.arange(hours + 1, dtype=np.int64) * HOUR_S, plan.settings.horizon)


def _visits(plan: Plan, census: FloatArray) -> Iterator[ExpectedEntries]:
    """Expect routine visits and urgent teams from the census of each class."""
    edges_s = _edges_s(plan, census.shape[1])
    for name, role in zip(plan.role_names, plan.roles, strict=True):
        assert role.room is not None, "only a log names roles that are not described"
        in_room_s = role.room.mean_s()
        rates = role.visits_per_s * role.kit_share
        visits = (rates @ census) * np.diff(role.hours.busy(edges_s))
        yield ExpectedEntries(name, visits, visits * in_room_s * role.longer)
        people = ((plan.urgent_per_s * role.team) @ census) * np.diff(edges_s)
        yield ExpectedEntries(name, people, people * in_room_s)


def _cleans(plan: Plan, leaving: FloatArray) -> Iterator[ExpectedEntries]:
    """Expect the terminal cleans by somebody in a kit, in the hour in which they are due."""
    clean = clean_in_a_kit(plan.settings.rooms)
    if clean is None:
        return
    due = np.concatenate((np.zeros(clean.delay // HOUR_S), leaving))[: len(leaving)]
    # leavings are those of whole hours, and the horizon may cut the last one
    due *= np.diff(_edges_s(plan, len(leaving))) / HOUR_S
    yield ExpectedEntries(clean.role, due, due * mean_s(clean.room_time))


def _of_log(plan: Plan, rows: LoggedEntries, hours: int) -> Iterator[ExpectedEntries]:
    """Count the entries of a log as they are."""
    hour = rows.due_s // HOUR_S
    for number, name in enumerate(plan.role_names):
        those = rows.role == number
        entries = np.bincount(hour[those], minlength=hours).astype(np.float64)
        room_s = np.bincount(hour[those], rows.room_s[those].astype(np.float64), hours)
        yield ExpectedEntries(name, entries, np.asarray(room_s, dtype=np.float64))


def _patients_by_class(plan: Plan, hours: int) -> tuple[FloatArray, FloatArray, float]:
    """Mean census and leavings by class and hour, shape (classes, hours), and all patients."""
    census, leaving = np.zeros((2, len(plan.length_of_isolation), hours))
    arrivals = plan.settings.arrivals
    assert arrivals is not None and plan.curve is not None, "a log has been counted before"
    edges_s = _edges_s(plan, hours)
    by_hour = _in_hours(plan.curve.edges_s, plan.curve.expected, edges_s)
    if plan.extra is not None:
        by_hour = by_hour + _in_hours(*plan.extra, edges_s)
    shares = np.diff(plan.classes_below, prepend=0.0)
    residual = plan.found_below is not None
    found = shares if plan.found_below is None else np.diff(plan.found_below, prepend=0.0)
    coming = np.outer(shares, by_hour)
    for cluster, named in zip(arrivals.clusters, plan.cluster_classes, strict=True):
        whole = np.clip((edges_s - cluster.at) / (cluster.within + 1), 0.0, 1.0)
        patients = cluster.patients * np.diff(whole)
        coming += np.outer(shares if named is None else np.eye(len(shares))[named], patients)
    for number, stay in enumerate(plan.length_of_isolation):
        present = arrivals.initial_census * float(found[number])
        census[number], leaving[number] = _stays_by_hour(coming[number], present, stay, residual)
    return census, leaving, float(coming.sum()) + arrivals.initial_census


def _in_hours(
    slot_edges_s: NDArray[np.int64], expected: FloatArray, edges_s: NDArray[np.int64]
) -> FloatArray:
    """Share what is expected in slots out among the hours."""
    summed = np.concatenate(([0.0], np.cumsum(expected)))
    return np.diff(np.interp(edges_s, slot_edges_s, summed))


def _stays_by_hour(
    coming: FloatArray, present: float, stay: Distribution, residual: bool
) -> tuple[FloatArray, FloatArray]:
    """Mean census and expected leavings in each hour, from arrivals that are even in an hour.

    Those present at the start stay for the rest of their stay (``residual``), or for a whole one.
    """
    hours = len(coming)
    # half-way points, so that a fixed stay of whole hours is summed exactly
    half_way_s = (np.arange(hours * _STEPS, dtype=np.float64) + 0.5) * (HOUR_S / _STEPS)
    alive = stay.longer_than(half_way_s)
    step = 1 / _STEPS
    once = np.concatenate(([0.0], np.cumsum(alive) * step))
    twice = np.concatenate(([0.0], np.cumsum((once[1:] + once[:-1]) / 2) * step))[::_STEPS]
    # share of those who came in hour j that are here at the end of, and on average in, hour j + k
    at_end = np.diff(once[::_STEPS])
    in_hour = np.diff(np.concatenate(([0.0], np.diff(twice))))

    def goes_on(times_s: FloatArray) -> FloatArray:
        return still_there(stay, times_s) if residual else stay.longer_than(times_s)

    here = goes_on(np.arange(hours + 1, dtype=np.float64) * HOUR_S)
    here_in_hour = goes_on(half_way_s).reshape(hours, _STEPS).mean(axis=1)
    census = _convolved(coming, in_hour) + present * here_in_hour
    now = np.concatenate(([0.0], _convolved(coming, at_end))) + present * here
    now[0] = present
    return census, np.maximum(coming - np.diff(now), 0.0)


def _convolved(first: FloatArray, second: FloatArray) -> FloatArray:
    """Convolution of two courses of equal length, as long as they are."""
    size = 2 * len(first)
    product = np.fft.rfft(first, size) * np.fft.rfft(second, size)
    return np.maximum(np.fft.irfft(product, size)[: len(first)], 0.0)
