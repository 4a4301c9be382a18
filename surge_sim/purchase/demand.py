"""What if more patients come: how both stocks do then, and what it costs to be ready for them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.equipment.stock import added_words
from surge_sim.sizing.player import Seen
from surge_sim.sizing.result import stock_columns
from surge_sim.statistics.intervals import clopper_pearson
from surge_sim.units import HOUR_S
from surge_sim.whatif.design import alternative_of
from surge_sim.whatif.usual import NotTried, more_patients

if TYPE_CHECKING:
    from surge_sim.engine.log import IntArray
    from surge_sim.purchase.sized import Sized
    from surge_sim.scenario.load import Scenario

#: so many per cent more patients
MORE = (20, 50)
STOCKS = ("in_hand", "proposed")


@dataclass(frozen=True, eq=False)
class ForMore:
    """A sizing of the same scenario with more patients, asked for in the same way."""

    #: so many per cent more, one of `MORE`
    per_cent: int
    sized: Sized


def higher_demand(scenario: Scenario) -> tuple[Scenario, ...]:
    """Return a scenario with more patients for each of `MORE`; none where that makes no sense."""
    found = []
    for per_cent in MORE:
        tried = more_patients(scenario.settings, per_cent)
        if isinstance(tried, NotTried):
            return ()
        name = f"{per_cent} % more patients"
        found.append(alternative_of(scenario, name, tried.changes).scenario)
    return tuple(found)


def short_of(demand: pd.DataFrame, share: float) -> int | None:
    """Return the fewest per cent more patients with which the proposed stock is met too seldom.

    Parameters
    ----------
    demand : DataFrame
        From `demand_table`.
    share : float
        Share of surges that the target asks for [0..1].

    Returns
    -------
    int or None
        One of `MORE`; None where the stock still did what is asked, or nothing was simulated.
    """
    if demand.empty:
        return None
    mine = demand[(demand["stock"] == STOCKS[1]) & (demand["more_patients"] > 0)]
    short = mine.loc[mine["share_on_target"] < share, "more_patients"]
    return None if short.empty else round(100 * float(short.min()))


def demand_table(played: IntArray) -> pd.DataFrame:
    """Return how each stock does with more patients.

    Parameters
    ----------
    played : ndarray of int64, shape (stocks x levels, surges, SEEN)
        As expected and then as in `MORE`, each with present and with proposed stock; see
        :func:`surge_sim.sizing.player.row_of`.

    Returns
    -------
    DataFrame
        One row for each, from the surges that all were played on.
    """
    rows = []
    for place, seen in enumerate(played):
        surges, met = len(seen), int(seen[:, Seen.ON_TARGET].sum())
        entries, late = (int(seen[:, one].sum()) for one in (Seen.ENTRIES, Seen.LATE))
        low, high = clopper_pearson(met, surges)
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
            "hours_waited": float(seen[:, Seen.WAIT_S].mean() / HOUR_S),
        }
        rows.append(
            {name: float(f"{one:.6g}") if isinstance(one, float) else one
             for name, one in row.items()}
        )  # fmt: skip
    return pd.DataFrame(rows)


def ready_table(sized: Sized, more: ForMore) -> pd.DataFrame:
    """Return what it costs to be ready for more patients, beside what is requested: one row.

    Parameters
    ----------
    sized : Sized
        What is requested, for the patients that are expected.
    more : ForMore
        The sizing with more of them.
    """
    requested, ready = (one.tables["stages"].iloc[one.place] for one in (sized, more.sized))
    told = ("cost", "purchase", "paid_per_surge", "surges", "surges_on_target", "low", "high",
            "verdict")  # fmt: skip
    row = {
        "more_patients": more.per_cent / 100,
        "bought": added_words(more.sized.in_hand, more.sized.proposed),
        **stock_columns(more.sized.proposed),
        **{name: ready[name] for name in told},
        "cost_requested": requested["cost"],
        "more_than_requested": float(f"{ready['cost'] - requested['cost']:.6g}"),
    }
    return pd.DataFrame([row])
