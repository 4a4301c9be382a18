"""Average-rate arithmetic: kits, batteries and bays that the expected entries keep busy.

No queue and no chance: the real need is higher, which is why the rest of the program exists.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.expected import ExpectedCourse, expected_course
from surge_sim.equipment.upkeep import upkeep_of
from surge_sim.scenario.schema import Settings
from surge_sim.units import DAY_S, HOUR_S

FloatArray = NDArray[np.float64]


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
        a shift. See also :func:`surge_sim.demand.expected.expected_course`.
    """
    course = expected_course(settings)
    entries, hours = course.entries, len(course.census)
    kit_s, run_s, battery_s, charge_s = _bound_s(settings, course)
    window = min(24, hours)
    first = _busiest_run(kit_s, window)
    peak = slice(first, first + window)
    busiest = int(np.argmax(kit_s))
    length_s = min(window * HOUR_S, settings.horizon)

    def busy(seconds: FloatArray) -> float:
        return float(seconds[peak].sum()) / length_s

    def busy_hour(seconds: FloatArray) -> float:
        last_s = settings.horizon - busiest * HOUR_S
        return float(seconds[busiest]) / min(HOUR_S, last_s)

    return ExpectedLoad(
        patients_total=course.patients_total,
        entries_per_day_mean=float(entries.sum()) / (settings.horizon / DAY_S),
        entries_per_day_peak=float(entries[peak].sum()) * DAY_S / length_s,
        peak_day=int((first + window / 2) // 24) + 1,
        kit_hours_per_day_peak=24 * busy(kit_s),
        battery_hours_per_day_peak=24 * busy(run_s),
        kits_busy_at_peak=busy(kit_s),
        batteries_busy_at_peak=busy(battery_s),
        bays_busy_at_peak=busy(charge_s),
        census_peak=float(course.census.max(initial=0.0)),
        busiest_hour=busiest,
        entries_in_busiest_hour=float(entries[busiest]),
        kits_busy_in_busiest_hour=busy_hour(kit_s),
        batteries_busy_in_busiest_hour=busy_hour(battery_s),
        bays_busy_in_busiest_hour=busy_hour(charge_s),
    )


def _busiest_run(values: FloatArray, length: int) -> int:
    """Begin of the run of so many hours with the largest sum."""
    summed = np.concatenate(([0.0], np.cumsum(values)))
    return int(np.argmax(np.round(summed[length:] - summed[:-length], 6)))


def _bound_s(
    settings: Settings, course: ExpectedCourse
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Seconds for which the entries of each hour bind things; arrays of shape (hours,).

    Of kits; of batteries that run; of batteries in a kit or charging; of bays.
    """
    kit_s, run_s, battery_s, charge_s = np.zeros((4, len(course.census)))
    for name, entries, room_s in course.by_role:
        upkeep = upkeep_of(settings, settings.roles.get(name))
        worn_s = entries * upkeep.don_doff_s + room_s
        mean_worn_s = float(worn_s.sum() / entries.sum()) if entries.any() else 0.0
        charging_s = entries * upkeep.charge_s(mean_worn_s)
        run_s += worn_s
        kit_s += entries * (upkeep.check_s + upkeep.turnaround_s) + worn_s
        battery_s += entries * upkeep.check_s + worn_s + charging_s
        charge_s += charging_s
    return kit_s, run_s, battery_s, charge_s
