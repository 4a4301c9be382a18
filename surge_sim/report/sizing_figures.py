"""The figure of a sizing: what each stage of the order of buying does for its money."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.ticker import FuncFormatter, PercentFormatter

from surge_sim.report.figures import BLUE, INK, ORANGE, title_above
from surge_sim.report.phrases import plays_name

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

    from surge_sim.demand.replay import Replay

#: colours and marks of the verdicts; they differ in grey print, too
_MARKS = {"confirmed": (BLUE, "o"), "undecided": ("#7f7f7f", "s"), "not met": (ORANGE, "X")}


def draw_stages(
    table: pd.DataFrame, asked: float, currency: str, replay: Replay | None, ax: Axes
) -> Axes:
    """Draw the share of surges on target against the money spent.

    Parameters
    ----------
    table : DataFrame
        The stages: see :attr:`surge_sim.sizing.result.SizeResult.stages_table`.
    asked : float
        Share of surges that the target asks for [0..1].
    currency : str
        Of the money.
    replay : Replay, optional
        Of a recorded log that is played.
    """
    share = table["surges_on_target"] / table["surges"].clip(lower=1)
    ax.plot(table["cost"], share, color=INK, linewidth=0.8, zorder=1)
    ax.axhline(asked, color=INK, linestyle="--", linewidth=1, label="asked for")
    for verdict, (colour, mark) in _MARKS.items():
        rows = table[table["verdict"] == verdict]
        if rows.empty:
            continue
        here = share[rows.index]
        limits = np.array([here - rows["low"], rows["high"] - here]).clip(min=0)
        ax.errorbar(
            rows["cost"].to_numpy(), here.to_numpy(), yerr=None if replay else limits, fmt=mark,
            color=colour, markeredgecolor="black", capsize=3, linewidth=1.2, label=verdict,
        )  # fmt: skip
    best = table[table["recommended"]]
    ax.plot(
        best["cost"].to_numpy(), share[best.index].to_numpy(), marker="*", markersize=17,
        color="#f0e442", markeredgecolor="black", linestyle="none", label="recommended", zorder=5,
    )  # fmt: skip
    ax.set_ylim(-0.02, 1.04)
    ax.yaxis.set_major_formatter(PercentFormatter(1.0))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.10g}"))
    ax.set_xlabel(f"money so far [{currency}]")
    ax.set_ylabel(f"share of {plays_name(replay)} on target")
    title_above(ax, "What each step of the order of buying does")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=5, frameon=False, fontsize=9)
    return ax
