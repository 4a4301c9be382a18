"""The figure of a sizing: every word can be read, and numbers are where they belong."""

from __future__ import annotations

import warnings
from itertools import combinations

import pandas as pd
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from surge_sim.demand.replay import Replay
from surge_sim.report import figures
from surge_sim.report.sizing_figures import draw_stages

TABLE = pd.DataFrame(
    {
        "cost": [0.0, 240.0, 480.0, 1_880.0, 4_680.0],
        "surges": [100, 100, 300, 280, 100],
        "surges_on_target": [0, 41, 280, 265, 100],
        "low": [0.0, 0.24, 0.88, 0.90, 0.93],
        "high": [0.1, 0.65, 0.97, 0.98, 1.0],
        "verdict": ["not met", "not met", "undecided", "confirmed", "confirmed"],
        "recommended": [False, False, False, True, False],
    }
)


def drawn(table: pd.DataFrame = TABLE, currency: str = "talers (invented)") -> Figure:
    """The figure as the folder saves it, with two lines at its foot."""
    figure = figures.new_figure(height=4.8)
    draw_stages(table, 0.9, currency, None, figure.axes[0])
    figure.supxlabel("A unit (invented)\nWhat it does not say", x=0.01, ha="left", fontsize=7)
    FigureCanvasAgg(figure).draw()
    return figure


@pytest.mark.parametrize("replay", [None, Replay("log.csv", ("wipe-down times",), False)])
def test_a_replayed_period_has_no_error_bars(replay: Replay | None) -> None:
    axes = figures.new_figure().axes[0]
    draw_stages(TABLE, 0.9, "talers (invented)", replay, axes)
    assert [one.has_yerr for one in axes.containers] == [replay is None] * 3


def words_in(figure: Figure) -> list[Text]:
    """Every text that is not empty and lies where it is drawn, tick labels on the axis alone."""
    axes = figure.axes[0]
    ticks = []
    for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
        places = zip(axis.get_ticklocs(), axis.get_ticklabels(), strict=True)
        ticks += [label for place, label in places if low <= place <= high]
    tick_labels = {*axes.xaxis.get_ticklabels(), *axes.yaxis.get_ticklabels()}
    others = [text for text in figure.findobj(Text) if text not in tick_labels]
    return [text for text in (*ticks, *others) if text.get_text().strip() and text.get_visible()]


def collisions(figure: Figure) -> list[str]:
    """Texts that overlap, or that the edge of the figure cuts off."""
    canvas = figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    boxes = [(text, text.get_window_extent(canvas.get_renderer())) for text in words_in(figure)]
    found = [
        f"{one.get_text()!r} on {other.get_text()!r}"
        for (one, box), (other, room) in combinations(boxes, 2)
        if one is not other and box.padded(-0.5).overlaps(room.padded(-0.5))
    ]
    width, height = canvas.get_width_height()
    for text, box in boxes:
        if box.x0 < -1 or box.y0 < -1 or box.x1 > width + 1 or box.y1 > height + 1:
            found.append(f"{text.get_text()!r} is cut off")
    return found


@pytest.mark.parametrize("table", [TABLE, TABLE[3:4], TABLE.assign(cost=TABLE["cost"] * 1e4)])
def test_no_word_lies_on_another_or_is_cut_off(table: pd.DataFrame) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        figure = drawn(table)
    assert collisions(figure) == []


def test_words_that_collide_or_are_cut_off_are_found() -> None:
    figure = drawn()
    figure.text(0.5, 0.5, "middle")
    figure.text(0.5, 0.5, "on it")
    figure.text(0.98, 0.6, "too far to the right")
    FigureCanvasAgg(figure).draw()
    assert collisions(figure) == ["'middle' on 'on it'", "'too far to the right' is cut off"]


def test_axes_are_named_with_their_units_and_each_verdict_has_a_mark_of_its_own() -> None:
    axes: Axes = drawn().axes[0]
    assert axes.get_xlabel() == "money so far [talers (invented)]"
    assert axes.get_ylabel() == "share of surges on target"
    legend = axes.get_legend()
    assert legend is not None
    names = {text.get_text() for text in legend.get_texts()}
    assert names == {"asked for", "confirmed", "undecided", "not met", "recommended"}
    markers = [
        str(line.get_marker()) for line in axes.get_lines() if line.get_linestyle() == "None"
    ]
    assert {"o", "s", "X", "*"} <= set(markers)


def test_stages_stand_at_their_money_and_their_share_between_their_limits() -> None:
    axes = drawn().axes[0]
    places = {
        (float(x), round(float(y), 6))
        for line in axes.get_lines()
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }
    for row in TABLE.itertuples():
        assert (row.cost, round(row.surges_on_target / row.surges, 6)) in places
    ends = {round(float(y), 6) for one in axes.collections for path in one.get_paths()
            for y in path.vertices[:, 1]}  # fmt: skip
    assert {0.24, 0.65, 0.88, 0.97} <= ends
