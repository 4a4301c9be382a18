"""Why the stock in hand is late: what people wait for with it, down to the cause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from surge_sim.randomness import Sample
from surge_sim.statistics.causes import STATES, waiting_by_cause
from surge_sim.statistics.tables import waiting_for_table

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
    from surge_sim.engine.play import play
    from surge_sim.equipment.case import case_of

    cause_s, entries = np.zeros((0, STATES), dtype=np.int64), 0
    while len(cause_s) < min(surges, _MOST_SURGES) and entries < _ENOUGH_ENTRIES:
        case = case_of(scenario, stock, seed, len(cause_s), Sample.CHOOSE)
        waited_s = waiting_by_cause(play(*case, engine=engine))  # type: ignore[arg-type]
        cause_s, entries = np.vstack([cause_s, waited_s]), entries + case.demand.entries
    return waiting_for_table(cause_s)
