"""What a careful reader should know of a result: few surges behind it, one charger below it.

A target in nine surges of ten is met by a stock that fails whenever its only charger does, if that
is rare. Whoever buys it should know.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np

from surge_sim.demand.replay import replay_of
from surge_sim.scenario.timeline import lent
from surge_sim.units import share_text

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from surge_sim.demand.replay import Replay
    from surge_sim.engine.log import IntArray
    from surge_sim.equipment.stock import Stock
    from surge_sim.randomness import Sample
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings
    from surge_sim.scenario.timeline import Change
    from surge_sim.statistics.intervals import Interval

_RATE = "failures.charger_time_between_failures"


def hangs_on_one_charger(stock: Stock, settings: Settings) -> bool:
    """Return whether all batteries of a stock are charged by one charger, none being on loan."""
    alone = 0 < stock.bays <= settings.prices.bays_per_charger
    return stock.batteries > 0 and alone and not lent("bays", settings.timeline)


def single_charger_words(stock: Stock, settings: Settings) -> str:
    """Say that everything hangs on one charger; nothing if there are more."""
    if not hangs_on_one_charger(stock, settings):
        return ""
    what = "bay" if settings.prices.bays_per_charger == 1 else "charger"
    said = f"There is one {what}: while it is out of order, no battery is charged."
    if settings.failures.charger_time_between_failures is None:
        said += f" In this scenario no charger fails by chance (`{_RATE}` is not set)."
    return said


def single_charger_seen(
    scenario: Scenario, stock: Stock, seed: int, sample: Sample, on_target: NDArray[np.bool_]
) -> str:
    """Say the same with how often that was so, and what came of it.

    Parameters
    ----------
    scenario : Scenario
        What was played; its target says in how many surges it must be met.
    stock : Stock
        With which it was played.
    seed, sample : int, Sample
        Which surges: the first ones of the sample.
    on_target : ndarray of bool, shape (surges,)
        Whether each surge met the target.
    """
    settings = scenario.settings
    said = single_charger_words(stock, settings)
    if not said or settings.failures.charger_time_between_failures is None:
        return said
    out = np.array(
        [_out_of_order(scenario, stock, seed, sample, surge) for surge in range(len(on_target))],
        dtype=np.bool_,
    )
    played = "simulated surges" if replay_of(scenario) is None else "replications"
    if not out.any():
        return f"{said} That happened in none of {len(out):,} {played}."
    missed = int((out & ~on_target).sum())
    asked = share_text(settings.target.share_of_surges)
    return (
        f"{said} That happened in {int(out.sum()):,} of {len(out):,} {played}; {missed:,} of "
        f"these missed the target, which must be met in {asked} of {played.split()[-1]}."
    )


def _out_of_order(scenario: Scenario, stock: Stock, seed: int, sample: Sample, surge: int) -> bool:
    """Return whether the charger failed by chance, or was still in repair, in a surge."""
    from surge_sim.equipment.chance import WorkDraws

    settings = scenario.settings_for(seed, sample, surge)
    draws = WorkDraws.of(settings, seed, sample, surge)
    # a play begins with its run-in
    from_s, to_s = settings.run_in, settings.run_in + settings.horizon
    changes = draws.bay_failures(stock.bays, settings.prices.bays_per_charger, to_s)
    failed = 0
    for at_s, _, bays in changes.tolist():
        if at_s > from_s and (failed or (bays and at_s < to_s)):
            return True
        failed = bays
    return bool(failed)


def empty_stock(stock: Stock, timeline: Sequence[Change], notes: Sequence[str]) -> Iterator[str]:
    """Warn of a stock without kits, batteries or bays where none comes on loan.

    Parameters
    ----------
    stock : Stock
        With which surges were played.
    timeline : sequence of Change
        What changes in them.
    notes : sequence of str
        What the scenario warns of already.
    """
    for name in ("kits", "batteries"):
        if not getattr(stock, name) and not lent(name, timeline):
            yield f"The stock has no {name}, so nobody is ever served and every entry is late."
            return
    told = any("stock.bays" in note for note in notes)
    if not stock.bays and not told and not lent("bays", timeline):
        yield "The stock has no charger bays, so no battery is ever charged again."


def no_entries(entries: IntArray, replay: Replay | None = None) -> Iterator[str]:
    """Warn where no surge, or not the recorded period, had any entry: nothing is shown then.

    Parameters
    ----------
    entries : ndarray of int, shape (surges,)
        Entries of each surge.
    replay : Replay, optional
        A recorded period that was played.
    """
    if not entries.any():
        none = "No entry lies in the recorded period"
        none = "No surge had any entry" if replay is None else none
        yield f"{none}: this says nothing about the stock."


def few_surges(entries: IntArray, in_time: IntArray, service_level: Interval) -> Iterator[str]:
    """Warn of too few surges, and of what they may have missed.

    Parameters
    ----------
    entries, in_time : ndarray of int, shape (surges,)
        Entries of each surge, and those in time.
    service_level : Interval
        Share of all entries that were in time.
    """
    # here: whoever looks at a scenario alone needs no statistics
    from surge_sim.statistics.intervals import CONFIDENCE, ENOUGH_SURGES, FEWEST

    played = len(entries)
    if played == 1:
        yield (
            "One surge says nothing about how surges differ: no intervals of shares of entries or "
            "of waits."
        )
    elif played < FEWEST:
        yield f"{played} surges are too few for intervals of shares of entries or of waits."
    elif played < ENOUGH_SURGES:
        yield (
            f"With {played} surges, fewer than {ENOUGH_SURGES}, the intervals of shares of "
            "entries and of waits are somewhat too narrow."
        )
    if not entries.any():
        yield from no_entries(entries)
    elif played > 1 and service_level.estimate == 1.0:
        rare = 100.0 * (1.0 - (1.0 - CONFIDENCE) ** (1.0 / played))
        yield (
            f"No entry was late in any of {played} surges; late entries in up to {rare:.2g} % "
            "of surges may have been missed by chance."
        )
    elif played >= FEWEST and service_level.low is None:
        late, some = int((in_time != entries).sum()), int((in_time > 0).sum())
        what = f"late in only {late}" if late < FEWEST else f"in time in only {some}"
        yield (
            "No limits are given for the share of entries in time: entries were "
            f"{what} of {played} surges."
        )
