"""Why the stock in hand is late: what people wait for with it, down to the cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from surge_sim.randomness import Sample
from surge_sim.statistics.causes import STATES, waiting_by_cause
from surge_sim.statistics.moments import RatioSums
from surge_sim.statistics.tables import causes_table

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.scenario import Scenario

#: surges that are played for it, and fewer if so many entries are reached before
_MOST_SURGES, _ENOUGH_ENTRIES = 40, 100_000


def waiting_with(
    scenario: Scenario, stock: Stock, seed: int, surges: int, engine: str
) -> pd.DataFrame:
    """Return what people wait for with a stock, in the first of the surges that choose.

    Parameters
    ----------
    scenario : Scenario
        What is sized.
    stock : Stock
        Played as it is.
    seed, surges : int
        As those of the search: the most surges to play.
    engine : {"compiled", "reference"}
        Which engine plays.

    Returns
    -------
    pandas.DataFrame
        As the table ``waiting_for`` of a run; no rows if nobody waits.
    """
    from surge_sim.demand.draw import draw_demand
    from surge_sim.engine.play import play

    causes, played, entries = RatioSums(STATES), 0, 0
    while played < min(surges, _MOST_SURGES) and entries < _ENOUGH_ENTRIES:
        trace = draw_demand(scenario, seed=seed, surge=played, sample=Sample.CHOOSE)
        waited_s = waiting_by_cause(play(trace, stock, engine))  # type: ignore[arg-type]
        causes.add(waited_s, np.full(STATES, int(waited_s.sum())))
        played, entries = played + 1, entries + trace.entries
    return causes_table(causes, max(played, 1))
