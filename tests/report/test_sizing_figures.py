"""Figures of a sizing: every word can be read, and numbers are where they belong."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text
from scipy import stats

from surge_sim.equipment.stock import Stock
from surge_sim.report import figures
from surge_sim.report.rounding import percent
from surge_sim.report.sizing_figures import draw_evidence, draw_frontier, draw_needed
from surge_sim.scenario.goal import Target
from surge_sim.sizing.items import ITEMS
from surge_sim.sizing.method import Case, Plan, size_case
from surge_sim.sizing.result import SizeResult
from tests.sizing.known import KnownSurge, smooth
from tests.sizing.stand_in import LIMITS, PRICES, TARGET

Draw = Callable[[SizeResult, Axes], Axes]
DRAWN = pytest.mark.parametrize(
    ("draw", "height"), [(draw_frontier, 6.0), (draw_needed, 4.8), (draw_evidence, 5.0)]
)


def chance(stock: Stock) -> float:
    return smooth(stock) * (1.0 if stock.bays >= 3 else 0.3 * stock.bays)


@dataclass(frozen=True)
class Evenly:
    """Of every hundred surges in a row so many keep the target as the chance says: no luck."""

    target: Target = TARGET

    def surge(self, sample: int, number: int) -> KnownSurge:
        hardness = (37 * number % 100 + 0.5) / 100
        return KnownSurge(chance, lambda stock: hardness)


@pytest.fixture(scope="module")
def sized() -> SizeResult:
    """A sizing of a case whose truth is known."""
    case = Case("known", Evenly(), Stock(5, 9, 2), PRICES, LIMITS)
    plan = Plan(("kits", "batteries", "bays"), choose=60, certify=200, compare=False)
    return size_case(case, plan)


@pytest.fixture(params=["as found", "more than was searched"])
def result(sized: SizeResult, request: pytest.FixtureRequest) -> SizeResult:
    if request.param == "as found":
        return sized
    _, beyond = sized.needed("bays")
    more = replace(sized.recommended, bays=beyond + 1)
    best = replace(sized.evidence[0], stock=more)
    return replace(sized, recommended=more, evidence=(best, *sized.evidence[1:]))


def drawn(draw: Draw, result: SizeResult, height: float) -> Figure:
    """The figure as the folder saves it, with two lines at its foot."""
    figure = figures.new_figure(height=height)
    draw(result, figure.axes[0])
    figure.supxlabel("A unit (invented)\nWhat it does not say", x=0.01, ha="left", fontsize=7)
    FigureCanvasAgg(figure).draw()
    return figure


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


@DRAWN
def test_no_word_lies_on_another_or_is_cut_off(
    result: SizeResult, draw: Draw, height: float
) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        figure = drawn(draw, result, height)
    assert collisions(figure) == []


def test_words_that_collide_or_are_cut_off_are_found(sized: SizeResult) -> None:
    figure = drawn(draw_needed, sized, 4.8)
    figure.text(0.5, 0.5, "middle")
    figure.text(0.5, 0.5, "on it")
    figure.text(0.98, 0.6, "too far to the right")
    FigureCanvasAgg(figure).draw()
    assert collisions(figure) == ["'middle' on 'on it'", "'too far to the right' is cut off"]


@DRAWN
def test_axes_are_named_and_tick_labels_are_short(
    result: SizeResult, draw: Draw, height: float
) -> None:
    axes = drawn(draw, result, height).axes[0]
    assert axes.get_xlabel() and axes.get_title(loc="left")
    assert axes.get_ylabel() or draw is draw_evidence
    labels = [text.get_text() for text in axes.xaxis.get_ticklabels()]
    assert max(map(len, labels)) <= 4
    assert not any(label.endswith(".0") for label in labels)


def test_items_are_told_apart_without_colour_and_the_legend_says_their_numbers(
    result: SizeResult,
) -> None:
    axes = drawn(draw_needed, result, 4.8).axes[0]
    best = result.recommended
    handles = {line.get_label(): line for line in axes.get_legend().legend_handles}  # type: ignore[union-attr]
    items = [f"kits: {best.kits} recommended", f"batteries: {best.batteries} recommended",
             f"bays: {best.bays} recommended"]  # fmt: skip
    assert list(handles)[:4] == [*items, "target: 90 %"]
    assert len({handles[item].get_marker() for item in items}) == 3
    assert len({handles[item].get_linestyle() for item in items}) == 3


def test_a_number_that_was_not_searched_has_a_hollow_mark_at_what_is_known_of_fewer(
    sized: SizeResult,
) -> None:
    """Surges that need more than was searched are not taken to be served by it."""
    needed, beyond = sized.needed("bays")
    more = replace(sized, recommended=replace(sized.recommended, bays=beyond + 1))
    served = 100 * float(np.mean(needed < beyond))
    axes = drawn(draw_needed, more, 4.8).axes[0]
    marks = [line for line in axes.lines if line.get_markerfacecolor() == "white"]
    assert [line.get_xydata().tolist() for line in marks] == [[[beyond + 1, served]]]
    texts = [text.get_text() for text in axes.get_legend().get_texts()]  # type: ignore[union-attr]
    assert texts[-1] == "more than was searched: at least so many"
    texts = [text.get_text() for text in draw_texts(sized)]
    assert "more than was searched: at least so many" not in texts


def draw_texts(result: SizeResult) -> list[Text]:
    return drawn(draw_needed, result, 4.8).axes[0].get_legend().get_texts()  # type: ignore[union-attr]


def test_bars_of_the_evidence_have_one_level_which_the_figure_says(sized: SizeResult) -> None:
    """Limits of 200 surges, two of the looks at 100 and 200: 65 % of the chance is for the last."""
    axes = drawn(draw_evidence, sized, 5.0).axes[0]
    assert f"one-sided {100 * sized.confidence:g} % limits" in axes.get_xlabel()
    bars = {}
    for line in axes.lines:
        x, y = line.get_data()
        if len(x) == 2 and line.get_linewidth() == 5:
            bars[int(y[0])] = x[0]
    shown = [entry for entry in sized.evidence if entry.role != "candidate"][::-1]
    assert len(bars) == len(shown) > 3
    for place, entry in enumerate(shown):
        part = {100: 0.35, 200: 0.65}[entry.surges]
        exact = stats.beta.ppf(0.05 * part, entry.passes, entry.surges - entry.passes + 1)
        assert bars[place] == pytest.approx(100 * exact, abs=1e-6), entry.role


def test_a_stricter_limit_is_a_thin_line_with_its_level_in_the_legend(sized: SizeResult) -> None:
    axes = drawn(draw_evidence, sized, 5.0).axes[0]
    less = [entry for entry in sized.evidence if entry.role.endswith("less")]
    thin = [line.get_xdata()[0] for line in axes.lines if line.get_marker() == "|"]
    assert sorted(thin) == pytest.approx(sorted(100 * entry.low for entry in less))
    texts = [text.get_text() for text in axes.get_legend().get_texts()]  # type: ignore[union-attr]
    level = percent(1 - less[0].low_alpha)
    assert f"judged down to here: {level} confidence" in texts
    assert (sized.evidence_table["low_alone"] >= sized.evidence_table["low"]).all()


def test_the_curves_of_what_surges_need_are_those_of_their_table(sized: SizeResult) -> None:
    """Every number of the table is in the figure, to the last."""
    axes = drawn(draw_needed, sized, 4.8).axes[0]
    table = sized.needed_curve
    assert list(table["item"].unique()) == list(sized.vary)
    for name in sized.vary:
        rows = table.loc[table["item"] == name, ["number", "share_of_surges"]].to_numpy(float)
        label = f"{name}: {ITEMS[name].of(sized.recommended)} recommended"
        (line,) = (line for line in axes.lines if line.get_label() == label)
        steps = line.get_xydata()
        served = dict(rows.tolist())
        assert len(steps) > 2
        assert steps[:, 0].max() == max(served) <= axes.get_xlim()[1]
        assert served[min(served)] > 0 and all(np.diff(rows[:, 1]) >= 0)
        for number, share in steps:
            assert share == pytest.approx(100 * served[max(n for n in served if n <= number)])


def test_a_stock_in_hand_that_lies_in_another_plane_is_called_so(sized: SizeResult) -> None:
    """The picture has the bays that are recommended, and 2 may be in hand."""
    assert sized.recommended.bays != 2
    for bays, words in ((2, "in hand (but 2 bays)"), (sized.recommended.bays, "in hand")):
        here = replace(sized, in_hand=replace(sized.recommended, kits=5, bays=bays))
        axes = drawn(draw_frontier, here, 6.0).axes[0]
        texts = [text.get_text() for text in axes.get_legend().get_texts()]  # type: ignore[union-attr]
        assert words in texts


def test_a_stock_in_hand_beyond_the_axes_is_in_the_legend(sized: SizeResult) -> None:
    far = replace(sized.recommended, kits=3000, batteries=9000)
    axes = drawn(draw_frontier, replace(sized, in_hand=far), 6.0).axes[0]
    texts = [text.get_text() for text in axes.get_legend().get_texts()]  # type: ignore[union-attr]
    words = f"in hand, outside this figure:\n3,000 kits, 9,000 batteries, {far.bays} bays"
    assert words in texts


def test_the_band_says_what_its_areas_lean_on_and_for_how_many_of_the_rest(
    sized: SizeResult,
) -> None:
    axes = drawn(draw_frontier, sized, 6.0).axes[0]
    legend = axes.get_legend()
    assert legend is not None
    texts = [text.get_text() for text in legend.get_texts()]
    assert any("at least as much of everything as one that was" in text for text in texts)
    assert "if more stock never hurts" in legend.get_title().get_text()
    band = sized.band_table
    (held,) = set(band.columns) - {axes.get_xlabel()[10:], axes.get_ylabel()[10:], "state", "share"}
    number = ITEMS[held].of(sized.recommended)
    assert set(band[held]) == {number}
    assert axes.get_title(loc="left").startswith(f"With {number} {held}:")


def test_marks_of_equal_numbers_do_not_hide_one_another(sized: SizeResult) -> None:
    """They are one point: the first drawn is the largest."""
    same = replace(sized, recommended=replace(sized.recommended, bays=sized.recommended.kits))
    axes = drawn(draw_needed, same, 4.8).axes[0]
    at = same.recommended.kits
    sizes = [
        line.get_markersize()
        for line in axes.lines
        if line.get_linestyle() == "None" and line.get_xdata().tolist() == [at]
    ]
    assert len(sizes) >= 2
    assert all(np.diff(sizes) <= -6)


def test_the_evidence_begins_at_0_where_hardly_any_surge_is_on_target(sized: SizeResult) -> None:
    none = replace(sized.evidence[1], passes=0, low=0.0, high=0.02, verdict="fails")
    poor = replace(sized, evidence=(sized.evidence[0], none, *sized.evidence[2:]))
    figure = drawn(draw_evidence, poor, 5.0)
    axes = figure.axes[0]
    assert axes.get_xlim()[0] == 0 and axes.get_xlim()[1] <= 100
    (mark,) = (line for line in axes.lines if list(line.get_xdata()) == [0.0])
    assert not mark.get_clip_on()
    edge = axes.transAxes.transform((0, 0))[0] - mark.get_markersize() / 2 * figure.dpi / 72
    assert all(label.get_window_extent().x1 < edge for label in axes.get_yticklabels())
    assert axes.get_title(loc="left") == "What cheaper stocks do"
