"""The wait promise of one surge: how many late entries it allows, and whether it was kept."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from surge_sim.engine.log import Score
    from surge_sim.scenario.goal import Target


def late_allowed(entries: int, share: float) -> int:
    """Return how many of the entries may be late when ``share`` [0..1] must be in time.

    The small addition keeps 100 entries at 95 % at 5 although 100 x 0.05 is a little less
    than 5 in binary fractions.
    """
    return math.floor(entries * (1.0 - share) + 1e-9)


def on_target(score: Score, target: Target) -> bool:
    """Return whether one surge kept every part of the target; one without entries did."""
    if score.given_up or score.late > late_allowed(score.entries, target.share_of_entries):
        return False
    urgent = target.urgent
    if urgent is not None and score.urgent_late > late_allowed(
        score.urgent_entries, urgent.share_of_entries
    ):
        return False
    most_alarms = target.most_alarms_per_1000
    if most_alarms is not None and 1000.0 * score.alarms > most_alarms * score.entries + 1e-9:
        return False
    return target.most_stock_outs is None or score.stock_outs <= target.most_stock_outs


def parts_missed(score: Score, target: Target) -> list[str]:
    """Name the parts of the target that one surge, played to its end, did not keep."""
    missed = []
    if score.late > late_allowed(score.entries, target.share_of_entries):
        missed.append("the wait of all entries")
    urgent = target.urgent
    if urgent is not None and score.urgent_late > late_allowed(
        score.urgent_entries, urgent.share_of_entries
    ):
        missed.append("the wait of urgent entries")
    most_alarms = target.most_alarms_per_1000
    if most_alarms is not None and 1000.0 * score.alarms > most_alarms * score.entries + 1e-9:
        missed.append("the number of alarms")
    if target.most_stock_outs is not None and score.stock_outs > target.most_stock_outs:
        missed.append("the number of stock-outs")
    return missed
