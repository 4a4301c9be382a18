"""Everything that an engine knows of a unit, a stock, a start and a timeline: whole numbers."""

from __future__ import annotations

from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.equipment.batteries import ISSUED, least_charge
from surge_sim.equipment.charge_curve import FULL, exponential_end
from surge_sim.equipment.cleaning import WAYS, Calendar, calendar_of
from surge_sim.equipment.kits import KEPT
from surge_sim.equipment.stock import Start, Stock
from surge_sim.equipment.supplies import HOODS, LARGE_HOODS, TUBES
from surge_sim.equipment.timeline import (
    NO_CHANGES,
    NO_LIMIT,
    InForce,
    Timeline,
    Whole,
    rows_of,
    whole,
)
from surge_sim.scenario.schema import Settings, Supply
from surge_sim.units import DAY_S, clock_at_start_s


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
    # filters and failures
    has_filters: int
    has_failures: int
    has_battery_failures: int
    prefilter_change_s: int
    main_turnaround_s: int
    #: clock time and weekday at the first second of a play, which is that of its run-in
    first_clock_s: int
    first_weekday: int
    open_s: int
    shut_s: int
    weekend: int
    # batteries and charging
    reserve_s: int
    #: least charge to be handed out, by level
    least_charge: Whole
    #: capacity, charge and time at the end of the constant current, charge time, shape
    #: (batteries listed, 4); they repeat over all batteries
    fleet: Whole
    #: see `charge_curve`: how the end of a charge tapers; nothing: a straight line
    end_of_charge: Whole
    #: see `batteries.Issue`
    issued: int
    charge_below_ppm: int
    #: 0: a full battery leaves its bay at once
    rounds_every_s: int
    cool_down_s: int
    connect_s: int
    bays_per_charger: int
    # cleaning
    cleaning: int
    contact_and_drying_s: int
    # carrying
    fetch_s: int
    bring_back_s: int
    to_cleaning_s: int
    # supplies, by number of the supply
    endless: Whole
    spares: Whole
    reorder_point: Whole
    lot: Whole
    lead_s: Whole
    # policy
    wipe_between_visits_s: int
    postponed: int
    postponed_by_s: int
    # target
    wait_s: int
    urgent_wait_s: int
    #: what may change during a surge, as it is without any change
    usual: InForce
    calendar: Calendar


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
    hours = filters.working_hours if filters is not None else None
    run_time_s = [level.run_time for level in kit.levels]
    further = np.cumsum([0.0] + [level.further_life for level in kit.levels[1:]])
    shelf = settings.supplies
    spares: list[Supply | None] = [
        shelf.hoods, shelf.tubes, shelf.prefilters, shelf.he_filters, shelf.large_hoods
    ]  # fmt: skip
    return Rules(
        check_s=kit.pre_use_check,
        recheck_first_s=kit.recheck.first_after if kit.recheck else 0,
        recheck_every_s=kit.recheck.then_every if kit.recheck else 1,
        single_use_hoods=int(kit.single_use_hoods),
        run_time_s=whole(run_time_s),
        life_ppm=whole([_ppm(1 + share) for share in further]),
        has_filters=int(filters is not None),
        has_failures=int(settings.failures.blower_run_between_failures is not None),
        has_battery_failures=int(settings.failures.battery_run_between_failures is not None),
        prefilter_change_s=filters.prefilter_change if filters else 0,
        main_turnaround_s=filters.he_filter_turnaround if filters else 0,
        first_clock_s=clock_at_start_s(settings.start),
        first_weekday=(settings.start.weekday() - settings.run_in // DAY_S) % 7,
        open_s=hours.start if hours else 0,
        shut_s=hours.end if hours else DAY_S,
        weekend=int(hours.weekend) if hours else 1,
        reserve_s=fleet.low_battery_alarm,
        least_charge=whole([least_charge(int(s), fleet.minimum_run_time) for s in run_time_s]),
        fleet=_fleet(settings),
        end_of_charge=_end_of_charge(settings),
        issued=ISSUED.index(fleet.issued),
        charge_below_ppm=_ppm(charging.charge_below),
        rounds_every_s=charging.rounds_every or 0,
        cool_down_s=charging.cool_down,
        connect_s=charging.time_to_connect,
        bays_per_charger=settings.prices.bays_per_charger,
        cleaning=WAYS.index(settings.cleaning.by),
        contact_and_drying_s=settings.cleaning.contact_time + settings.cleaning.drying_time,
        fetch_s=settings.carrying.fetch,
        bring_back_s=settings.carrying.bring_back,
        to_cleaning_s=settings.carrying.to_cleaning,
        endless=whole([int(supply is None) for supply in spares]),
        spares=whole([0 if s is None else s.spare for s in spares]),
        reorder_point=whole(
            [-1 if s is None or s.reorder_point is None else s.reorder_point for s in spares]
        ),
        lot=whole([1 if s is None else s.order_quantity for s in spares]),
        lead_s=whole([0 if s is None else s.lead_time for s in spares]),
        wipe_between_visits_s=policy.wipe_between_visits,
        postponed=int(policy.after_maximum_wait == "postponed"),
        postponed_by_s=max(policy.postponed_by, 1),
        wait_s=target.wait,
        urgent_wait_s=target.wait if target.urgent is None else target.urgent.wait,
        usual=InForce(
            reserved=policy.reserved_for_urgent,
            kept=KEPT.index(policy.kit),
            partial_charge_at_reissue=int(charging.partial_charge_at_reissue),
        ),
        calendar=calendar_of(settings),
    )


def _fleet(settings: Settings) -> Whole:
    fleet = settings.batteries
    rows = []
    for health in fleet.listed_healths:
        capacity = round(FULL * health)
        charge_s = round(fleet.charge_time * capacity / FULL)
        cc_charge = max(round(capacity * fleet.constant_current_to), 1)
        rows.append((capacity, cc_charge, round(charge_s * fleet.constant_current_time), charge_s))
    return whole(rows)  # type: ignore[arg-type]


def _end_of_charge(settings: Settings) -> Whole:
    fleet = settings.batteries
    if fleet.end_of_charge == "straight":
        return whole([])
    return exponential_end(fleet.constant_current_to, fleet.constant_current_time)


class Counts(NamedTuple):
    """How much there is in one play."""

    horizon_s: int
    closing_s: int
    #: of the entries, how many come in the run-in
    entries_before: int
    #: second of the play of one round at the bays: they are counted from the beginning of the surge
    rounds_from_s: int
    #: filters have run for some of their life when the play begins
    part_worn: int
    # stock, with what may be borrowed
    kits: int
    batteries: int
    bays: int
    #: hoods and tubes owned when the surge begins, borrowed kits' included
    hoods: int
    tubes: int
    #: all of them; `NO_LIMIT` where they never run out
    large_hoods: int
    #: of the kits, and of the batteries beside theirs, those that come only as a loan
    kits_come: int
    batteries_come: int
    #: whether any come or go
    moves: int
    #: capacity, charge and time at the end of the constant current, charge time of each battery,
    #: shape (batteries, 4)
    cells: Whole
    #: spare parts, and when they are ordered again, by number of the supply
    spares: Whole
    reorder_point: Whole
    #: changes after second 0, see `rows_of`
    rows: Whole


class Numbers(NamedTuple):
    """Rules, counts and changes, side by side."""

    rules: Rules
    counts: Counts
    timeline: Timeline
    #: at second 0
    in_force: InForce

    def plain(self) -> Plain:
        """Return all of them by name, with lists for arrays, quicker to read from Python."""
        rules, counts, timeline, in_force = (part._asdict() for part in self)
        names = ("capacity", "cc_charge", "cc_s", "charge_s")
        cells = dict(zip(names, self.counts.cells.T, strict=True))
        # counts last: spare parts of the stock stand for those of the rules
        together = rules | timeline | counts | cells | in_force
        return Plain(
            **{k: v.tolist() if isinstance(v, np.ndarray) else v for k, v in together.items()}
        )


class Plain(SimpleNamespace):
    """The fields of `Rules`, `Counts` and `Timeline`, and of cells, by name."""


def numbers_of(
    rules: Rules,
    stock: Stock,
    start: Start,
    timeline: Timeline,
    demand: Demand,
    bay_failures: Whole = NO_CHANGES,
) -> Numbers:
    """Bring what a play needs to whole numbers.

    Parameters
    ----------
    rules : Rules
        Of the unit.
    stock : Stock
        Counts of equipment.
    start : Start
        How things stand.
    timeline : Timeline
        What changes.
    demand : Demand
        Tells how long the play is, as the engine's `with_run_in` returns it.
    bay_failures : ndarray of int64, shape (changes, 3)
        Changes by chargers that fail by chance, see :meth:`Unit.bay_failures`.

    Returns
    -------
    Numbers
        Read-only arrays.
    """
    before, begins_s = demand.before, demand.run_in_s
    kits = stock.kits + timeline.kits_come
    batteries = stock.batteries + timeline.kits_come + timeline.batteries_come
    extra = stock.extra_parts
    spares, reorder_point = rules.spares, rules.reorder_point
    if any(extra):
        spares = spares + extra
        # ordered as early as without the extra ones, which are there for the lead time
        reorder_point = np.where(reorder_point < 0, reorder_point, reorder_point + extra)
    cells = rules.fleet.take(range(batteries), axis=0, mode="wrap")
    rows = rules.calendar.rows_with(timeline.of_cleaners, stock.extra_cleaners)
    if before is not None:
        timeline = timeline.later(begins_s)
        run_in = rows_of([(0, "run_in", 1), (begins_s, "run_in", 0)])
        rows = np.concatenate((run_in, rows))
        rows = rows[rows[:, 0].argsort(kind="stable")]
    if len(timeline.rows) or len(bay_failures):
        together = np.concatenate((timeline.rows, bay_failures, rows))
        rows = together[together[:, 0].argsort(kind="stable")]
    later = int(rows[:, 0].searchsorted(0, side="right"))
    rounds_from_s = begins_s % rules.rounds_every_s if rules.rounds_every_s else 0
    counts = Counts(
        demand.horizon_s, demand.closing_s, 0 if before is None else before.entries,
        rounds_from_s, int(start.filters_part_worn),
        kits, batteries, stock.bays, kits + int(spares[HOODS]), kits + int(spares[TUBES]),
        NO_LIMIT if rules.endless[LARGE_HOODS] else int(spares[LARGE_HOODS]),
        timeline.kits_come, timeline.batteries_come, timeline.moves, cells, spares, reorder_point,
        rows[later:],
    )  # fmt: skip
    at_start = {InForce._fields[place]: value for _, place, value in rows[:later].tolist()}
    in_force = rules.usual._replace(**at_start) if at_start else rules.usual
    return Numbers(rules, counts, timeline, in_force)
