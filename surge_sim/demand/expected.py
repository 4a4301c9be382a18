"""Average-rate arithmetic: what to expect of a scenario, without drawing or playing anything.

Expected patients by hour, from the curve of admissions and the lengths of isolation; from them
the entries, and the hours for which kits, batteries and bays are bound. No queue, no luck:
the real need is higher, which is why the rest of the program exists.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import daily_shape
from surge_sim.demand.curve import expected_curve
from surge_sim.demand.plan import care_factors, visit_rates
from surge_sim.demand.residual import found_shares, still_there
from surge_sim.demand.rooms import clearance_s, is_cleaned_in_a_kit
from surge_sim.demand.spread import mean_s, still_going
from surge_sim.demand.upkeep import Upkeep, upkeep_of
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.units import DAY_S, HOUR_S

FloatArray = NDArray[np.float64]

#: steps of an hour in which the survival of stays is summed
_STEPS = 12


@dataclass(frozen=True)
class ExpectedLoad:
    """Average-rate arithmetic of a scenario.

    'At the peak' is the mean over the 24 hours with most kit-hours; 'in the busiest hour' is
    the single hour with most of them. ``busy`` numbers are offered loads: rate x time bound.
    """

    #: patients who come within the horizon, those present at its start and clusters included
    patients_total: float
    #: mean entries that need a kit, per day over the horizon
    entries_per_day_mean: float
    entries_per_day_peak: float
    #: day of the horizon, from 1, with the middle of the peak's 24 hours
    peak_day: int
    #: hours that kits are bound: check, wear, wipe-down, wet and dry time
    kit_hours_per_day_peak: float
    #: hours that batteries run
    battery_hours_per_day_peak: float
    kits_busy_at_peak: float
    #: in a kit (check and wear) or charging
    batteries_busy_at_peak: float
    bays_busy_at_peak: float
    #: most patients in isolation at once, as the mean of an hour; 0 for a log of entries
    census_peak: float
    #: hour of the horizon, from 0, with most kit-hours
    busiest_hour: int
    entries_in_busiest_hour: float
    kits_busy_in_busiest_hour: float
    batteries_busy_in_busiest_hour: float
    bays_busy_in_busiest_hour: float


class ExpectedCourse(NamedTuple):
    """Expected course by hour of the horizon; arrays of shape (hours,).

    The last hour may be cut by the horizon.
    """

    #: mean patients in isolation
    census: FloatArray
    #: entries that need a kit
    entries: FloatArray
    #: seconds of the needs of each hour: kits bound, batteries running, in a kit, charging
    kit_s: FloatArray
    run_s: FloatArray
    battery_s: FloatArray
    charge_s: FloatArray
    patients_total: float


def expected_load(settings: Settings) -> ExpectedLoad:
    """Work out patients, entries and offered loads at average rates.

    Parameters
    ----------
    settings : Settings
        Settings in which no range is left.

    Returns
    -------
    ExpectedLoad
        Ignores what depends on waiting: queues, alarms, repairs, entries given up, kits held for
        a shift. The limit of rooms is ignored (boarded patients are visited too), unless patients
        are diverted: then no more than the rooms hold are counted.
    """
    course = expected_course(settings)
    hours = len(course.entries)
    window = min(24, hours)
    first = _busiest_run(course.kit_s, window)
    peak = slice(first, first + window)
    busiest = int(np.argmax(course.kit_s))
    length_s = min(window * HOUR_S, settings.horizon)

    def busy(seconds: FloatArray) -> float:
        return float(seconds[peak].sum()) / length_s

    def busy_hour(seconds: FloatArray) -> float:
        last_s = settings.horizon - busiest * HOUR_S
        return float(seconds[busiest]) / min(HOUR_S, last_s)

    days = settings.horizon / DAY_S
    return ExpectedLoad(
        patients_total=course.patients_total,
        entries_per_day_mean=float(course.entries.sum()) / days,
        entries_per_day_peak=float(course.entries[peak].sum()) * DAY_S / length_s,
        peak_day=int((first + window / 2) // 24) + 1,
        kit_hours_per_day_peak=24 * busy(course.kit_s),
        battery_hours_per_day_peak=24 * busy(course.run_s),
        kits_busy_at_peak=busy(course.kit_s),
        batteries_busy_at_peak=busy(course.battery_s + course.charge_s),
        bays_busy_at_peak=busy(course.charge_s),
        census_peak=float(course.census.max(initial=0.0)),
        busiest_hour=busiest,
        entries_in_busiest_hour=float(course.entries[busiest]),
        kits_busy_in_busiest_hour=busy_hour(course.kit_s),
        batteries_busy_in_busiest_hour=busy_hour(course.battery_s + course.charge_s),
        bays_busy_in_busiest_hour=busy_hour(course.charge_s),
    )


def _busiest_run(values: FloatArray, length: int) -> int:
    """Begin of the run of so many hours with the largest sum."""
    summed = np.concatenate(([0.0], np.cumsum(values)))
    return int(np.argmax(np.round(summed[length:] - summed[:-length], 6)))


def expected_course(settings: Settings) -> ExpectedCourse:
    """Work out the expected course by hour; see :func:`expected_load`."""
    if settings.entries is not None and settings.entries.rows is not None:
        return _course_of_log(settings)
    hours = -(-settings.horizon // HOUR_S)
    edges_s = np.minimum(np.arange(hours + 1, dtype=np.int64) * HOUR_S, settings.horizon)
    part = np.diff(edges_s) / HOUR_S
    census, leaving, patients = _patients_by_class(settings, hours)
    limit = settings.rooms
    if limit is not None and limit.when_full == "divert":
        total = census.sum(axis=0)
        kept = np.minimum(1.0, np.divide(limit.count, total, out=np.ones(hours), where=total > 0))
        census, leaving = census * kept, leaving * kept
    tally = _Tally(hours)
    for name, role in settings.roles.items():
        shape = daily_shape(role.hours_of_day, settings.start)
        rates = np.array(visit_rates(settings, name)) / DAY_S * role.kit_share
        visits = (rates @ census) * np.diff(shape.busy(edges_s))
        _, longer = care_factors(settings, name)
        upkeep = upkeep_of(settings, role)
        tally.add(visits, upkeep, mean_s(role.room_time) * longer)
        for number, one in enumerate(settings.classes.values()):
            if one.urgent is not None and one.urgent.role == name:
                events = census[number] * part * one.urgent.per_patient / 24
                tally.add(events * one.urgent.team, upkeep, mean_s(role.room_time))
    _add_cleans(settings, leaving.sum(axis=0), tally)
    return ExpectedCourse(
        census.sum(axis=0), tally.entries, tally.kit_s, tally.run_s, tally.battery_s,
        tally.charge_s, patients,
    )  # fmt: skip


class _Tally:
    """Sums entries and bound seconds by hour."""

    def __init__(self, hours: int) -> None:
        self.entries, self.kit_s, self.run_s, self.battery_s, self.charge_s = np.zeros((5, hours))

    def add(self, entries: FloatArray, upkeep: Upkeep, room_s: float) -> None:
        """Add entries of so long in the room."""
        worn_s = upkeep.don_doff_s + room_s
        self.entries += entries
        self.run_s += entries * worn_s
        self.kit_s += entries * (upkeep.check_s + worn_s + upkeep.turnaround_s)
        self.battery_s += entries * (upkeep.check_s + worn_s)
        self.charge_s += entries * upkeep.charge_s(worn_s)


def _add_cleans(settings: Settings, leaving: FloatArray, tally: _Tally) -> None:
    """Add the terminal cleans by somebody in a kit, in the hour in which they are due."""
    rooms = settings.rooms
    clean = None if rooms is None else rooms.terminal_clean
    if clean is None or not is_cleaned_in_a_kit(clearance_s(rooms), clean):
        return
    late = clean.delay // HOUR_S
    due = np.concatenate((np.zeros(late), leaving))[: len(leaving)]
    upkeep = upkeep_of(settings, settings.roles[clean.role])
    tally.add(due, upkeep, mean_s(clean.room_time))


def _course_of_log(settings: Settings) -> ExpectedCourse:
    assert settings.entries is not None and settings.entries.rows is not None
    rows = settings.entries.rows
    hours = -(-settings.horizon // HOUR_S)
    tally = _Tally(hours)
    for number, name in enumerate(rows.role_names):
        upkeep = upkeep_of(settings, settings.roles.get(name))
        those = rows.role == number
        hour = np.minimum(rows.due_s[those] // HOUR_S, hours - 1)
        count = np.bincount(hour, minlength=hours).astype(np.float64)
        room_s = np.bincount(hour, weights=rows.room_s[those], minlength=hours)
        mean_room_s = float(room_s.sum() / max(count.sum(), 1))
        tally.add(count, upkeep, mean_room_s)
        # the sums of the log's own room times, hour by hour, in place of their mean
        over_s = room_s - count * mean_room_s
        for total in (tally.run_s, tally.kit_s, tally.battery_s):
            total += over_s
    census = np.zeros(hours)
    return ExpectedCourse(
        census, tally.entries, tally.kit_s, tally.run_s, tally.battery_s, tally.charge_s, 0.0
    )


def _patients_by_class(settings: Settings, hours: int) -> tuple[FloatArray, FloatArray, float]:
    """Mean census and leavings by class and hour, shape (classes, hours), and all patients."""
    classes = list(settings.classes)
    census, leaving = np.zeros((2, len(classes), hours))
    arrivals = settings.arrivals
    if arrivals is None:
        return census, leaving, 0.0
    curve = expected_curve(arrivals, settings.start, settings.horizon, settings.disruptions)
    grid_s = np.minimum(np.arange(hours + 1) * HOUR_S, settings.horizon)
    summed = np.concatenate(([0.0], np.cumsum(curve.expected)))
    coming = np.diff(np.interp(grid_s, curve.edges_s, summed))
    shares = np.array([one.share for one in settings.classes.values()])
    shares = shares / shares.sum() if shares.sum() > 0 else shares
    total = float(summed[-1]) + arrivals.present_at_start
    residual = arrivals.stay_at_start == "residual"
    found = np.array(found_shares(list(settings.classes.values()))) if residual else shares
    found = found / found.sum() if found.sum() > 0 else found
    for number, (name, one) in enumerate(settings.classes.items()):
        by_hour = coming * shares[number]
        for cluster in arrivals.clusters:
            if cluster.patient_class in (None, name):
                share = shares[number] if cluster.patient_class is None else 1.0
                cluster_hours = _cluster_by_hour(cluster.at, cluster.within, grid_s)
                by_hour = by_hour + share * cluster.patients * cluster_hours
                total += float(share * cluster.patients * cluster_hours.sum())
        present = arrivals.present_at_start * found[number]
        goes_on = still_there if residual else still_going
        census[number], leaving[number] = _stays_by_hour(by_hour, present, one.isolation, goes_on)
    return census, leaving, total


def _cluster_by_hour(at_s: int, within_s: int, grid_s: FloatArray) -> FloatArray:
    """Share of a cluster that comes in each hour."""
    come = (grid_s - at_s) / (within_s + 1)
    return np.asarray(np.diff(np.clip(come, 0.0, 1.0)))


def _stays_by_hour(
    coming: FloatArray,
    present: float,
    isolation: TimeSpread,
    goes_on: Callable[[TimeSpread, FloatArray], FloatArray],
) -> tuple[FloatArray, FloatArray]:
    """Mean census and expected leavings in each hour, from arrivals that are even in an hour.

    ``goes_on`` says which share of those present at the start still stay after so long.
    """
    hours = len(coming)
    # half-way points, so that a fixed stay of whole hours is summed exactly
    half_way_s = (np.arange(hours * _STEPS, dtype=np.float64) + 0.5) * (HOUR_S / _STEPS)
    alive = still_going(isolation, half_way_s)
    step = 1 / _STEPS
    once = np.concatenate(([0.0], np.cumsum(alive) * step))
    twice = np.concatenate(([0.0], np.cumsum((once[1:] + once[:-1]) / 2) * step))[::_STEPS]
    # share of those who came in hour j that are here at the end of, and on average in, hour j + k
    at_end = np.diff(once[::_STEPS])
    in_hour = np.diff(np.concatenate(([0.0], np.diff(twice))))
    here = goes_on(isolation, np.arange(hours + 1, dtype=np.float64) * HOUR_S)
    here_in_hour = goes_on(isolation, half_way_s).reshape(hours, _STEPS).mean(axis=1)
    census = _convolved(coming, in_hour) + present * here_in_hour
    now = np.concatenate(([0.0], _convolved(coming, at_end))) + present * here
    now[0] = present
    return census, np.maximum(coming - np.diff(now), 0.0)


def _convolved(first: FloatArray, second: FloatArray) -> FloatArray:
    """Convolution of two courses of equal length, as long as they are."""
    size = 2 * len(first)
    product = np.fft.rfft(first, size) * np.fft.rfft(second, size)
    return np.maximum(np.fft.irfft(product, size)[: len(first)], 0.0)
