"""The figure of where equipment is over time, and what is left of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.ticker import MaxNLocator

from surge_sim.report.figures import INK, ORANGE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: from so many hours on, one hour a day is drawn
_BY_DAY = 240
#: colour and hatch of the states of things, by their names
_STATES = {
    "in use": ("#0072b2", ""),
    "contact or drying time": ("#9ecae1", ""),
    "in wipe-down": ("#ffffff", "...."),
    "waiting for a wipe-down": ("#f0b48a", "///"),
    "in repair or for a filter": ("#e5c1d8", "xxx"),
    "in a bay": ("#9ecae1", ""),
    "waiting for a bay": ("#f0b48a", "///"),
}
#: what the numbers in brackets beside the states of things are
_PEAKS = "in brackets: most at any one\nmoment, mean over {}"


def draw_use(
    table: pd.DataFrame,
    states: dict[str, str],
    free: str | None,
    have: int,
    what: str,
    ax: Axes,
    peaks: dict[str, float] | None = None,
    plays: str = "surges",
) -> Axes:
    """Draw where things are over time, one state on another, below all that are in the unit.

    What is left between is free. For more than ten days, the hour of each day with the
    least free is drawn: a mean over a day looks idle although people wait at its peak. A state
    that no surge ever had is left out.

    Parameters
    ----------
    table : DataFrame
        Columns ``hour``, ``state``, ``mean``, ``p10``, ``p90``.
    states : dict
        State -> name in the legend, from the bottom.
    free : str, optional
        State of the things that are free. Without it the only state says how many are not.
    have : int
        Number of things in the stock.
    what : str
        Name of the things, for the axis.
    ax : Axes
        Where to draw.
    peaks : dict, optional
        State -> most at any moment of a surge, mean of surges.
    plays : str
        What the means are over.
    """
    mean, p10, p90 = (
        table.pivot(index="hour", columns="state", values=name) for name in ("mean", "p10", "p90")
    )
    shown = {state: name for state, name in states.items() if not peaks or peaks[state]}
    first = next(iter(states))
    hours = _fullest_hours(mean[first] if free is None else -mean[free])
    days = hours.to_numpy(dtype=float) / 24
    top = np.zeros(len(days))
    for state, name in shown.items():
        colour, hatch = _STATES[name]
        label = f"{name} ({_one_decimal(peaks[state])})" if peaks else name
        bottom, top = top, top + mean.loc[hours.index, state].to_numpy(dtype=float)
        ax.fill_between(
            days, bottom, top, facecolor=colour, hatch=hatch, edgecolor=INK, linewidth=0.3,
            label=label,
        )  # fmt: skip
    if free is None:
        there, most = np.full(len(days), float(have)), p90.loc[hours.index, first].to_numpy()
    else:
        # loans add to the stock and what is withdrawn is taken from it; of these, what is free in
        # the tenth of surges with the least
        there = mean.loc[hours.index, [*states, free]].sum(axis=1).to_numpy(dtype=float)
        most = there - p10.loc[hours.index, free].to_numpy(dtype=float)
    one = plays.removesuffix("s")
    if not np.allclose(most, top):
        ax.plot(days, most, color=INK, linewidth=1.6, label=f"1 {one} in 10: so many or more")
    end = (table["hour"] + table.get("hours", 1.0)).max() / 24
    changes = not np.allclose(there, have, atol=1e-3)
    ax.plot(
        [0, *days, end], [there[0], *there, there[-1]], color=ORANGE, linewidth=1.4,
        linestyle="--", label="in the unit; " * changes + f"in stock: {have:,}",
    )  # fmt: skip
    ax.set_ylabel(what)
    ax.set_xlim(0, end)
    ax.set_ylim(bottom=0, top=1.08 * max(most.max(), top.max(initial=0.0), there.max(), have))
    ax.yaxis.set_major_locator(MaxNLocator(integer=True, nbins=5))
    handles, labels = ax.get_legend_handles_labels()
    # as they lie on one another, the highest first
    ax.legend(
        handles[::-1], labels[::-1], loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False,
        fontsize=9, title_fontsize=9, alignment="left",
        title=_PEAKS.format(plays) if peaks else None,
    )  # fmt: skip
    return ax


def _fullest_hours(taken: pd.Series) -> pd.Series:
    """Return the hours to draw, each by the row it is taken from: of long spans one each day."""
    hours = taken.index.to_series()
    if hours.max() <= _BY_DAY:
        return hours
    fullest = taken.groupby(hours // 24).idxmax()
    return pd.Series(fullest.index.to_numpy() * 24 + 12, index=fullest.to_numpy())


def use_title(table: pd.DataFrame, plays: str = "surges") -> str:
    """Return the title of a figure of use over time, and below it what bands and lines are."""
    hours = float(table["hours"].max()) if "hours" in table else 1.0
    stretch = "hour" if hours == 1.0 else f"{hours:g} hours"
    by_day = table["hour"].max() > _BY_DAY
    which = f"the {stretch} of each day with the least free" if by_day else f"each {stretch}"
    return f"Where equipment is over time\nbands: means over {plays} in {which}, on one another"


def _one_decimal(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
