"""Spare parts that have been ordered and not yet delivered, as staff know of them at a moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import Kind, RunLog
from surge_sim.equipment.situation import Situation
from surge_sim.equipment.supplies import delivery_s


class Order(NamedTuple):
    """So many parts of a sort, see `equipment.supplies`, and when they are to come [s]."""

    supply: int
    amount: int
    due_s: int


def orders(situation: Situation, log: RunLog, at_s: Sequence[int]) -> tuple[tuple[Order, ...], ...]:
    """Return what is on order at some moments.

    Parameters
    ----------
    situation, log : Situation, RunLog
        A play, with its events.
    at_s : sequence of int
        Moments in order of time [s]; each is seen as it is before anything happens in its second.

    Returns
    -------
    tuple of tuple of Order
        For each moment, the first to come first. A late delivery is known of from its beginning
        on: until then its order is due as it was promised.
    """
    assert log.events is not None
    made = log.events[log.events[:, 1] == Kind.ORDERED][:, (0, 5, 6)].tolist()
    lead_s = situation.unit.rules.lead_s
    late = (
        situation.timeline.missed_from_s,
        situation.timeline.missed_to_s,
        situation.timeline.missed_supply,
    )

    def due_s(ordered_s: int, supply: int, told: NDArray[np.bool_]) -> int:
        promised_s = ordered_s + int(lead_s[supply])
        return int(delivery_s(promised_s, supply, *(one[told] for one in late)))

    everything = np.ones(len(late[0]), dtype=np.bool_)
    comes_s = [due_s(ordered_s, supply, everything) for ordered_s, supply, _ in made]
    known = []
    for when in at_s:
        told = late[0] < when
        open_ones = (
            Order(supply, amount, due_s(ordered_s, supply, told))
            for (ordered_s, supply, amount), come_s in zip(made, comes_s, strict=True)
            if ordered_s < when <= come_s
        )
        known.append(tuple(sorted(open_ones, key=lambda one: one.due_s)))
    return tuple(known)
