"""Cleaners on duty, bays that charge, kits recalled and reserved; of what happened before."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.cleaning import BY_CREW
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.timeline import InForce

Whole = NDArray[np.int64]


def cleaners_on_duty(situation: Situation, when: Whole) -> Whole:
    """Count the cleaners on duty just before each moment [s]; -1 where no crew wipes down."""
    rules = situation.unit.rules
    if rules.cleaning != BY_CREW:
        return np.full(len(when), -1)
    rows = rules.calendar.rows_with(situation.timeline.of_cleaners, situation.stock.extra_cleaners)
    moments = when + rules.calendar.run_in_s
    return _value(rows, "wipers", moments, 0)


def bays_charging(situation: Situation, when: Whole) -> Whole:
    """Count the charger bays that work and have power just before each moment [s]."""
    rows, usual = situation.timeline.rows, situation.unit.rules.usual
    # failures by chance are numbered from the beginning of the run-in
    run_in_s = situation.unit.rules.calendar.run_in_s
    failed = situation.unit.bay_failures(
        situation.stock.bays, situation.demand.closing_s + run_in_s
    )
    power = _value(rows, "has_power", when, usual.has_power)
    lent, out = (_value(rows, name, when, 0) for name in ("bays_lent", "bays_out"))
    by_chance = _value(failed, "bays_failed", when + run_in_s, 0) if len(failed) else 0
    return np.where(power == 0, 0, np.maximum(situation.stock.bays + lent - out - by_chance, 0))


def kits_recalled(situation: Situation, away: Whole, when: Whole) -> Whole:
    """Count the kits that a recall has taken; ``away`` also counts loans that are not here."""
    recalled, lent = (
        _value(situation.timeline.rows, name, when, 0) for name in ("kits_recalled", "kits_lent")
    )
    return np.clip(away - (situation.timeline.kits_come - lent), 0, recalled)


def kits_reserved(situation: Situation, when: Whole) -> Whole:
    """Return how many kits on the shelf a reserve keeps for urgent entries, just before."""
    return _value(situation.timeline.rows, "reserved", when, situation.unit.rules.usual.reserved)


def _value(rows: Whole, name: str, when: Whole, usual: Any) -> Whole:
    """Return a number as it is just before each moment; see `equipment.timeline.rows_of`."""
    mine = rows[rows[:, 1] == InForce._fields.index(name)]
    values = np.where(mine[:, 2] < 0, usual, mine[:, 2])
    places = np.searchsorted(mine[:, 0], when, side="left") - 1
    return np.where(places < 0, usual, np.append(values, usual)[places])
