"""The figures of a run: which there are, from which table, and where equipment is over time."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from surge_sim.report.figures import (
    INK,
    ORANGE,
    draw_causes_of_waiting,
    draw_recorded_by_day,
    draw_recorded_by_entry,
    draw_service_level,
    draw_spread,
    draw_wait_curve,
    legend_beside,
    new_figure,
    show_dates,
    title_above,
)
from surge_sim.report.phrases import per_play, plays_name
from surge_sim.report.rounding import one_decimal
from surge_sim.statistics.result import RunResult

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
    "cooling": ("#ffffff", "..."),
    "failed": ("#e5c1d8", "xxx"),
}
#: what the numbers beside the states of things are
_PEAKS = "at most: at one moment,\nmean over {}"
_KITS = {
    "kits in use": "in use",
    "kits drying": "contact or drying time",
    "kits in wipe-down": "in wipe-down",
    "kits waiting for wipe-down": "waiting for a wipe-down",
    "kits out of service": "in repair or for a filter",
}
_BATTERIES = {
    "batteries in use": "in use",
    "batteries in bay": "in a bay",
    "batteries waiting for bay": "waiting for a bay",
    "batteries cooling": "cooling",
    "batteries out of service": "failed",
}


def run_figures(result: RunResult) -> Iterator[tuple[str, Figure, pd.DataFrame]]:
    """Yield the figures of a run that had entries: name, picture, and the numbers in it."""
    target, replay = result.target, result.replay
    wait_min, share = target.wait / 60, target.service_level
    plays = plays_name(replay)
    period = "surge" if replay is None else "recorded period"
    for by, table in (("day", result.by_day), ("hour", result.by_hour)):
        figure = new_figure()
        draw_service_level(table, by, share, figure.axes[0], period)
        yield f"service_level_by_{by}", figure, table

    figure = new_figure()
    asked = share if result.late_by_waits_alone else None
    draw_wait_curve(result.wait_curve, wait_min, asked, figure.axes[0], plays)
    yield "wait_curve", figure, result.wait_curve

    figure = new_figure(height=max(3.2, 1.2 + 0.25 * len(result.cause_of_waiting)))
    draw_causes_of_waiting(result.cause_of_waiting, figure.axes[0], per_play(replay))
    yield "cause_of_waiting", figure, result.cause_of_waiting

    yield "use_over_time", _use_figure(result, period), result.use_over_time

    by_day, by_entry = result.recorded_waits, result.recorded_waits_by_entry
    if by_day is not None and by_entry is not None:
        figure = new_figure(panels=2, width=8.5, height=5.5)
        top, bottom = figure.axes
        draw_recorded_by_day(by_day, top, bottom, result.start.date())
        yield "recorded_waits", figure, by_day
        figure = new_figure(height=5.0)
        draw_recorded_by_entry(by_entry, wait_min, figure.axes[0])
        yield "recorded_waits_by_entry", figure, by_entry

    if replay is None or not replay.alike:  # one play has no spread
        figure = new_figure()
        draw_spread(result.surges, share, figure.axes[0], plays)
        yield "spread_of_surges", figure, result.surges


def _use_figure(result: RunResult, period: str) -> Figure:
    """Return where kits, batteries and bays are over time, one panel each."""
    figure, table, stock = new_figure(3, 8.5, 6.5), result.use_over_time, result.stock
    top, middle, bottom = figure.axes
    plays = plays_name(result.replay)
    peaks = dict(zip(result.use["state"], result.use["peak_mean"], strict=True))
    draw_use(table, _KITS, "kits ready", stock.kits, "kits", top, peaks, plays)
    free = "batteries on shelf"
    draw_use(table, _BATTERIES, free, stock.batteries, "batteries", middle, peaks, plays)
    draw_use(table, {"batteries in bay": "in use"}, None, stock.bays, "bays", bottom, peaks, plays)
    title, meaning = use_title(table, plays).split("\n")
    title_above(top, title, pad=20)
    top.annotate(
        meaning, (0, 1), xycoords="axes fraction", textcoords="offset points", xytext=(0, 6),
        fontsize=9,
    )  # fmt: skip
    bottom.set_xlabel(f"beginning of each day of the {period}, and its date")
    show_dates(bottom, result.start.date())
    return figure


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
        label = f"{name}, at most {one_decimal(peaks[state])}" if peaks else name
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
        most = np.maximum(there - p10.loc[hours.index, free].to_numpy(dtype=float), 0.0)
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
    highest = max(most.max(), top.max(initial=0.0), there.max(), have)
    ax.set_ylim(bottom=0, top=1.08 * highest or 1.0)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True, nbins=5))
    handles, labels = ax.get_legend_handles_labels()
    # as they lie on one another, the highest first
    legend_beside(
        ax, handles[::-1], labels[::-1], title_fontsize=9, alignment="left",
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
    stretch = "hour" if hours == 1.0 else f"{hours:.3g} hours"
    by_day = table["hour"].max() > _BY_DAY
    which = f"the {stretch} of each day with the least free" if by_day else f"each {stretch}"
    return f"Where equipment is over time\nbands: means over {plays} in {which}, on one another"
