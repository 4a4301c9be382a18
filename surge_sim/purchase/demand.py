"""What if more patients come: present and proposed stock on the same surges with more of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from surge_sim.statistics.intervals import clopper_pearson
from surge_sim.whatif.design import alternative_of
from surge_sim.whatif.usual import NotTried, more_patients

if TYPE_CHECKING:
    from surge_sim.purchase.play import Played
    from surge_sim.scenario.load import Scenario

#: so many per cent more patients
MORE = (20, 50)
STOCKS = ("in_hand", "proposed")


class HigherDemand(NamedTuple):
    """Scenarios in which more patients come; or why there are none."""

    scenarios: tuple[Scenario, ...]
    why_not: str = ""


def higher_demand(scenario: Scenario) -> HigherDemand:
    """Return a scenario with more patients, one for each of `MORE`."""
    found = []
    for per_cent in MORE:
        tried = more_patients(scenario.settings, per_cent)
        if isinstance(tried, NotTried):
            return HigherDemand((), tried.reason)
        name = f"{per_cent} % more patients"
        found.append(alternative_of(scenario, name, tried.changes).scenario)
    return HigherDemand(tuple(found))


def demand_table(played: Sequence[Played]) -> pd.DataFrame:
    """Return how each stock does with more patients.

    Parameters
    ----------
    played : sequence of Played
        As expected and then as in `MORE`, each with present and with proposed stock.

    Returns
    -------
    DataFrame
        One row for each, from the surges that all were played on.
    """
    rows = []
    surges = min(len(one.surges) for one in played)
    for place, one in enumerate(played):
        mine = one.surges.head(surges)
        met, entries = int(mine["on_target"].sum()), int(mine["entries"].sum())
        low, high = clopper_pearson(met, surges)
        late = entries - int(mine["in_time"].sum())
        row = {
            "more_patients": (0, *MORE)[place // len(STOCKS)] / 100,
            "stock": STOCKS[place % len(STOCKS)],
            "surges": surges,
            "surges_on_target": met,
            "share_on_target": met / surges,
            "low": low,
            "high": high,
            "entries": entries / surges,
            "late": late / surges,
            "share_late": late / entries if entries else 0.0,
            "hours_waited": float(mine["hours_waited"].mean()),
        }
        rows.append(
            {name: float(f"{one:.6g}") if isinstance(one, float) else one
             for name, one in row.items()}
        )  # fmt: skip
    return pd.DataFrame(rows)
