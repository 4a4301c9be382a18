"""Average workload: kits, batteries and bays that the expected entries keep busy, and warnings.

No queue and no chance: the real need is higher, which is why the rest of the program exists.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.distributions import mean_s
from surge_sim.demand.expected import ExpectedCourse, expected_course
from surge_sim.demand.plan import ordinary_days, plan_of
from surge_sim.equipment.charge_end import logarithm_of_fall
from surge_sim.scenario.clearance import clean_in_a_kit
from surge_sim.scenario.schema import Batteries, Cleaning, Settings
from surge_sim.scenario.timeline import BatteriesOnLoan, KitsOnLoan, lent
from surge_sim.units import DAY_S, HOUR_S

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario

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
    #: hours that kits are bound: check, wear, carrying, wipe-down, wet and dry time
    kit_hours_per_day_peak: float
    #: hours that batteries run
    battery_hours_per_day_peak: float
    kits_busy_at_peak: float
    #: in a kit (check, wear, carrying) or charging
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
    #: until then [s] the stock in hand is not in use as it will be, see `start_shows_s`; at most
    #: the horizon
    start_shows_s: int


def expected_load(settings: Settings) -> ExpectedLoad:
    """Work out patients, entries and offered loads at average rates.

    Parameters
    ----------
    settings : Settings
        Settings in which no range is left.

    Returns
    -------
    ExpectedLoad
        Ignores what depends on waiting: queues, alarms, repairs, entries given up, kits kept for
        a shift or a round. See also :func:`surge_sim.demand.expected.expected_course`.
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
        start_shows_s=_start_shows_s(settings, entries, float(run_s.sum())),
    )


def start_shows_s(settings: Settings) -> int:
    """Return until when a play shows that it began with all kits ready and all batteries full [s].

    Kits and batteries are used one after the other, at average rates: until each kit has been
    used and is clean again, and each battery has been drained as far as the rules let it, and is
    charged. At most the horizon.
    """
    course = expected_course(settings)
    run_s = _bound_s(settings, course)[1]
    return _start_shows_s(settings, course.entries, float(run_s.sum()))


def run_in_shows_s(settings: Settings) -> int:
    """Return the same of the days of the run-in; their length, if it shows until the surge."""
    return start_shows_s(ordinary_days(settings))


def _start_shows_s(settings: Settings, entries: FloatArray, run_s: float) -> int:
    stock, fleet, horizon_s = settings.stock, settings.batteries, settings.horizon
    count = np.concatenate(([0.0], np.cumsum(entries)))
    if not count[-1] or not stock.batteries:
        return horizon_s
    run_time_s = settings.kit.levels[0].run_time * sum(fleet.healths(stock.batteries))
    drained = run_s / float(count[-1]) * stock.batteries / run_time_s
    # a battery is put to charge once it is below this, or when a held kit cannot go on with it
    held = settings.policy.kit != "per entry"
    spent = fleet.minimum_run_time * stock.batteries / run_time_s
    least = spent if held else settings.charging.charge_below
    uses = max(1.0, (1.0 - least) / drained) if drained else 1.0
    ends_s = [
        _time_of(count, stock.kits) + _turnaround_s(settings.cleaning),
        _time_of(count, stock.batteries * uses) + fleet.charge_time,
    ]
    return round(min(max(ends_s), horizon_s))


def _time_of(count: FloatArray, entries: float) -> float:
    """Return when so many entries are expected [s]; infinite, if they never are."""
    if entries > count[-1]:
        return math.inf
    hours = np.arange(len(count), dtype=np.float64)
    return float(np.interp(entries, count, hours)) * HOUR_S


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
    kit, carrying, turnaround_s = settings.kit, settings.carrying, _turnaround_s(settings.cleaning)
    # with its battery in it
    carried_s = kit.pre_use_check + carrying.fetch + carrying.bring_back
    kit_s, run_s, battery_s, charge_s = np.zeros((4, len(course.census)))
    for name, entries, room_s in course.by_role:
        # a log may name a role that is not described
        role = settings.roles.get(name)
        don, doff = (kit.don, kit.doff) if role is None else (role.don, role.doff)
        worn_s = entries * (mean_s(don or kit.don) + mean_s(doff or kit.doff)) + room_s
        mean_worn_s = float(worn_s.sum() / entries.sum()) if entries.any() else 0.0
        bay_s, cooling_s = _charge_s(settings, mean_worn_s)
        charging_s = entries * bay_s
        run_s += worn_s
        kit_s += entries * (carried_s + carrying.to_cleaning + turnaround_s) + worn_s
        battery_s += entries * (carried_s + cooling_s) + worn_s + charging_s
        charge_s += charging_s
    return kit_s, run_s, battery_s, charge_s


def _charge_s(settings: Settings, worn_s: float) -> tuple[float, float]:
    """Mean bay time, and time of cooling down, [s] that an entry worn so long [s] causes.

    A battery goes on to a bay once its charge is below the scenario's threshold, and is charged
    full. The end of a charge is the slow part: topping up after short wear takes longer than its
    share of the charge time.
    """
    fleet, run_time_s = settings.batteries, settings.kit.levels[0].run_time
    below, healths = settings.charging.charge_below, fleet.listed_healths
    if worn_s <= 0 or not healths:
        return 0.0, 0.0
    total = charges = 0.0
    for health in healths:
        drained = worn_s / (run_time_s * health)
        uses = 1 if below >= 1 else max(1, int((1 - below) / drained) + 1)
        total += _to_full_s(fleet, min(uses * drained, 1.0)) * health / uses
        charges += 1 / uses
    charging = settings.charging
    total += charges * charging.time_to_connect
    return total / len(healths), charges * charging.cool_down / len(healths)


def _to_full_s(fleet: Batteries, drained: float) -> float:
    """Charge time [s] of a battery of full health of which such a share is drained."""
    slow = 1 - fleet.constant_current_to
    if drained <= slow:
        fall, left = 0.0, drained / slow
        if fleet.end_of_charge == "exponential":
            fall = logarithm_of_fall(fleet.constant_current_to, fleet.constant_current_time)
        if fall:
            # the same as log(1 + left x (exp(fall) - 1)) / fall, which overflows where it falls far
            left = 1 + math.log(left + (1 - left) * math.exp(-fall)) / fall
        return left * (1 - fleet.constant_current_time) * fleet.charge_time
    quick = (drained - slow) / fleet.constant_current_to * fleet.constant_current_time
    return (1 - fleet.constant_current_time + quick) * fleet.charge_time


def _turnaround_s(cleaning: Cleaning) -> float:
    """Mean time from taking a kit off to its being ready, without any queue."""
    if cleaning.by == "central":
        # 24:00 is 00:00 of the next day
        of_day_s = sorted({at_s % DAY_S for at_s in cleaning.rounds})
        return _central_s(of_day_s, cleaning.turnaround)
    wipe_s = 0.0 if cleaning.wipe_down is None else mean_s(cleaning.wipe_down)
    return wipe_s + cleaning.contact_time + cleaning.drying_time


def _central_s(rounds_s: list[int], turnaround_s: int) -> float:
    """Mean wait for a round, and from it to the first round after the turnaround."""
    total = 0.0
    for number, at_s in enumerate(rounds_s):
        gap_s = (at_s - rounds_s[number - 1]) % DAY_S or DAY_S
        back_s = min(turnaround_s + (later - at_s - turnaround_s) % DAY_S for later in rounds_s)
        total += gap_s / DAY_S * (gap_s / 2 + back_s)
    return total


def missing_maximum_wait(settings: Settings) -> str:
    """Name the maximum wait of the policy without which some entries wait until they are served.

    Returns
    -------
    str
        ``maximum_wait``; where all entries are urgent ``urgent_maximum_wait``; empty if none is
        missing.
    """
    names, policy = _routine_roles(settings), settings.policy
    if not names:
        return "" if policy.urgent_maximum_wait is not None else "urgent_maximum_wait"
    roles = (settings.roles.get(name) for name in names)
    endless = any(role is None or role.maximum_wait is None for role in roles)
    return "maximum_wait" if policy.maximum_wait is None and endless else ""


def _routine_roles(settings: Settings) -> set[str]:
    """Return the roles that make entries in a kit that are not urgent."""
    plan, clean = plan_of(settings), clean_in_a_kit(settings.rooms)
    if settings.entries is not None and settings.entries.rows is not None:
        rows = settings.entries.rows
        return {plan.role_names[number] for number in rows.role[~rows.urgent].tolist()}
    visits = zip(plan.role_names, plan.roles, strict=True)
    names = {name for name, role in visits if role.visits_per_s.any()}
    return names if clean is None else {*names, clean.role}


def _on_loan(settings: Settings, at_s: int) -> dict[str, int]:
    """Return how many kits and batteries are on loan at a moment; each kit has a battery."""
    there = [one for one in settings.timeline if one.at <= at_s < one.until]
    kits = sum(one.kits for one in there if isinstance(one, KitsOnLoan))
    batteries = sum(one.batteries for one in there if isinstance(one, BatteriesOnLoan))
    return {"kits": kits, "batteries": kits + batteries}


def all_warnings(
    scenario: Scenario, kits: int | None = None, batteries: int | None = None
) -> tuple[str, ...]:
    """Return the warnings that `check`, `run` and `size` show, in the same words.

    Parameters
    ----------
    scenario : Scenario
        A loaded scenario.
    kits, batteries : int, optional
        The stock that is played, where it is not the one in hand.
    """
    settings = scenario.settings
    have = {
        "kits": settings.stock.kits if kits is None else kits,
        "batteries": settings.stock.batteries if batteries is None else batteries,
    }
    name = missing_maximum_wait(settings)
    # another warning tells of a stock without kits or batteries
    if not name or any(not have[things] and not lent(things, settings.timeline) for things in have):
        return scenario.warnings
    load = expected_load(settings)
    # in the middle of the busiest day
    on_loan = _on_loan(settings, load.peak_day * DAY_S - DAY_S // 2)
    in_use = load.batteries_busy_at_peak
    if settings.charging.partial_charge_at_reissue:
        in_use -= load.bays_busy_at_peak
    busy = {"kits": load.kits_busy_at_peak, "batteries": in_use}
    example = {"maximum_wait": "45 min", "urgent_maximum_wait": "10 min"}[name]
    for things, held in have.items():
        if busy[things] > held + on_loan[things]:
            loan = f" and {on_loan[things]} on loan" if on_loan[things] else ""
            said = (
                f"is not set, and on the peak day {busy[things]:.1f} {things} are busy on average "
                f"with {held} in stock{loan}: the line grows all day, and mean waits can be days. "
                f"Give the maximum wait of your unit, for example `{name}: {example}`."
            )
            return (*scenario.warnings, scenario.tree.warning(("policy", name), said))
    return scenario.warnings
