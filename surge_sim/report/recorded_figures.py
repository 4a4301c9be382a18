"""Figures of recorded waits beside simulated ones: by day, and entry by entry.

Recorded marks are filled and dark, simulated ones open, so grey print is enough.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from surge_sim.report.figures import BLUE, INK, ORANGE, show_dates
from surge_sim.statistics.recorded import WHOLE

if TYPE_CHECKING:
    from datetime import date

    from matplotlib.axes import Axes

#: simulated marks stand so far beside the recorded ones [days]
_BESIDE = 0.12


def draw_recorded_by_day(table: pd.DataFrame, top: Axes, bottom: Axes, begins: date) -> None:
    """Draw share late (top), median and 90th percentile of the wait (bottom) by day.

    Parameters
    ----------
    table : DataFrame
        See :func:`surge_sim.statistics.recorded.comparison_table`.
    top, bottom : Axes
        Where to draw.
    begins : date
        Date of day 1.
    """
    days = table[table["group"] != WHOLE]
    _draw_measure(days, "share late", 100.0, "o", top)
    top.set_ylabel("late entries [%]")
    top.set_title("Waits that were recorded, and simulated ones", loc="left")
    _draw_measure(days, "median", 1.0, "o", bottom, "median")
    _draw_measure(days, "90th percentile", 1.0, "^", bottom, "90th percentile")
    bottom.set_ylabel("wait [min]")
    bottom.set_xlabel("day of the recorded period, and its date")
    show_dates(bottom, begins, first_day=1)
    numbers = days["group"].str.removeprefix("day ").astype(float)
    bottom.set_xlim(numbers.min() - 0.5, numbers.max() + 0.5)
    for axes in (top, bottom):
        axes.set_ylim(bottom=0)
        axes.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, fontsize=9)


def _draw_measure(
    days: pd.DataFrame, measure: str, times: float, mark: str, ax: Axes, name: str = ""
) -> None:
    mine = days[days["measure"] == measure]
    day = mine["group"].str.removeprefix("day ").to_numpy(dtype=float)
    recorded, simulated, low, high = (
        times * mine[column].to_numpy(dtype=float)
        for column in ("recorded", "simulated", "simulated_lowest", "simulated_highest")
    )
    label, end = f"{name}, " if name else "", ""
    ax.plot(
        day - _BESIDE, recorded, linestyle="none", marker=mark, color=INK, markersize=6,
        label=f"{label}recorded", clip_on=False, zorder=3,
    )  # fmt: skip
    if (high > low).any():
        ax.vlines(day + _BESIDE, low, high, color=BLUE, linewidth=1.2)
        end = "" if name else ", mean\n(line: from lowest to\nhighest of all plays)"
    ax.plot(
        day + _BESIDE, simulated, linestyle="none", marker=mark, color=BLUE, markersize=6,
        markerfacecolor="white", label=f"{label}simulated{end}", clip_on=False, zorder=3,
    )  # fmt: skip


def draw_recorded_by_entry(table: pd.DataFrame, wait_min: float, ax: Axes) -> Axes:
    """Draw the simulated wait of each entry over the recorded one.

    Parameters
    ----------
    table : DataFrame
        See :func:`surge_sim.statistics.recorded.entries_table`.
    wait_min : float
        The target's wait [min].
    ax : Axes
        Where to draw.
    """
    recorded = table["recorded_min"].to_numpy(dtype=float)
    simulated = table["simulated_min"].to_numpy(dtype=float)
    most = 1.05 * max(recorded.max(), simulated.max(), wait_min)
    ax.plot([0, most], [0, most], color=INK, linewidth=1, label="equal")
    ax.axvline(wait_min, color=ORANGE, linestyle="--", label=f"target: {wait_min:g} min")
    ax.axhline(wait_min, color=ORANGE, linestyle="--")
    shade = float(np.clip(200 / len(table), 0.15, 0.7))
    ax.plot(
        recorded, simulated, linestyle="none", marker="o", markersize=5, color=BLUE,
        markerfacecolor="none", alpha=shade, label="one entry", clip_on=False,
    )  # fmt: skip
    ax.set_xlim(0, most)
    ax.set_ylim(0, most)
    ax.set_xlabel("recorded wait [min]")
    ax.set_ylabel("simulated wait, mean over plays [min]")
    ax.set_title("Entry by entry", loc="left")
    ax.legend(loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, fontsize=9)
    return ax
