"""Figures of a run. Each takes a table and axes and returns the axes; who calls saves.

Colours can be told apart by colour-blind eyes (Okabe and Ito, "Color Universal Design", 2008),
and every kind of mark has a shape, a dash or a hatch of its own, so grey print is enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from matplotlib.transforms import ScaledTranslation

from surge_sim.report.rounding import counted, percent
from surge_sim.statistics.intervals import CONFIDENCE
from surge_sim.statistics.recorded import WHOLE

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

BLUE, ORANGE, INK = "#0072b2", "#d55e00", "#202020"
#: a white ground with a light grid behind the marks; the font is the one that comes with matplotlib
_STYLE: dict[Any, Any] = {
    "axes.grid": True, "axes.axisbelow": True, "axes.edgecolor": INK, "axes.labelcolor": INK,
    "axes.spines.top": False, "axes.spines.right": False, "grid.color": "#e0e0e0",
    "xtick.bottom": False, "ytick.left": False, "xtick.color": INK, "ytick.color": INK,
    "text.color": INK, "font.family": ["DejaVu Sans"],
}  # fmt: skip
#: simulated marks stand so far beside the recorded ones [days]
_BESIDE = 0.12
#: what the intervals of a run are called
_INTERVAL = f"{100 * CONFIDENCE:g} % interval"
#: colour and hatch of what was missing; the names stand beside the bars
_KINDS = {
    "kit": ("#9ecae1", ""),
    "battery": ("#f0b48a", "//"),
    "hood": ("#a6d8c4", ".."),
    "tube": ("#e5c1d8", "xx"),
    "nothing": ("#e0e0e0", "--"),
}


def _interval(low: np.ndarray) -> str:
    """Return what intervals are called, and whether some are left out for want of surges."""
    return _INTERVAL if np.isfinite(low).all() else f"{_INTERVAL} where known"


def new_figure(
    panels: int = 1,
    width: float = 7.0,
    height: float = 4.0,
    heights: Sequence[float] | None = None,
) -> Figure:
    """Return an empty figure of so many panels below one another [inches].

    They share an x axis, unless each has a relative height of its own.
    """
    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(width, height), layout="constrained")
        figure.subplots(panels, 1, sharex=panels > 1 and heights is None, height_ratios=heights)
    return figure


def title_above(ax: Axes, text: str, **how: Any) -> None:
    """Put a title above the axes, at the left; further arguments are those of ``set_title``.

    Its height is given: else each drawing looks for one that is free of ticks, for a tenth of its
    time.
    """
    ax.set_title(text, loc="left", y=1.0, **how)


def in_thousands(value: float, _: float = 0.0) -> str:
    """Write a number of an axis as on the screen: 12,000."""
    return f"{value:,.10g}".replace("-", "\u2212")


def draw_service_level(
    table: pd.DataFrame, by: str, share: float, ax: Axes, period: str = "surge"
) -> Axes:
    """Draw the share of entries in time by day or by hour, with intervals and the target.

    Parameters
    ----------
    table : DataFrame
        Columns ``by``, ``service_level`` and its limits [0..1].
    by : str
        ``day`` or ``hour``.
    share : float
        The target's share of entries [0..1].
    ax : Axes
        Where to draw.
    period : str
        What the days are counted in: a surge or a recorded period.
    """
    x = table[by].to_numpy(dtype=float)
    middle = 100 * table["service_level"].to_numpy(dtype=float)
    low = 100 * table["service_level_low"].to_numpy(dtype=float)
    high = 100 * table["service_level_high"].to_numpy(dtype=float)
    known = bool(np.isfinite(low).any())
    reach = np.nan_to_num(np.stack([middle - low, high - middle])) if known else None
    ax.errorbar(
        x, middle, yerr=reach, fmt="o", markersize=4, color=BLUE, ecolor=BLUE, elinewidth=1.2,
        capsize=2, label=f"service level, {_interval(low)}" if known else "service level",
    )  # fmt: skip
    # whole points at 0 %, before the axis; the layout need not make room for them
    ax.lines[0].set(clip_on=False, zorder=3, in_layout=False)
    label = f"target for a whole {period}: {100 * share:g} %"
    ax.axhline(100 * share, color=ORANGE, linestyle="--", label=label)
    names = {"day": f"day of the {period}, and its date", "hour": "hour of the day"}
    ax.set_xlabel(names[by] if by == "hour" or "date" in table else f"day of the {period}")
    ax.set_ylabel("entries in time [%]")
    first, last = (0.0, 23.0) if by == "hour" else (1.0, x.max())
    ax.set_xlim(first - 0.5, last + 0.5)
    ax.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=14, min_n_ticks=1))
    if "date" in table:
        day_1 = date.fromisoformat(table["date"].iloc[0]) - timedelta(days=int(x[0]) - 1)
        show_dates(ax, day_1, first_day=1)
    # fmin: the lower limit, or the point itself where it has none
    _room_for_per_cent(ax, np.append(np.fmin(low, middle), 100 * share).min())
    title_above(ax, f"Entries in time, by {by}")
    _legend(ax, 0.68 if "date" in table else 0.5)
    return ax


def draw_wait_curve(
    table: pd.DataFrame, wait_min: float, share: float | None, ax: Axes, plays: str = "surges"
) -> Axes:
    """Draw the share of needs that wait longer than x minutes, with the target as one point.

    Parameters
    ----------
    table : DataFrame
        Columns ``wait_min``, ``share_longer``, ``low``, ``high``.
    wait_min : float
        The target's wait [min].
    share : float, optional
        The target's share of entries [0..1]; None where waits alone do not tell who is late.
    ax : Axes
        Where to draw.
    plays : str
        What was simulated: ``surges`` or ``replications``.
    """
    longer = 100 * table["share_longer"].to_numpy(dtype=float)
    x = table["wait_min"].to_numpy(dtype=float)
    # the far tail, thinner than one in ten thousand, would squeeze the rest
    floor = 0.01
    end = max(x[longer >= floor].max(initial=0.0), 2.0 * wait_min) or 1.0
    low, high = (np.maximum(100 * table[one].to_numpy(float), floor) for one in ("low", "high"))
    if not np.isnan(low).all():
        ax.fill_between(x, low, high, color=BLUE, alpha=0.2, linewidth=0, label=_interval(low))
    ax.plot(x[longer > 0], longer[longer > 0], color=BLUE, label="waits longer than this")
    if share is not None:
        allowed, target = 100 * (1 - share), f"target of each {plays.removesuffix('s')}"
        # a line on to longer waits would be read as what is asked for there
        ax.plot(
            [wait_min], [max(allowed, floor)], color=ORANGE, linestyle="none", marker="D",
            markersize=7, clip_on=False, zorder=3,
            label=f"{target}: at most {allowed:.3g} % longer than {wait_min:g} min",
        )  # fmt: skip
    ax.set_yscale("log")
    # nobody sees them, and each takes as long as one that is seen
    ax.minorticks_off()
    ax.set_ylim(floor, 110)
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.set(xlim=(0, end), xlabel="wait [min]", ylabel="waits that are longer [%]")
    title_above(ax, f"How long people wait for a kit, all {plays} together")
    if not longer.any():
        _say(ax, "nobody waited", height=0.85)
    _legend(ax, columns=2)
    return ax


def draw_causes_of_waiting(table: pd.DataFrame, ax: Axes, per: str = "per surge") -> Axes:
    """Draw the waiting hours per surge by cause: what was missing, and where it was.

    Parameters
    ----------
    table : DataFrame
        Columns ``missing``, ``cause_of_waiting``, ``hours_per_surge``, ``share`` [0..1].
    ax : Axes
        Where to draw.
    per : str
        What the hours are a mean of.
    """
    ax.set_xlabel(f"hours spent waiting, {per}")
    title_above(ax, "What people waited for, and where it was")
    if table.empty:
        ax.set_yticks([])
        _say(ax, "nobody waited")
        return ax
    places = np.arange(len(table))[::-1]
    hours = table["hours_per_surge"].to_numpy(dtype=float)
    rows = zip(places, hours, table["share"], table["missing"], strict=True)
    for place, length, share, missing in rows:
        colour, hatch = _KINDS[missing]
        ax.barh(place, length, height=0.6, color=colour, edgecolor=INK, hatch=hatch)
        ax.text(length, place, f" {percent(share)}", va="center", ha="left", fontsize=9)
    ax.set_yticks(places, table["cause_of_waiting"])
    ax.set_xlim(0, hours.max() * 1.18)
    ax.grid(axis="y", visible=False)
    return ax


def draw_spread(surges: pd.DataFrame, share: float, ax: Axes, plays: str = "surges") -> Axes:
    """Draw how much surges differ in their share of entries in time.

    Parameters
    ----------
    surges : DataFrame
        Columns ``service_level`` [0..1] and ``on_target``.
    share : float
        The target's share of entries [0..1].
    ax : Axes
        Where to draw.
    plays : str
        What a row is: one of the surges, or of the plays of a recorded period.
    """
    known = surges.dropna(subset=["service_level"])
    # rounded as the edges are, so that a value at the target belongs to the bin above it
    values = np.round(100 * known["service_level"].to_numpy(dtype=float), 9)
    one, without = plays.removesuffix("s"), len(surges) - len(known)
    some = f"; {counted(without, one)} without entries left out" if without else ""
    ax.set_xlabel(f"entries in time in one {one} [%]{some}")
    ax.set_ylabel(f"number of {plays}")
    title_above(ax, f"How much {plays} differ")
    if not values.size:
        _say(ax, f"no {one} had entries")
        return ax
    edges = _bins(values, 100 * share)
    kept = known["on_target"].to_numpy(dtype=bool)
    bottom = np.zeros(len(edges) - 1)
    for which, colour, hatch, name in (
        (kept, "#9ecae1", "", "target met"),
        (~kept, "#f0b48a", "//", "target not met"),
    ):
        number, _ = np.histogram(values[which], edges)
        ax.bar(
            edges[:-1], number, width=np.diff(edges), bottom=bottom, align="edge", color=colour,
            edgecolor=INK, linewidth=0.6, hatch=hatch, label=f"{name}: {which.sum():,}",
        )  # fmt: skip
        bottom += number
    ax.set_ylim(0, 1.05 * bottom.max())
    ax.axvline(100 * share, color=ORANGE, linestyle="--", label=f"target: {100 * share:g} %")
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.grid(axis="x", visible=False)
    _legend(ax)
    return ax


def _bins(values: np.ndarray, target: float) -> np.ndarray:
    """Edges of about 20 bins, all of one width, that end at 100 %, with one at the target.

    A narrower bin would hold fewer surges and look too low. Where a target just below 100 %
    would make more than 100 bins, none of them ends at it.
    """
    lowest = min(values.min(), target)
    wanted = max(100.0 - lowest, 0.01) / 20
    parts = max(round((100.0 - target) / wanted), 1)
    step = (100.0 - target) / parts
    if step * 5 < wanted:
        step = wanted
    number = max(int(np.ceil((100.0 - lowest) / step - 1e-9)), 1)
    return np.round(100.0 - step * np.arange(number + 1)[::-1], 9)


def show_dates(ax: Axes, begins: date, first_day: int = 0) -> None:
    """Show the date below the number of each day on the x axis; the first day is day 1.

    Parameters
    ----------
    ax : Axes
        Its x axis counts days.
    begins : date
        Date of the first day.
    first_day : int
        Where that day stands on the axis: at 1, or at 0 where the axis counts time since then.
    """

    def words(day: float, _: int | None) -> str:
        shown = begins + timedelta(days=day - first_day)
        return f"{day - first_day + 1:g}\n{shown.day} {shown:%b}"

    # fewer numbers than without dates, which are wider
    ax.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=8, min_n_ticks=1))
    ax.xaxis.set_major_formatter(FuncFormatter(words))


def _room_for_per_cent(ax: Axes, lowest: float) -> None:
    bottom = max(0.0, lowest - 0.1 * (100.0 - lowest) - 0.2)
    ax.set_ylim(bottom, 100 + 0.05 * (100 - bottom))


def _legend(ax: Axes, below: float = 0.5, columns: int = 3) -> None:
    """Put the legend so far below the axis [inches], whatever height the axis is left with."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    place = ax.transAxes + ScaledTranslation(0, -below, figure.dpi_scale_trans)
    ax.legend(
        loc="upper center", bbox_to_anchor=(0.5, 0), bbox_transform=place, ncols=columns,
        frameon=False, fontsize=9,
    )  # fmt: skip


def legend_beside(ax: Axes, *entries: Any, **how: Any) -> None:
    """Put the legend at the right of the axes; arguments are those of ``Axes.legend``."""
    ax.legend(
        *entries, loc="center left", bbox_to_anchor=(1.0, 0.5), frameon=False, fontsize=9, **how
    )


def _say(ax: Axes, text: str, height: float = 0.5) -> None:
    ax.text(0.5, height, text, transform=ax.transAxes, ha="center", va="center", color=INK)


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
    title_above(top, "Waits that were recorded, and simulated ones")
    _draw_measure(days, "median", 1.0, "o", bottom, "median")
    _draw_measure(days, "90th percentile", 1.0, "^", bottom, "90th percentile")
    bottom.set_ylabel("wait [min]")
    bottom.set_xlabel("day of the recorded period, and its date")
    show_dates(bottom, begins, first_day=1)
    numbers = days["group"].str.removeprefix("day ").astype(float)
    bottom.set_xlim(numbers.min() - 0.5, numbers.max() + 0.5)
    for axes in (top, bottom):
        axes.set_ylim(bottom=0)
        legend_beside(axes)


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
        end = "" if name else ", mean\n(line: from lowest to\nhighest of all replications)"
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
    most = 1.05 * max(recorded.max(), simulated.max(), wait_min) or 1.0
    ax.plot([0, most], [0, most], color=INK, linewidth=1, label="equal")
    ax.axvline(wait_min, color=ORANGE, linestyle="--", label=f"target: {wait_min:g} min")
    ax.axhline(wait_min, color=ORANGE, linestyle="--")
    shade = float(np.clip(200 / len(table), 0.15, 0.7))
    ax.plot(
        recorded, simulated, linestyle="none", marker="o", markersize=5, color=BLUE,
        markerfacecolor="none", alpha=shade, label="one entry", clip_on=False,
    )  # fmt: skip
    ax.set(xlim=(0, most), ylim=(0, most), xlabel="recorded wait [min]")
    ax.set_ylabel("simulated wait, mean over replications [min]")
    title_above(ax, "Entry by entry")
    legend_beside(ax)
    return ax
