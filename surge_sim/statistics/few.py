"""What a careful reader should know of numbers that come from few surges."""

from __future__ import annotations

from collections.abc import Iterator

from surge_sim.engine.log import IntArray
from surge_sim.statistics.intervals import CONFIDENCE, ENOUGH_SURGES, FEWEST, Interval


def few_surges(entries: IntArray, in_time: IntArray, service_level: Interval) -> Iterator[str]:
    """Warn of too few surges, and of what they may have missed.

    Parameters
    ----------
    entries, in_time : ndarray of int, shape (surges,)
        Entries of each surge, and those in time.
    service_level : Interval
        Share of all entries that were in time.
    """
    played = len(entries)
    if played == 1:
        yield "One surge says nothing about how surges differ: no intervals."
    elif played < FEWEST:
        yield f"{played} surges are too few to give limits."
    elif played < ENOUGH_SURGES:
        yield (
            f"With {played} surges, fewer than {ENOUGH_SURGES}, the intervals of shares of "
            "entries and of waits are somewhat too narrow."
        )
    if not entries.any():
        yield "No surge had any entry."
    elif played > 1 and service_level.estimate == 1.0:
        rare = 100.0 * (1.0 - (1.0 - CONFIDENCE) ** (1.0 / played))
        yield (
            f"No entry was late in any of {played} surges; late entries in up to {rare:.2g} % "
            "of surges may have been missed by chance."
        )
    elif played >= FEWEST and service_level.low is None:
        late = int((in_time != entries).sum())
        yield (
            f"Entries in time has no limits: entries were late in only {late} of {played} surges."
        )
