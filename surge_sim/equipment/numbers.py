"""One surge's settings and one stock as plain whole numbers: all that an engine knows of them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.batteries import FULL, least_charge
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.timetable import (
    Window,
    bays_out_steps,
    crew_steps,
    kits_away_steps,
    round_times,
    windows,
)
from surge_sim.scenario.gear import Supply
from surge_sim.scenario.schema import Settings
from surge_sim.units import DAY_S

Whole = NDArray[np.int64]

#: numbers of the ways to wipe down
BY_WEARER, BY_CREW, CENTRAL = 0, 1, 2


class Numbers(NamedTuple):
    """Whole numbers for the engines; times [s], shares [ppm], switches 0 or 1."""

    horizon_s: int
    closing_s: int
    # stock, with what may be borrowed
    kits: int
    batteries: int
    bays: int
    #: hoods and tubes owned when the surge begins, borrowed kits' included
    hoods: int
    tubes: int
    #: kits away from the unit over time: not yet borrowed, gone back, withdrawn
    away_s: Whole
    away_kits: Whole
    #: of these, kits that are not on loan at that time
    away_not_lent: Whole
    # kit
    check_s: int
    recheck_first_s: int
    recheck_every_s: int
    single_use_hoods: int
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
    bad_prefilter_from_s: Whole
    bad_prefilter_to_s: Whole
    bad_prefilter_ppm: Whole
    bad_main_from_s: Whole
    bad_main_to_s: Whole
    bad_main_ppm: Whole
    # batteries and charging
    reserve_s: int
    #: least charge to be handed out, by level
    least_charge: Whole
    capacity: Whole
    most_capacity: int
    knee_charge: Whole
    knee_s: Whole
    charge_s: Whole
    early_take: int
    charge_below_ppm: int
    #: 0: a full battery leaves its bay at once
    rounds_every_s: int
    #: bays that do not work over time
    bays_out_s: Whole
    bays_out: Whole
    cut_from_s: Whole
    cut_to_s: Whole
    # cleaning
    cleaning: int
    wet_dry_s: int
    #: wipe-downs that can go on at once over time
    wipers_s: Whole
    wipers: Whole
    round_s: Whole
    round_return_s: Whole
    # supplies, by number of the supply
    endless: Whole
    spares: Whole
    reorder_at: Whole
    lot: Whole
    lead_s: Whole
    missed_from_s: Whole
    missed_to_s: Whole
    missed_supply: Whole
    # policy
    held_kits: int
    short_wipe_s: int
    reserved: int
    postponed: int
    postponed_by_s: int
    # target
    wait_s: int
    urgent_wait_s: int
    #: moments at which something steps: settle then
    tick_s: Whole

    def plain(self) -> Numbers:
        """Return the same numbers with lists for arrays, quicker to read from Python."""
        plain: list[Any] = [v.tolist() if isinstance(v, np.ndarray) else v for v in self]
        return Numbers(*plain)


def _whole(values: list[int]) -> Whole:
    array = np.array(values, dtype=np.int64)
    array.setflags(write=False)
    return array


def _ppm(share: float) -> int:
    return round(share * 1_000_000)


def battery_capacities(settings: Settings, count: int) -> list[int]:
    """Charge that each battery holds when full; the fleet's healths repeat in order."""
    return [round(FULL * health) for health in settings.batteries.healths(count)]


def _split(runs: list[Window]) -> tuple[Whole, Whole, Whole]:
    return (
        _whole([run.from_s for run in runs]),
        _whole([run.to_s for run in runs]),
        _whole([run.value for run in runs]),
    )


def _supplies(settings: Settings, stock: Stock) -> dict[str, Whole]:
    shelf, extra = settings.supplies, stock.extra_parts
    spares: list[Supply | None] = [shelf.hoods, shelf.tubes, shelf.prefilters, shelf.main_filters]
    return {
        "endless": _whole([int(supply is None) for supply in spares]),
        "spares": _whole(
            [(0 if s is None else s.spare) + more for s, more in zip(spares, extra, strict=True)]
        ),
        # ordered as early as without the extra ones, which are there for the lead time
        "reorder_at": _whole(
            [
                -1 if s is None or s.reorder_at is None else s.reorder_at + more
                for s, more in zip(spares, extra, strict=True)
            ]
        ),
        "lot": _whole([1 if s is None else s.order_size for s in spares]),
        "lead_s": _whole([0 if s is None else s.lead_time for s in spares]),
    }


def _levels(settings: Settings) -> tuple[Whole, Whole]:
    levels = settings.kit.levels
    further = np.cumsum([0.0] + [level.further_life for level in levels[1:]])
    return (
        _whole([level.run_time for level in levels]),
        _whole([_ppm(1 + share) for share in further]),
    )


def _battery_numbers(settings: Settings, count: int, run_time_s: Whole) -> dict[str, object]:
    fleet, charging = settings.batteries, settings.charging
    capacity = battery_capacities(settings, count)
    charge_s = [round(fleet.charge_time * amount / FULL) for amount in capacity]
    return {
        "batteries": count,
        "reserve_s": fleet.alarm_reserve,
        "least_charge": _whole([least_charge(int(s), fleet.least_run) for s in run_time_s]),
        "capacity": _whole(capacity),
        "most_capacity": max(capacity, default=0),
        "knee_charge": _whole([max(round(amount * fleet.knee_charge), 1) for amount in capacity]),
        "knee_s": _whole([round(s * fleet.knee_time) for s in charge_s]),
        "charge_s": _whole(charge_s),
        "early_take": int(charging.early_take),
        "charge_below_ppm": _ppm(charging.charge_below),
        "rounds_every_s": charging.rounds_every or 0,
    }


def _wait_targets(settings: Settings) -> dict[str, int]:
    urgent = settings.target.urgent
    wait_s = settings.target.wait
    return {"wait_s": wait_s, "urgent_wait_s": urgent.wait if urgent is not None else wait_s}


#: what was worked out lately, by the settings' identity and the stock
_LATELY: dict[tuple[int, Stock], tuple[Settings, Numbers]] = {}
_MOST_KEPT = 512


def numbers_of(settings: Settings, stock: Stock) -> Numbers:
    """Bring settings and stock to whole numbers; kept, as small surges are played in less time.

    Parameters
    ----------
    settings : Settings
        One surge's settings, ranges drawn.
    stock : Stock
        Counts of equipment.

    Returns
    -------
    Numbers
        Read-only arrays; shares rounded to one part in a million.
    """
    kept = _LATELY.get((id(settings), stock))
    if kept is not None and kept[0] is settings:
        return kept[1]
    numbers = _worked_out(settings, stock)
    if len(_LATELY) >= _MOST_KEPT:
        _LATELY.clear()
    _LATELY[id(settings), stock] = settings, numbers
    return numbers


def _worked_out(settings: Settings, stock: Stock) -> Numbers:
    groups: dict[str, Any] = {}
    closing_s = settings.horizon + settings.run_off
    kit, filters, policy = settings.kit, settings.filters, settings.policy
    away = kits_away_steps(settings, stock.kits)
    borrowed = away.can_come
    kits = stock.kits + borrowed
    wipers_s, wipers = crew_steps(settings, stock, closing_s)
    rounds, returns = round_times(settings, closing_s)
    supplies = _supplies(settings, stock)
    run_time_s, life_ppm = _levels(settings)
    cut_from, cut_to, _ = _split(windows(settings, "power cut"))
    missed = _split(windows(settings, "delivery missed"))
    bad_pre = _split(windows(settings, "bad prefilters"))
    bad_main = _split(windows(settings, "bad main filters"))
    hours = filters.working_hours if filters is not None else None
    start = settings.start
    groups |= _battery_numbers(settings, stock.batteries + borrowed, run_time_s)
    groups |= _wait_targets(settings)
    groups |= supplies
    out_s, out = bays_out_steps(settings)
    ticks = {*out_s, *away.at_s, *wipers_s, *rounds, *cut_from.tolist(), *cut_to.tolist()}
    return Numbers(
        horizon_s=settings.horizon,
        closing_s=closing_s,
        kits=kits,
        bays=stock.bays,
        hoods=kits + int(supplies["spares"][0]),
        tubes=kits + int(supplies["spares"][1]),
        away_s=_whole(away.at_s),
        away_kits=_whole(away.kits),
        away_not_lent=_whole(away.not_lent),
        check_s=kit.check,
        recheck_first_s=kit.recheck.first_after if kit.recheck else 0,
        recheck_every_s=kit.recheck.then_every if kit.recheck else 1,
        single_use_hoods=int(kit.single_use_hoods),
        run_time_s=run_time_s,
        life_ppm=life_ppm,
        has_filters=int(filters is not None),
        has_faults=int(settings.faults.blower_run_between_faults is not None),
        prefilter_change_s=filters.prefilter_change if filters else 0,
        main_turnaround_s=filters.main_filter_turnaround if filters else 0,
        first_clock_s=start.hour * 3_600 + start.minute * 60 + start.second,
        first_weekday=start.weekday(),
        open_s=hours.start if hours else 0,
        shut_s=hours.end if hours else DAY_S,
        weekend=int(hours.weekend) if hours else 1,
        bad_prefilter_from_s=bad_pre[0],
        bad_prefilter_to_s=bad_pre[1],
        bad_prefilter_ppm=bad_pre[2],
        bad_main_from_s=bad_main[0],
        bad_main_to_s=bad_main[1],
        bad_main_ppm=bad_main[2],
        bays_out_s=_whole(out_s),
        bays_out=_whole(out),
        cut_from_s=cut_from,
        cut_to_s=cut_to,
        cleaning=("wearer", "crew", "central").index(settings.cleaning.by),
        wet_dry_s=settings.cleaning.wet + settings.cleaning.dry,
        wipers_s=_whole(wipers_s),
        wipers=_whole(wipers),
        round_s=_whole(rounds),
        round_return_s=_whole(returns),
        missed_from_s=missed[0],
        missed_to_s=missed[1],
        missed_supply=missed[2],
        held_kits=int(policy.kit == "held for a shift"),
        short_wipe_s=policy.short_wipe,
        reserved=policy.reserved_for_urgent,
        postponed=int(policy.fallback == "postponed"),
        postponed_by_s=max(policy.postponed_by, 1),
        tick_s=_whole(sorted(ticks)),
        **groups,
    )
