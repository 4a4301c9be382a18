"""What the figures of a sizing show is what stands in the tables beside them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from matplotlib.collections import QuadMesh
from matplotlib.colors import to_hex

from surge_sim.report.sizing_folder import fill_size_folder
from tests.shadow.shown import Caught, all_in_view, colour_in_legend, legend_words, line_called
from tests.shadow.test_size_accounts import CONFIDENCE, case_of

SCENES = (0, 1)
NAMES = {"kits": "kit", "batteries": "battery", "bays": "bay"}


@pytest.fixture(scope="module", params=SCENES)
def caught(request, tmp_path_factory) -> Caught:
    result = case_of(request.param).result
    found = Caught(fill_size_folder, result, tmp_path_factory.mktemp("size"))
    found.result = result  # type: ignore[attr-defined]
    found.share = 100 * result.target.share_of_surges  # type: ignore[attr-defined]
    return found


def in_words(row: Any) -> str:
    """`5 kits, 6 batteries, 2 bays`."""
    counts = [(int(row[name]), name) for name in NAMES]
    return ", ".join(f"{count} {NAMES[name] if count == 1 else name}" for count, name in counts)


def test_every_figure_of_a_sizing_is_read_back(caught: Caught) -> None:
    known = {"band", "needed", "evidence"}
    assert set(caught.figures) == known, "a figure whose marks nobody reads back"


def test_the_plane_shows_each_stock_in_the_colour_of_its_state_on_the_axis_of_its_item(
    caught: Caught,
) -> None:
    axes, table = caught.axes("band"), caught.tables["band"]
    across, up = (
        words().removeprefix("number of ") for words in (axes.get_xlabel, axes.get_ylabel)
    )
    assert {across, up} == set(caught.result.vary)
    (mesh,) = (one for one in axes.collections if isinstance(one, QuadMesh))
    edges = mesh.get_coordinates()
    middle_x = (edges[0, 1:, 0] + edges[0, :-1, 0]) / 2
    middle_y = (edges[1:, 0, 1] + edges[:-1, 0, 1]) / 2
    codes = mesh.get_array().reshape(len(middle_y), len(middle_x))
    begin = {"certified": "certified: ", "undecided": "undecided", "fails": "fails: "}
    colours = {
        state: colour_in_legend(
            axes, next(one for one in legend_words(axes) if one.startswith(word))
        )
        for state, word in begin.items()
    }
    states = table.set_index([across, up])["state"]
    for row, y in enumerate(middle_y):
        for column, x in enumerate(middle_x):
            colour = to_hex(mesh.cmap(mesh.norm(codes[row, column])))
            assert colour == colours[states[(round(x), round(y))]], (across, x, up, y)
    best, hand = caught.result.recommended, caught.result.in_hand
    star = line_called(axes, "recommended")
    assert star.tolist() == [[getattr(best, across), getattr(best, up)]]
    assert states[(getattr(best, across), getattr(best, up))] == "certified"
    (hand_words,) = (one for one in legend_words(axes) if one.startswith("in hand"))
    point = line_called(axes, hand_words)
    assert point.tolist() in ([[getattr(hand, across), getattr(hand, up)]], [])
    assert ("outside" in hand_words) == (not len(point))
    held = [name for name in NAMES if name not in (across, up)]
    rest = [f"{getattr(best, name)} {name}" for name in held]
    assert axes.get_title(loc="left") == (
        f"With {', '.join(rest)}: on target in {caught.share:g} % of surges?"
    )
    estimated_frontier(axes, table, across, up, caught.share / 100)


def estimated_frontier(axes: Any, table: pd.DataFrame, across: str, up: str, share: float) -> None:
    """The staircase passes below the least number that served the share of choosing surges."""
    stairs = line_called(axes, "estimated frontier")
    good = table[table["share"] >= share - 1e-6]
    least = good.groupby(across)[up].min().cummin()
    for x, y in least.items():
        at = stairs[:, 0].searchsorted(x, side="right") - 1
        if x <= axes.get_xlim()[1]:
            assert stairs[at, 1] == pytest.approx(y - 0.5), (across, x)


def test_the_curves_of_what_is_needed_are_those_of_their_items(caught: Caught) -> None:
    axes, table = caught.axes("needed"), caught.tables["needed"]
    best = caught.result.recommended
    marks = [line for line in axes.lines if str(line.get_label()).startswith("_")]
    for place, (item, rows) in enumerate(table.groupby("item", sort=False)):
        bought = getattr(best, str(item))
        label = f"{item}: {bought} recommended"
        assert label in legend_words(axes)
        points = line_called(axes, label)
        expected = np.stack((rows["number"], 100 * rows["share_of_surges"]), axis=1)
        np.testing.assert_allclose(points, expected, rtol=1e-4)
        (line,) = (one for one in axes.lines if one.get_label() == label)
        assert line.get_drawstyle() == "steps-post"
        assert colour_in_legend(axes, label) == to_hex(line.get_color())
        mark = marks[place]
        assert to_hex(mark.get_color()) == to_hex(line.get_color())
        served = rows.set_index("number")["share_of_surges"]
        np.testing.assert_allclose(mark.get_xydata(), [[bought, 100 * served[bought]]], rtol=1e-4)
        assert all_in_view(axes, rows["number"], 100 * rows["share_of_surges"])
    level = line_called(axes, f"target: {caught.share:g} %")
    assert level[:, 1].tolist() == [caught.share] * 2
    assert axes.get_xlabel() == "number of one item, the rest as recommended"
    assert axes.get_ylabel() == "choosing surges on target [%]"


def test_each_stock_has_its_share_its_limits_and_its_verdict_in_its_line(caught: Caught) -> None:
    axes, table = caught.axes("evidence"), caught.tables["evidence"]
    shown = table[
        table["role"].str.endswith("less") | table["role"].isin(["recommended", "next candidate"])
    ]
    names = dict(zip(axes.get_yticks(), axes.get_yticklabels(), strict=True))
    from_top = sorted(names, reverse=True)
    assert [names[place].get_text() for place in from_top] == [
        f"{row['role']}\n{in_words(row)}" for row in shown.to_dict("records")
    ]
    for place, row in zip(from_top, shown.to_dict("records"), strict=True):
        mine = [line for line in axes.lines if set(line.get_ydata()) == {place}]
        (point,) = (line for line in mine if len(line.get_xdata()) == 1)
        wide, *thin = sorted(
            (line for line in mine if len(line.get_xdata()) == 2),
            key=lambda line: -line.get_linewidth(),
        )
        assert point.get_xdata()[0] == pytest.approx(100 * row["share"], rel=1e-4)
        assert list(wide.get_xdata()) == pytest.approx(
            [100 * row["low_alone"], 100 * row["high"]], rel=1e-4, abs=1e-4
        )
        stricter = row["low"] < row["low_alone"] - 1e-6
        assert len(thin) == stricter
        if thin:
            ends = [100 * row["low"], 100 * row["low_alone"]]
            assert list(thin[0].get_xdata()) == pytest.approx(ends, rel=1e-4, abs=1e-4)
        for line in (point, wide):
            assert colour_in_legend(axes, row["verdict"]) == to_hex(line.get_color())
        assert all_in_view(axes, [row["share"] * 100, row["high"] * 100], [place])
    assert line_called(axes, f"target: {caught.share:g} %")[:, 0].tolist() == [caught.share] * 2
    assert axes.get_xlabel() == (
        "fresh surges on target [%]\n"
        f"bars: one-sided {100 * CONFIDENCE:g} % limits, each stock by itself"
    )
    stricter_words = [one for one in legend_words(axes) if one.startswith("judged down")]
    confidences = shown.loc[shown["low"] < shown["low_alone"] - 1e-6, "low_confidence"]
    assert bool(stricter_words) == bool(len(confidences))
    if stricter_words:
        least = f"{100 * confidences.min():.1f} %"
        assert stricter_words[0].startswith(f"judged down to here: {least}")
