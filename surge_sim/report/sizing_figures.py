"""Figures of a sizing: the frontier and what is known around it, what surges need, evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.colors import ListedColormap
from matplotlib.patches import Patch

from surge_sim.sizing.items import ITEMS, count_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from surge_sim.sizing.result import SizeResult

#: colours keep apart for colour-blind eyes and in grey print (light, middle, dark)
_STATES = {"certified": "#d7ecf7", "undecided": "#b0b0b0", "fails": "#5c3a21"}
_SHADES = {"passes": "#0072b2", "undecided": "#7f7f7f", "fails": "#5c3a21"}
_MARKS = {"passes": "o", "undecided": "s", "fails": "X"}
_INK = "#202020"


def draw_frontier(result: SizeResult, ax: Axes) -> Axes:
    """Draw what is known of each mix of the first two items; needs at least two that vary."""
    band = result.band_table
    space = result.choice.space
    ladder, across = space.ladder.item, space.axes[0].item
    window = _window(band, result, ladder, across)
    grid = window.pivot(index=ladder, columns=across, values="state")
    order = list(_STATES)
    codes = grid.map(order.index).to_numpy()
    x, y = grid.columns.to_numpy(dtype=float), grid.index.to_numpy(dtype=float)
    dx, dy = space.axes[0].step, space.ladder.step
    edges_x = np.append(x - dx / 2, x[-1] + dx / 2)
    edges_y = np.append(y - dy / 2, y[-1] + dy / 2)
    colours = ListedColormap(list(_STATES.values()))
    ax.pcolormesh(
        edges_x, edges_y, codes, cmap=colours, vmin=-0.5, vmax=2.5, edgecolor="white", linewidth=0.3
    )
    _draw_estimate(result, ax, ladder, across, (edges_x, edges_y))
    best = result.recommended
    ax.plot(
        ITEMS[across].of(best), ITEMS[ladder].of(best), marker="*", markersize=17, color="#d55e00",
        markeredgecolor="black", linestyle="none", label="recommended", zorder=5,
    )  # fmt: skip
    hand = (ITEMS[across].of(result.in_hand), ITEMS[ladder].of(result.in_hand))
    if edges_x[0] <= hand[0] <= edges_x[-1] and edges_y[0] <= hand[1] <= edges_y[-1]:
        ax.plot(
            *hand, marker="D", markersize=8, color="white", markeredgecolor="black",
            linestyle="none", label="in hand", zorder=5,
        )  # fmt: skip
    names = {
        "certified": "certified: shown to keep the target",
        "undecided": "undecided",
        "fails": "fails: shown not to keep it",
    }
    patches = [
        Patch(facecolor=colour, edgecolor="black", linewidth=0.5, label=names[state])
        for state, colour in _STATES.items()
    ]
    lines, _ = ax.get_legend_handles_labels()
    ax.legend(
        handles=[*patches, *lines], loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=2,
        frameon=False, fontsize=9,
    )  # fmt: skip
    ax.set_xlim(edges_x[0], edges_x[-1])
    ax.set_ylim(edges_y[0], edges_y[-1])
    ax.set_xlabel(f"{across} [count]")
    ax.set_ylabel(f"{ladder} [count]")
    share = 100 * result.target.share_of_surges
    rest = [
        count_words(name, item.of(best))
        for name, item in ITEMS.items()
        if name not in (ladder, across) and (name == "bays" or name in result.vary)
    ]
    ax.set_title(f"With {', '.join(rest)}: on target in {share:g} % of surges?", loc="left")
    _whole_ticks(ax)
    return ax


def draw_needed(result: SizeResult, ax: Axes) -> Axes:
    """Draw, for each item that varies, the share of surges that a number of it serves."""
    share = result.target.share_of_surges
    styles = ("-", "--", ":", "-.", (0, (5, 1, 1, 1)), (0, (1, 1)))
    colours = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#000000")
    top = 0
    for name, style, colour in zip(result.vary, styles, colours, strict=False):
        needed, beyond = result.needed(name)
        numbers = np.arange(int(needed.min()), beyond)
        served = [float(np.mean(needed <= number)) for number in numbers]
        enough = np.flatnonzero(np.array(served) >= max(served) - 1e-9)
        numbers, served = numbers[: enough[0] + 3], served[: enough[0] + 3]
        ax.step(
            numbers, np.array(served) * 100, where="post", linestyle=style, color=colour,
            linewidth=2, label=f"{name} (the rest as recommended)",
        )  # fmt: skip
        bought = ITEMS[name].of(result.recommended)
        kept = 100 * float(np.mean(needed <= bought))
        ax.plot(bought, kept, marker="o", color=colour, markeredgecolor="black", zorder=4)
        ax.annotate(
            str(bought),
            (bought, kept),
            textcoords="offset points",
            xytext=(-4, 7),
            color=_INK,
            ha="right",
        )
        top = max(top, bought)
    ax.axhline(100 * share, color=_INK, linewidth=1, linestyle=(0, (6, 3)))
    ax.annotate(
        f"target {100 * share:g} %", (0.01, 100 * share), xycoords=("axes fraction", "data"),
        textcoords="offset points", xytext=(2, 3), color=_INK, fontsize=9,
    )  # fmt: skip
    ax.set_ylim(0, 103)
    ax.set_xlabel("number [count]; the marked number is the recommended one")
    ax.set_ylabel("choosing surges on target [%]")
    ax.set_title("How much stock do surges need?", loc="left")
    ax.legend(loc="lower right", frameon=False)
    _whole_ticks(ax)
    return ax


def draw_evidence(result: SizeResult, ax: Axes) -> Axes:
    """Draw the share of fresh surges on target, with limits, for one item less and the rest."""
    table = result.evidence_table
    wanted = table["role"].str.endswith("less") | table["role"].isin(
        ["recommended", "next candidate"]
    )
    table = table[wanted].iloc[::-1].reset_index(drop=True)
    for place, (_, row) in enumerate(table.iterrows()):
        colour, mark = _SHADES[row["verdict"]], _MARKS[row["verdict"]]
        ax.plot([100 * row["low"], 100 * row["high"]], [place, place], color=colour, linewidth=3)
        ax.plot(
            100 * row["share"], place, marker=mark, color=colour, markersize=9,
            markeredgecolor="black", linestyle="none",
        )  # fmt: skip
    target = 100 * result.target.share_of_surges
    ax.axvline(target, color=_INK, linewidth=1, linestyle=(0, (6, 3)))
    ax.annotate(
        f"target {target:g} %", (target, 1.0), xycoords=("data", "axes fraction"),
        textcoords="offset points", xytext=(4, -11), fontsize=9, color=_INK,
    )  # fmt: skip
    labels = [
        f"{row['role']}\n{row['kits']} kits, {row['batteries']} batteries, {row['bays']} bays"
        for _, row in table.iterrows()
    ]
    ax.set_yticks(range(len(table)), labels)
    ax.set_ylim(-0.6, len(table) - 0.2)
    seen = [verdict for verdict in _SHADES if verdict in set(table["verdict"])]
    for verdict in seen:
        ax.plot(
            [], [], color=_SHADES[verdict], marker=_MARKS[verdict], linewidth=3,
            markeredgecolor="black", label=verdict,
        )  # fmt: skip
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=len(seen), frameon=False)
    ax.set_xlabel("fresh surges on target, with one-sided limits [%]")
    ax.set_title("What one item less does", loc="left")
    return ax


def _draw_estimate(
    result: SizeResult,
    ax: Axes,
    ladder: str,
    across: str,
    edges: tuple[np.ndarray, np.ndarray],  # type: ignore[type-arg]
) -> None:
    """Draw the frontier of sample A in this plane as a dashed staircase."""
    band = result.band_table
    share = result.target.share_of_surges
    good = band[band["share"].notna() & (band["share"].astype(float) >= share - 1e-9)]
    least = good.groupby(across)[ladder].min().sort_index().cummin()
    if least.empty:
        return
    half_x = (edges[0][1] - edges[0][0]) / 2
    half_y = (edges[1][1] - edges[1][0]) / 2
    x = np.append(least.index.to_numpy(float) - half_x, edges[0][-1])
    y = np.append(least.to_numpy(float), least.to_numpy(float)[-1]) - half_y
    x, y = np.insert(x, 0, x[0]), np.insert(y, 0, edges[1][-1])
    for colour, width in (("white", 3.5), ("black", 1.6)):
        ax.step(
            x, y, where="post", color=colour, linewidth=width,
            linestyle="-" if colour == "white" else (0, (4, 2)),
            label=None if colour == "white" else "estimated frontier",
        )  # fmt: skip


def _window(band: pd.DataFrame, result: SizeResult, ladder: str, across: str) -> pd.DataFrame:
    """Keep the part of the plane around the frontier."""
    best = {name: ITEMS[name].of(result.recommended) for name in (ladder, across)}
    keep = pd.Series(True, index=band.index)
    for name, number in best.items():
        hand = ITEMS[name].of(result.in_hand)
        reach = max(round(0.45 * number), 5)
        low = min(number - reach, hand - 1 if hand >= number - 2 * reach else number)
        keep &= (band[name] >= low) & (band[name] <= max(number + reach, 0))
    return band[keep]


def _whole_ticks(ax: Axes) -> None:
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    if "[%]" not in ax.get_ylabel():
        ax.yaxis.set_major_locator(MaxNLocator(integer=True))
