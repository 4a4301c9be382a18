"""Small surges made by hand, for timelines that can be worked out on paper.

All numbers are invented, so that the times come out round.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from surge_sim.demand.table import Demand, PatientTable, with_changes
from surge_sim.equipment.chance import BLOCK, USUAL_LIVES, WorkArrays, usual_wipes
from surge_sim.equipment.numbers import rules_of
from surge_sim.equipment.situation import Situation, Unit
from surge_sim.equipment.stock import Stock, start_of
from surge_sim.equipment.timeline import rows_of, timeline_of
from surge_sim.scenario.schema import Settings
from surge_sim.units import NEVER_S

MINUTE = 60

#: nothing takes time but what a test says: no check, donning, doffing or wipe-down
PLAIN: dict[str, Any] = {
    "title": "Made by hand",
    "start": "2031-01-06 00:00",
    "horizon": "24 h",
    "run_out": "24 h",
    "kit": {
        "pre_use_check": "0 min",
        "don": "0 min",
        "doff": "0 min",
        "levels": [{"run_time": "8 h"}],
    },
    "batteries": {
        "charge_time": "3 h",
        "minimum_run_time": "30 min",
        "end_of_charge": "straight",
        "issued": "fullest",
    },
    "cleaning": {"by": "wearer", "wipe_down": "0 min"},
    "stock": {"kits": "1", "batteries": "1", "bays": "1"},
    "target": {"wait": "5 min", "service_level": "95 %", "share_of_surges": "90 %"},
}


def merged(base: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """Lay changes over a scenario, section by section."""
    result = dict(base)
    for key, value in changes.items():
        old = result.get(key)
        both = isinstance(old, dict) and isinstance(value, dict)
        result[key] = merged(old, value) if both else value  # type: ignore[arg-type]
    return result


def settings(**changes: Any) -> Settings:
    """Settings of the plain scenario with some sections changed."""
    return Settings.model_validate(merged(PLAIN, changes))


@dataclass(frozen=True)
class HandDraws:
    """Work draws written by hand, repeated as often as asked for."""

    wipe_s: Sequence[int] = (0,)
    prefilter_life_s: Sequence[int] = ()
    he_life_s: Sequence[int] = ()
    failure_run_s: Sequence[int] = ()
    repair_s: Sequence[int] = ()
    battery_run_s: Sequence[int] = ()
    replacement_s: Sequence[int] = ()
    #: bays that have failed from moments on: moment and count, one after the other
    bays_failed: Sequence[int] = ()

    def bay_failures(self, bays: int, bays_per_charger: int, until_s: int) -> np.ndarray:
        """Give the failures of bays, whatever there is."""
        pairs = zip(self.bays_failed[::2], self.bays_failed[1::2], strict=True)
        return rows_of([(at_s, "bays_failed", count // MINUTE) for at_s, count in pairs])

    def sized(self, wipes: int, blowers: int, generations: int, batteries: int) -> WorkArrays:
        """Give every thing the same lives, one after the other, then the last for ever."""

        def table(lives: Sequence[int], things: int = blowers) -> np.ndarray:
            if not lives:
                return np.zeros((0, 0), dtype=np.int64)
            column = [lives[min(g, len(lives) - 1)] for g in range(generations)]
            return np.repeat(np.array(column, dtype=np.int64)[:, None], things, axis=1)

        wipe = np.array([self.wipe_s[m % len(self.wipe_s)] for m in range(wipes)], dtype=np.int64)
        none = np.zeros(blowers, dtype=np.int64)
        return WorkArrays(
            wipe,
            table(self.prefilter_life_s),
            table(self.he_life_s),
            none,
            none,
            table(self.failure_run_s),
            table(self.repair_s),
            table(self.battery_run_s, batteries),
            table(self.replacement_s, batteries),
        )


@dataclass(frozen=True)
class HandMade(Demand):
    """Demand, with the settings and the draws of things that it is to be played with."""

    settings: Settings
    chance: HandDraws

    def situation(self, stock: Stock) -> Situation:
        """Return all that a play needs."""
        drawn = self.chance.sized(usual_wipes(self.entries), BLOCK, USUAL_LIVES, BLOCK)
        unit = Unit(rules_of(self.settings), self.chance, drawn)  # type: ignore[arg-type]
        timeline = timeline_of(self.settings)
        demand = with_changes(self, self.settings.timeline)
        return Situation(demand, unit, stock, start_of(self.settings), timeline)

    def parts(self, stock: Stock) -> tuple[Any, ...]:
        """Return the arguments of `numbers_of`."""
        demand, unit, _, start, timeline = self.situation(stock)
        bay_failures = unit.bay_failures(stock.bays, demand.closing_s)
        return unit.rules, stock, start, timeline, demand, bay_failures


def minutes(values: Sequence[float]) -> np.ndarray:
    """Whole seconds from minutes."""
    return np.array([round(value * MINUTE) for value in values], dtype=np.int64)


def tiny_trace(
    changed: Settings,
    need: Sequence[float],
    room: Sequence[float] | float,
    wipe: Sequence[float] = (0,),
    urgent: Sequence[bool] | None = None,
    wearer: Sequence[int] | None = None,
    maximum_wait: float | None = None,
    shift_end: Sequence[float] | None = None,
    hood_torn: Sequence[int] = (),
    large_hood: Sequence[int] = (),
    mark: Sequence[int] | None = None,
    before: HandMade | None = None,
    same_wearers: bool = False,
    **lives: Sequence[float],
) -> HandMade:
    """Make a trace of entries at `need` that stay `room` [min]; lives are in minutes too.

    ``before``: its run-in, whose moments count from the beginning of it; ``same_wearers``: wearers
    have the same patients in both if they have the same number, and are one if their shifts are.
    """
    count = len(need)
    room = [room] * count if isinstance(room, (int, float)) else room
    don_s, doff_s = changed.kit.don.mean or 0, changed.kit.doff.mean or 0
    who = np.array([-1] * count if wearer is None else wearer, dtype=np.int64)
    wearers = int(who.max(initial=-1)) + 1
    ends = [NEVER_S] * wearers if shift_end is None else minutes(shift_end)
    torn = np.zeros(count, dtype=bool)
    torn[list(hood_torn)] = True
    large = np.zeros(count, dtype=bool)
    large[list(large_hood)] = True
    none = np.zeros(0, dtype=np.int64)
    return HandMade(
        seed=1,
        sample=0,
        surge=0,
        start=changed.start,
        horizon_s=changed.horizon,
        closing_s=changed.horizon + changed.run_out,
        due_s=minutes(need),
        room_s=minutes(room),
        don_s=np.full(count, don_s, dtype=np.int64),
        doff_s=np.full(count, doff_s, dtype=np.int64),
        maximum_wait_s=np.full(
            count, NEVER_S if maximum_wait is None else round(maximum_wait * MINUTE), dtype=np.int64
        ),
        role=np.zeros(count, dtype=np.int64),
        patient_class=np.full(count, -1, dtype=np.int64),
        patient=np.full(count, -1, dtype=np.int64),
        urgent=np.zeros(count, dtype=bool) if urgent is None else np.array(urgent, dtype=bool),
        wearer=who,
        hood_torn=torn,
        tube_torn=np.zeros(count, dtype=bool),
        large_hood=large,
        mark=np.array([0] * count if mark is None else mark, dtype=np.int64),
        shift_end_s=np.array(ends, dtype=np.int64),
        wearers=np.array([(0, w) for w in range(len(ends))], dtype=np.int64).reshape(-1, 2)
        if same_wearers
        else None,
        before=before,
        role_names=("nurse",),
        class_names=(),
        patients=PatientTable(none, none, none, none),
        settings=changed,
        chance=HandDraws(
            wipe_s=minutes(wipe).tolist(),
            **{
                name if name == "bays_failed" else f"{name}_s": minutes(values).tolist()
                for name, values in lives.items()
            },
        ),
    )
