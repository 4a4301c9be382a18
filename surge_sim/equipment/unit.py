"""A unit: its equipment numbers and rules in force, with the chance that belongs to its things."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.demand.work import BLOCK, WorkArrays, WorkDraws, usual_wipes
from surge_sim.equipment.batteries import FULL, least_charge
from surge_sim.equipment.crews import calendar_rows
from surge_sim.equipment.timeline import InForce, Whole, whole
from surge_sim.scenario.schema import Cleaning, Settings, Supply
from surge_sim.units import DAY_S

#: numbers of the ways to wipe down
BY_WEARER, BY_CREW, CENTRAL = 0, 1, 2
#: lives of each blower that nearly always suffice
USUAL_LIVES = 16


class Rules(NamedTuple):
    """Whole numbers of the unit, whatever its stock; times [s], shares [ppm], switches 0 or 1."""

    # kit
    check_s: int
    recheck_first_s: int
    recheck_every_s: int
    single_use_hoods: int
    #: by flow level
    run_time_s: Whole
    life_ppm: Whole
    # filters and faults
    has_filters: int
    has_faults: int
    prefilter_change_s: int
    main_turnaround_s: int
    first_clock_s: int
    first_weekday: int
    open_s: int
    shut_s: int
    weekend: int
    # batteries and charging
    reserve_s: int
    #: least charge to be handed out, by level
    least_charge: Whole
    #: capacity, charge and time of the knee, charge time of the batteries, shape (batteries, 4);
    #: they repeat over the fleet
    fleet: Whole
    charge_below_ppm: int
    #: 0: a full battery leaves its bay at once
    rounds_every_s: int
    # cleaning
    cleaning: int
    wet_dry_s: int
    # supplies, by number of the supply
    endless: Whole
    spares: Whole
    reorder_at: Whole
    lot: Whole
    lead_s: Whole
    # policy
    short_wipe_s: int
    postponed: int
    postponed_by_s: int
    # target
    wait_s: int
    urgent_wait_s: int
    #: what may change during a surge, as it is without any change
    usual: InForce
    calendar: Calendar


class Calendar(NamedTuple):
    """What the clock brings day after day: crews on duty, collection rounds."""

    cleaning: Cleaning
    start: datetime
    closing_s: int
    #: see `rows_of`, without absent or extra cleaners
    rows: Whole
    #: by how much the value of each row grows with one cleaner more on every shift
    more: Whole


def _ppm(share: float) -> int:
    return round(share * 1_000_000)


def rules_of(settings: Settings) -> Rules:
    """Bring one surge's settings to whole numbers.

    Parameters
    ----------
    settings : Settings
        Ranges drawn.

    Returns
    -------
    Rules
        Read-only arrays; shares rounded to one part in a million.
    """
    kit, filters, policy = settings.kit, settings.filters, settings.policy
    fleet, charging, target = settings.batteries, settings.charging, settings.target
    start = settings.start
    hours = filters.working_hours if filters is not None else None
    run_time_s = [level.run_time for level in kit.levels]
    further = np.cumsum([0.0] + [level.further_life for level in kit.levels[1:]])
    shelf = settings.supplies
    spares: list[Supply | None] = [shelf.hoods, shelf.tubes, shelf.prefilters, shelf.main_filters]
    return Rules(
        check_s=kit.check,
        recheck_first_s=kit.recheck.first_after if kit.recheck else 0,
        recheck_every_s=kit.recheck.then_every if kit.recheck else 1,
        single_use_hoods=int(kit.single_use_hoods),
        run_time_s=whole(run_time_s),
        life_ppm=whole([_ppm(1 + share) for share in further]),
        has_filters=int(filters is not None),
        has_faults=int(settings.faults.blower_run_between_faults is not None),
        prefilter_change_s=filters.prefilter_change if filters else 0,
        main_turnaround_s=filters.main_filter_turnaround if filters else 0,
        first_clock_s=start.hour * 3_600 + start.minute * 60 + start.second,
        first_weekday=start.weekday(),
        open_s=hours.start if hours else 0,
        shut_s=hours.end if hours else DAY_S,
        weekend=int(hours.weekend) if hours else 1,
        reserve_s=fleet.alarm_reserve,
        least_charge=whole([least_charge(int(s), fleet.least_run) for s in run_time_s]),
        fleet=_fleet(settings),
        charge_below_ppm=_ppm(charging.charge_below),
        rounds_every_s=charging.rounds_every or 0,
        cleaning=("wearer", "crew", "central").index(settings.cleaning.by),
        wet_dry_s=settings.cleaning.wet + settings.cleaning.dry,
        endless=whole([int(supply is None) for supply in spares]),
        spares=whole([0 if s is None else s.spare for s in spares]),
        reorder_at=whole(
            [-1 if s is None or s.reorder_at is None else s.reorder_at for s in spares]
        ),
        lot=whole([1 if s is None else s.order_size for s in spares]),
        lead_s=whole([0 if s is None else s.lead_time for s in spares]),
        short_wipe_s=policy.short_wipe,
        postponed=int(policy.fallback == "postponed"),
        postponed_by_s=max(policy.postponed_by, 1),
        wait_s=target.wait,
        urgent_wait_s=target.wait if target.urgent is None else target.urgent.wait,
        usual=InForce(
            reserved=policy.reserved_for_urgent,
            held_kits=int(policy.kit == "held for a shift"),
            early_take=int(charging.early_take),
        ),
        calendar=_calendar(settings),
    )


def _fleet(settings: Settings) -> Whole:
    fleet = settings.batteries
    rows = []
    for health in fleet.listed_healths:
        capacity = round(FULL * health)
        charge_s = round(fleet.charge_time * capacity / FULL)
        knee = max(round(capacity * fleet.knee_charge), 1)
        rows.append((capacity, knee, round(charge_s * fleet.knee_time), charge_s))
    return whole(rows)  # type: ignore[arg-type]


def _calendar(settings: Settings) -> Calendar:
    cleaning, start = settings.cleaning, settings.start
    closing_s = settings.horizon + settings.run_off
    rows, with_one = (calendar_rows(cleaning, (), extra, start, closing_s) for extra in (0, 1))
    return Calendar(cleaning, start, closing_s, rows, with_one[:, 2] - rows[:, 2])


@dataclass(frozen=True)
class Unit:
    """Rules, and what chance brings to things in one surge."""

    rules: Rules
    #: endless sequences of draws, and as much of them as nearly every play needs
    chance: WorkDraws
    drawn: WorkArrays

    def draws(self, wipes: int, blowers: int, generations: int) -> WorkArrays:
        """Return at least so many draws; see :meth:`WorkDraws.sized`."""
        if self.drawn.suffices(wipes, blowers, generations):
            return self.drawn
        return self.chance.sized(wipes, blowers, generations)


def unit_of(settings: Settings, demand: Demand, rules: Rules | None = None) -> Unit:
    """Return the unit of one surge.

    Parameters
    ----------
    settings : Settings
        The surge's settings, ranges drawn.
    demand : Demand
        Tells which surge it is, and how many draws nearly every play of it needs.
    rules : Rules, optional
        Of these settings, where they are known already.

    Returns
    -------
    Unit
    """
    chance = WorkDraws.of(settings, demand.seed, demand.sample, demand.surge)
    drawn = chance.sized(usual_wipes(demand.entries), BLOCK, USUAL_LIVES)
    return Unit(rules_of(settings) if rules is None else rules, chance, drawn)
