"""Waiting that named wearers hide: how much later entries are served than with ample stock.

A wearer who is kept by a wait comes late to the next door, and that entry's request begins only
then: its own wait may be nothing. So the same surge is played once more with so much stock that
nobody waits for any, and each entry's first kit is compared with that play. What both have in
common, such as a visit that is due while its wearer is in another room, is no delay.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np

from surge_sim.equipment.stock import Stock

if TYPE_CHECKING:
    from surge_sim.engine.log import IntArray, RunLog
    from surge_sim.engine.play import Engine
    from surge_sim.equipment.case import Case
    from surge_sim.scenario.schema import Target

#: kits, batteries and bays in the first play; so many times more as long as somebody waits
_FIRST, _MORE = 64, 4
#: never more than this: limit of a stock
_MOST = 100_000


def _ample(things: int) -> Stock:
    """Return a stock of so many of every item; cleaners stay those of the scenario."""
    counts = {one.name: things for one in fields(Stock)}
    return Stock(**counts | {"batteries": 2 * things, "extra_cleaners": 0})


def in_hand_with_ample_stock(case: Case, engine: Engine) -> IntArray:
    """Return when each entry has its first kit with ample stock [s], shape (entries,).

    -1 where it has none even then. Spare parts are as plentiful; cleaners and rules are those of
    the scenario.
    """
    from surge_sim.engine.play import play

    entries, things, before_s = case.demand.entries, _FIRST, -1
    while True:
        log = play(*case._replace(stock=_ample(things)), engine=engine)
        waited_s = int(log.waited_s.sum())
        # weak batteries, or a stock of parts that is never filled up, keep some waiting for ever
        helped = before_s < 0 or waited_s < before_s
        if waited_s == 0 or not helped or things >= min(entries, _MOST):
            return log.in_hand_s[:entries]
        things, before_s = min(_MORE * things, _MOST), waited_s


def delays(
    case: Case, log: RunLog, engine: Engine = "compiled", ample_s: IntArray | None = None
) -> IntArray:
    """Return how much later each request is served than with ample stock [s], shape (requests,).

    Parameters
    ----------
    case : Case
        What was played.
    log : RunLog
        How it was played.
    engine : {"compiled", "reference"}
        What plays it once more.
    ample_s : ndarray of int, shape (entries,), optional
        What `in_hand_with_ample_stock` says of this surge, where that is known.

    Returns
    -------
    ndarray of int, shape (requests,)
        Of an entry's first request, how much later it has its kit, and never less than its wait. Of
        its later requests, and where it is served in one of the plays only: the wait. Without named
        wearers a request begins when it is due, and nothing is hidden.
    """
    delay_s = log.wait_s.copy()
    if (case.demand.wearer >= 0).any():
        ample_s = in_hand_with_ample_stock(case, engine) if ample_s is None else ample_s
        first_s = log.in_hand_s[: len(ample_s)]
        both = (first_s >= 0) & (ample_s >= 0)
        later_s = np.where(both, first_s - ample_s, 0)
        delay_s[: len(ample_s)] = np.maximum(delay_s[: len(ample_s)], later_s)
    delay_s.setflags(write=False)
    return delay_s


def as_judged(
    case: Case,
    log: RunLog,
    target: Target,
    engine: Engine = "compiled",
    ample_s: IntArray | None = None,
) -> RunLog:
    """Return a play with its delays, if the target judges by them; arguments as in `delays`."""
    if target.late_by == "wait":
        return log
    return replace(log, delay_s=delays(case, log, engine, ample_s))
