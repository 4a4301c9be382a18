"""Figures of a sizing: the frontier and what is known around it, what surges need, evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from matplotlib.colors import ListedColormap
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import FuncFormatter, MaxNLocator

from surge_sim.report.replay_words import plays_name
from surge_sim.report.rounding import percent
from surge_sim.sizing.alone import low_alone
from surge_sim.sizing.items import (
    ITEMS,
    PARTS,
    STOCK_WITHOUT_PARTS,
    held_words,
    parts_of,
    stock_words,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.certify import Evidence
    from surge_sim.sizing.result import SizeResult

#: colours keep apart for colour-blind eyes and in grey print (light, middle, dark)
_STATES = {"certified": "#d7ecf7", "undecided": "#b0b0b0", "fails": "#5c3a21"}
_SHADES = {"passes": "#0072b2", "undecided": "#7f7f7f", "fails": "#5c3a21"}
_MARKS = {"passes": "o", "undecided": "s", "fails": "X"}
_INK = "#202020"
#: stocks with more of them in a row are drawn without lines between
_MOST_LINES = 60
#: colour, dash and mark of each item that varies
_ITEM_STYLES: tuple[tuple[str, Any, str], ...] = (
    ("#0072b2", "-", "o"), ("#d55e00", "--", "s"), ("#009e73", ":", "^"),
    ("#cc79a7", "-.", "D"), ("#56b4e9", (0, (5, 1, 1, 1)), "v"), ("#000000", (0, (1, 1)), "P"),
)  # fmt: skip


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
        edges_x,
        edges_y,
        codes,
        cmap=colours,
        vmin=-0.5,
        vmax=2.5,
        # lines between very many stocks would lie as close as hatching and lighten the colours
        edgecolor="white" if max(codes.shape) <= _MOST_LINES else "none",
        linewidth=0.3,
    )
    _draw_estimate(result, ax, ladder, across, (edges_x, edges_y))
    best = result.recommended
    ax.plot(
        ITEMS[across].of(best), ITEMS[ladder].of(best), marker="*", markersize=17, color="#d55e00",
        markeredgecolor="black", linestyle="none", label="recommended", zorder=5,
    )  # fmt: skip
    hand = (ITEMS[across].of(result.in_hand), ITEMS[ladder].of(result.in_hand))
    inside = edges_x[0] <= hand[0] <= edges_x[-1] and edges_y[0] <= hand[1] <= edges_y[-1]
    if inside:
        words = _in_hand_words(result, ladder, across)
    else:
        # the legend says where it is, so that nobody looks for it
        words = f"in hand, outside this figure:\n{stock_words(result.in_hand)}"
    ax.plot(
        [hand[0]] if inside else [], [hand[1]] if inside else [], marker="D", markersize=8,
        color="white", markeredgecolor="black", linestyle="none", label=words, zorder=5,
    )  # fmt: skip
    names = {
        "certified": "certified: shown to keep the target, or has\n"
        "at least as much of everything as one that was",
        "undecided": "undecided",
        "fails": "fails: shown not to keep it, or has\nno more of anything than one that was",
    }
    patches = [
        Patch(facecolor=colour, edgecolor="black", linewidth=0.5, label=names[state])
        for state, colour in _STATES.items()
    ]
    lines, _ = ax.get_legend_handles_labels()
    ax.legend(
        handles=[*patches, *lines], loc="upper center", bbox_to_anchor=(0.5, -0.12), ncols=2,
        frameon=False, fontsize=9, title_fontsize=9, alignment="left",
        title="Of stocks that were not tested themselves, this holds if more stock never hurts.",
    )  # fmt: skip
    ax.set_xlim(edges_x[0], edges_x[-1])
    ax.set_ylim(edges_y[0], edges_y[-1])
    ax.set_xlabel(f"number of {across}")
    ax.set_ylabel(f"number of {ladder}")
    share = 100 * result.target.share_of_surges
    held = result.held_in_band(ladder, across)
    rest = [held_words(name, ITEMS[name].of(best)) for name in held if name not in PARTS]
    if any(best.extra_parts):
        rest.append("parts as recommended")
    where = f"in {share:g} % of {plays_name(result.replay)}"
    if result.replay is not None and result.replay.alike:
        where = "in the recorded period"
    ax.set_title(f"With {', '.join(rest)}: on target {where}?", loc="left")
    _whole_ticks(ax)
    return ax


def _in_hand_words(result: SizeResult, ladder: str, across: str) -> str:
    """Say what the stock in hand has of the items that the plane holds at another number."""
    other = [
        held_words(name, item.of(result.in_hand))
        for name, item in ITEMS.items()
        if name not in (ladder, across, *PARTS)
        and item.of(result.in_hand) != item.of(result.recommended)
    ]
    if result.in_hand.extra_parts != result.recommended.extra_parts:
        other.append("other parts")
    return f"in hand (but {', '.join(other)})" if other else "in hand"


def draw_needed(result: SizeResult, ax: Axes) -> Axes:
    """Draw, for each item that varies, the share of surges that a number of it serves.

    Numbers stand in the legend and not beside the marks, which may lie close together.
    """
    share = result.target.share_of_surges
    beyond_any = False
    sizes = _mark_sizes([ITEMS[name].of(result.recommended) for name in result.vary])
    for name, size, (colour, dash, mark) in zip(result.vary, sizes, _ITEM_STYLES, strict=False):
        needed, beyond = result.needed(name)
        bought = ITEMS[name].of(result.recommended)
        numbers = np.arange(int(needed.min()), beyond)
        if not numbers.size:
            # every surge needs more than was searched: nothing to draw
            continue
        served = np.array([100 * float(np.mean(needed <= number)) for number in numbers])
        ax.step(
            numbers, served, where="post", linestyle=dash, color=colour,
            linewidth=2, marker=mark, markevery=[], markeredgecolor=_INK, markersize=8,
            label=f"{name}: {bought:,} recommended",
        )  # fmt: skip
        # what was not searched serves at least as many as the last number that was
        known = served[min(max(bought - numbers[0], 0), len(served) - 1)]
        outside = bought >= beyond
        if outside:
            ax.plot([numbers[-1], bought], [known, known], color=colour, linewidth=1)
        ax.plot(
            bought, known, marker=mark, color=colour, markeredgecolor=_INK,
            markersize=size,
            markerfacecolor="white" if outside else colour, linestyle="none", zorder=4,
            clip_on=False,
        )  # fmt: skip
        beyond_any |= outside
    ax.axhline(
        100 * share, color=_INK, linewidth=1, linestyle=(0, (6, 3)),
        label=f"target: {100 * share:g} %",
    )  # fmt: skip
    ax.set_ylim(0, 103)
    ax.set_yticks(range(0, 101, 20))
    ax.set_xlabel("number of one item, the rest as recommended")
    plays = plays_name(result.replay)
    ax.set_ylabel(f"choosing {plays} on target [%]")
    ax.set_title(f"How much stock do {plays} need?", loc="left")
    handles = [_with_mark(line) for line in ax.lines if not str(line.get_label()).startswith("_")]
    if beyond_any:
        handles.append(
            Line2D(
                [],
                [],
                color=_INK,
                marker="o",
                markerfacecolor="white",
                linewidth=1,
                label="more than was searched: at least so many",
            )
        )
    _legend_below(ax, handles)
    _whole_ticks(ax)
    return ax


def draw_evidence(result: SizeResult, ax: Axes) -> Axes:
    """Draw the share of fresh surges on target, with limits: recommended, and cheaper ones.

    All bars have the same confidence, so that the eye compares like with like. A thin line goes
    on to the lower limit by which a stock is judged where that is stricter, because several are
    tested at once.
    """
    shown = [
        entry
        for entry in result.evidence
        if entry.role.endswith("less") or entry.role in {"recommended", "next candidate"}
    ][::-1]
    stricter = []
    for place, entry in enumerate(shown):
        colour, mark = _SHADES[entry.verdict], _MARKS[entry.verdict]
        low = low_alone(entry, result.chain)
        ax.plot([100 * low, 100 * entry.high], [place, place], color=colour, linewidth=5,
                solid_capstyle="butt")  # fmt: skip
        if entry.low < low - 1e-9:
            stricter.append(entry)
            ax.plot([100 * entry.low, 100 * low], [place, place], color=colour, linewidth=1.2,
                    marker="|", markersize=9, markevery=[0])  # fmt: skip
        ax.plot(
            100 * entry.passes / entry.surges, place, marker=mark, color=colour, markersize=9,
            markeredgecolor="black", linestyle="none", clip_on=False, zorder=4,
        )  # fmt: skip
    target = 100 * result.target.share_of_surges
    line = ax.axvline(
        target, color=_INK, linewidth=1, linestyle=(0, (6, 3)), label=f"target: {target:g} %"
    )
    labels = [f"{entry.role}\n{_in_short(entry.stock)}" for entry in shown]
    ax.set_yticks(range(len(shown)), labels)
    ax.set_ylim(-0.6, len(shown) - 0.4)
    seen = [verdict for verdict in _SHADES if any(entry.verdict == verdict for entry in shown)]
    handles = [
        Line2D(
            [],
            [],
            color=_SHADES[verdict],
            marker=_MARKS[verdict],
            markersize=9,
            linewidth=5,
            markeredgecolor="black",
            label=verdict,
        )
        for verdict in seen
    ]
    if stricter:
        handles.append(
            Line2D(
                [],
                [],
                color=_INK,
                linewidth=1.2,
                marker="|",
                markersize=9,
                label=f"judged down to here: {_levels(stricter)} confidence",
            )
        )
    # the labels of the stocks leave the axis little room: the legend reaches under them
    _legend_below(ax, [*handles, line], below=-0.19, anchor=1.0)
    left, right = ax.get_xlim()
    # marks at 0 % or 100 % are whole: they are not clipped, and labels keep clear of them
    ax.set_xlim(max(left, 0.0), min(right, 100.0))
    ax.tick_params(axis="y", pad=8)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=8, steps=[1, 2, 5, 10]))
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    plays = plays_name(result.replay)
    ax.set_xlabel(
        f"fresh {plays}{'' if result.replay is None else ' of this one period'} on target [%]\n"
        f"bars: one-sided {100 * result.confidence:g} % limits, each stock by itself"
    )
    # the next candidate is cheaper too, but may be without more than one item
    ax.set_title("What cheaper stocks do", loc="left")
    return ax


def _in_short(stock: Stock) -> str:
    """Return a stock in words; the numbers of its extra parts stand in the table beside."""
    parts = " + parts" if any(stock.extra_parts) else ""
    return stock_words(parts_of(stock, STOCK_WITHOUT_PARTS)) + parts


def _mark_sizes(numbers: list[int]) -> list[int]:
    """Return a size of mark for each item: of equal numbers the later lie smaller on the others.

    All marks stand at the share of the recommended stock, so that equal numbers are one point.
    """
    return [8 + 6 * numbers[place + 1 :].count(number) for place, number in enumerate(numbers)]


def _levels(entries: list[Evidence]) -> str:
    """Say the confidence of the lower limits by which stocks are judged."""
    said = sorted({percent(1.0 - entry.low_alpha) for entry in entries})
    return said[0] if len(said) == 1 else f"{said[0]} or more"


def _with_mark(line: Line2D) -> Line2D:
    """Return a line for the legend with the mark that stands on it in the figure."""
    return Line2D(
        [], [], color=line.get_color(), linestyle=line.get_linestyle(), marker=line.get_marker(),
        linewidth=line.get_linewidth(), markeredgecolor=_INK, markersize=8, label=line.get_label(),
    )  # fmt: skip


def _legend_below(ax: Axes, handles: list[Any], below: float = -0.17, anchor: float = 0.5) -> None:
    """Put the legend under the axis, where it hides nothing: in its middle, or to its right end."""
    ax.legend(
        handles=handles, loc="upper center" if anchor < 1 else "upper right",
        bbox_to_anchor=(anchor, below), ncols=2,
        frameon=False, fontsize=9, handlelength=4.0,
    )  # fmt: skip


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
        high = max(number + reach, hand + 1 if hand <= number + 2 * reach else number)
        keep &= (band[name] >= low) & (band[name] <= high)
    return band[keep]


def _whole_ticks(ax: Axes) -> None:
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    if "[%]" not in ax.get_ylabel():
        ax.yaxis.set_major_locator(MaxNLocator(integer=True))
