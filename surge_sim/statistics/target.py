"""The target as one surge is judged by it: who is late, how many may be, and what was kept."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from surge_sim.engine.log import Outcome, RunLog, Score, alarms_in, stock_outs_in

if TYPE_CHECKING:
    from surge_sim.scenario.schema import Target

#: parts of a target, in the order in which they are named
PARTS = ("wait", "urgent wait", "alarms", "stock-outs")


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
        Some of `PARTS`.
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
