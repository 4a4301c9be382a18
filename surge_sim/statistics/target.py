"""The target as one surge is judged by it: who is late, how many may be, and what was kept.

Late by delay: a wearer who is kept by a wait comes late to the next door, and that entry's request
begins only then, so its own wait may be nothing. So the same surge is played once more with so much
stock that nobody waits for any, and each entry's first kit is compared with that play. What both
have in common, such as a visit that is due while its wearer is in another room, is no delay.
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import Outcome, Score, alarms_in, stock_outs_in
from surge_sim.equipment.stock import Stock
from surge_sim.units import DAY_S, HOUR_S, clock_at_start_s

if TYPE_CHECKING:
    from surge_sim.demand.table import Demand
    from surge_sim.engine.log import IntArray, RunLog
    from surge_sim.engine.play import Engine
    from surge_sim.equipment.situation import Situation
    from surge_sim.scenario.schema import Target

#: parts of a target, in the order in which they are named
TARGET_PARTS = ("wait", "urgent wait", "alarms", "stock-outs")


def late_allowed(entries: int, share: float) -> int:
    """Return how many of the entries may be late when ``share`` [0..1] must be in time.

    The small addition keeps 100 entries at 95 % at 5 although 100 x 0.05 is a little less
    than 5 in binary fractions.
    """
    return math.floor(entries * (1.0 - share) + 1e-9)


def parts_missed(score: Score, target: Target) -> tuple[str, ...]:
    """Name the parts of the target that one surge, played to its end, did not keep.

    A surge without entries misses nothing.

    Returns
    -------
    tuple of str
        Some of `TARGET_PARTS`.
    """
    missed = []
    if score.late > late_allowed(score.entries, target.service_level):
        missed.append("wait")
    urgent = target.urgent
    if urgent is not None and score.urgent_late > late_allowed(
        score.urgent_entries, urgent.service_level
    ):
        missed.append("urgent wait")
    most_alarms = target.most_alarms_per_1000
    if most_alarms is not None and 1000.0 * score.alarms > most_alarms * score.entries + 1e-9:
        missed.append("alarms")
    if target.most_stock_outs is not None and score.stock_outs > target.most_stock_outs:
        missed.append("stock-outs")
    return tuple(missed)


def kept(score: Score, target: Target) -> bool:
    """Return whether one surge kept every part of the target."""
    return not score.given_up and not parts_missed(score, target)


def late_entries(log: RunLog, entries: int, wait_s: int) -> NDArray[np.bool_]:
    """Return which entries had a request that was not served within a wait, shape (entries,).

    Where the target judges by delays, the log has them, and they stand for the waits.
    """
    judged_s = log.wait_s if log.delay_s is None else log.delay_s
    late = np.zeros(entries, dtype=bool)
    late[log.entry[(log.outcome != Outcome.SERVED) | (judged_s > wait_s)]] = True
    return late


def day_and_hour(demand: Demand) -> tuple[IntArray, IntArray]:
    """Return the day and the hour in which each entry was due, each of shape (entries,).

    No stock moves them. Days are 24 hours long, counted from 0, and begin with the surge; entries
    that are postponed beyond the horizon belong to its last day. Hours are those of the clock.
    """
    day = np.minimum(demand.due_s, demand.horizon_s - 1) // DAY_S
    return day, (demand.due_s + clock_at_start_s(demand.start)) // HOUR_S % 24


def worst_day(demand: Demand, late: NDArray[np.bool_]) -> tuple[int, int]:
    """Return the entries of the day with the largest share of late ones, and the late ones.

    0 and 0 without entries; the first of days that are alike.
    """
    if not demand.entries:
        return 0, 0
    day, _ = day_and_hour(demand)
    by_day, late_by_day = np.bincount(day), np.bincount(day[late], minlength=int(day.max()) + 1)
    worst = int(np.argmax(late_by_day / np.maximum(by_day, 1)))
    return int(by_day[worst]), int(late_by_day[worst])


def score_of(log: RunLog, urgent: NDArray[np.bool_], target: Target) -> Score:
    """Count what the target asks about in a play; ``urgent`` has shape (entries,)."""
    entries = len(urgent)
    urgent_wait_s = target.urgent.wait if target.urgent else target.wait
    return Score(
        entries=entries,
        urgent_entries=int(urgent.sum()),
        late=int(late_entries(log, entries, target.wait).sum()),
        urgent_late=int((late_entries(log, entries, urgent_wait_s) & urgent).sum()),
        alarms=alarms_in(log.counts),
        stock_outs=stock_outs_in(log.counts),
        given_up=False,
    )


#: kits, batteries and bays in the first play; so many times more as long as somebody waits
_FIRST, _MORE = 64, 4
#: never more than this: limit of a stock
_MOST = 100_000


def _ample(things: int) -> Stock:
    """Return a stock of so many of every item; cleaners stay those of the scenario."""
    counts = {one.name: things for one in fields(Stock)}
    return Stock(**counts | {"batteries": 2 * things, "extra_cleaners": 0})


def in_hand_with_ample_stock(situation: Situation, engine: Engine) -> IntArray:
    """Return when each entry has its first kit with ample stock [s], shape (entries,).

    -1 where it has none even then. Spare parts are as plentiful; cleaners and rules are those of
    the scenario.
    """
    from surge_sim.engine.play import play

    entries, things, before_s = situation.demand.entries, _FIRST, -1
    while True:
        log = play(*situation._replace(stock=_ample(things)), engine=engine)
        waited_s = int(log.waited_s.sum())
        # weak batteries, or a stock of parts that is never filled up, keep some waiting for ever
        helped = before_s < 0 or waited_s < before_s
        if waited_s == 0 or not helped or things >= min(entries, _MOST):
            return log.in_hand_s[:entries]
        things, before_s = min(_MORE * things, _MOST), waited_s


def delays(
    situation: Situation, log: RunLog, engine: Engine = "compiled", ample_s: IntArray | None = None
) -> IntArray:
    """Return how much later each request is served than with ample stock [s], shape (requests,).

    Parameters
    ----------
    situation : Situation
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
    if (situation.demand.wearer >= 0).any():
        ample_s = in_hand_with_ample_stock(situation, engine) if ample_s is None else ample_s
        first_s = log.in_hand_s[: len(ample_s)]
        both = (first_s >= 0) & (ample_s >= 0)
        later_s = np.where(both, first_s - ample_s, 0)
        delay_s[: len(ample_s)] = np.maximum(delay_s[: len(ample_s)], later_s)
    delay_s.setflags(write=False)
    return delay_s


def as_judged(
    situation: Situation,
    log: RunLog,
    target: Target,
    engine: Engine = "compiled",
    ample_s: IntArray | None = None,
) -> RunLog:
    """Return a play with its delays, if the target judges by them; arguments as in `delays`."""
    if target.late_by == "wait":
        return log
    return replace(log, delay_s=delays(situation, log, engine, ample_s))


def judged_score(
    situation: Situation,
    target: Target,
    engine: Engine = "compiled",
    late_limit: int | None = None,
    ample_s: IntArray | None = None,
) -> Score:
    """Play, and count what the target asks about.

    Parameters
    ----------
    situation : Situation
        What is played.
    target : Target
        What is asked about.
    engine : {"compiled", "reference"}
        What plays it.
    late_limit : int, optional
        A play ends once more entries are late; where the target judges by delays, it does not.
    ample_s : ndarray of int, shape (entries,), optional
        See `delays`; asked for only where the target judges by them.
    """
    from surge_sim.engine.play import play, score

    if target.late_by == "delay":
        # what the engine counts while it plays are waits
        log = as_judged(situation, play(*situation, engine=engine), target, engine, ample_s)
        return score_of(log, situation.demand.urgent, target)
    return score(*situation, late_limit=late_limit, engine=engine)
