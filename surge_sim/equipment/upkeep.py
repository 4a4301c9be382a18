"""Mean times for which one entry binds a kit and a battery, apart from the time in the room."""

from __future__ import annotations

from typing import NamedTuple

from surge_sim.demand.distributions import mean_s
from surge_sim.scenario.patients import Role
from surge_sim.scenario.schema import Cleaning, Settings
from surge_sim.units import DAY_S


class Upkeep(NamedTuple):
    """What one entry of a role takes at average rates; times [s]."""

    check_s: float
    don_doff_s: float
    #: wipe-down, wet and dry time, without any queue
    turnaround_s: float
    #: at the lowest flow level
    run_time_s: float
    charge_time_s: float
    knee_charge: float
    knee_time: float
    charge_below: float
    #: usable shares of the fleet's batteries
    healths: tuple[float, ...]

    def charge_s(self, worn_s: float) -> float:
        """Mean bay time [s] that an entry worn so long [s] causes.

        A battery goes on to a bay once its charge is below the scenario's threshold, and is
        charged full. The end of a charge is the slow part: topping up after short wear takes
        longer than its share of the charge time.
        """
        if worn_s <= 0 or not self.healths:
            return 0.0
        total = 0.0
        for health in self.healths:
            drained = worn_s / (self.run_time_s * health)
            uses = 1
            if self.charge_below < 1:
                uses = max(1, int((1 - self.charge_below) / drained) + 1)
            total += self._to_full(min(uses * drained, 1.0)) * health / uses
        return total / len(self.healths)

    def _to_full(self, drained: float) -> float:
        slow = 1 - self.knee_charge
        if drained <= slow:
            return drained / slow * (1 - self.knee_time) * self.charge_time_s
        quick = (drained - slow) / self.knee_charge * self.knee_time
        return (1 - self.knee_time + quick) * self.charge_time_s


def upkeep_of(settings: Settings, role: Role | None) -> Upkeep:
    """Return the mean times of an entry of a role (None: a role that only a log names)."""
    kit, fleet = settings.kit, settings.batteries
    don, doff = kit.don, kit.doff
    if role is not None:
        don, doff = role.don or don, role.doff or doff
    return Upkeep(
        check_s=kit.check,
        don_doff_s=mean_s(don) + mean_s(doff),
        turnaround_s=_turnaround_s(settings.cleaning),
        run_time_s=kit.levels[0].run_time,
        charge_time_s=fleet.charge_time,
        knee_charge=fleet.knee_charge,
        knee_time=fleet.knee_time,
        charge_below=settings.charging.charge_below,
        healths=fleet.listed_healths,
    )


def _turnaround_s(cleaning: Cleaning) -> float:
    """Mean time from taking a kit off to its being ready, without any queue."""
    if cleaning.by == "central":
        return _central_s(sorted(set(cleaning.rounds)), cleaning.turnaround)
    wipe_s = 0.0 if cleaning.wipe is None else mean_s(cleaning.wipe)
    return wipe_s + cleaning.wet + cleaning.dry


def _central_s(rounds_s: list[int], turnaround_s: int) -> float:
    """Mean wait for a round, and from it to the first round after the turnaround."""
    total = 0.0
    for number, at_s in enumerate(rounds_s):
        gap_s = (at_s - rounds_s[number - 1]) % DAY_S or DAY_S
        back_s = min(turnaround_s + (later - at_s - turnaround_s) % DAY_S for later in rounds_s)
        total += gap_s / DAY_S * (gap_s / 2 + back_s)
    return total
