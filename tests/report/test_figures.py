"""Figures are drawn from tables: marks where the numbers are, units on the axes, no warnings."""

import warnings

import numpy as np
import pandas as pd
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from surge_sim.report import figures
from surge_sim.report.folder import ResultFolder
from surge_sim.report.run_figures import _STATES, draw_use, run_figures, use_title
from surge_sim.report.run_folder import TABLES, fill_run_folder
from surge_sim.statistics.waits import ALL_CAUSES, cause_name, missing_name
from tests.report.test_sizing_figures import collisions
from tests.statistics.hand_run import rich_run, run_of_waits

NAMES = {
    "service_level_by_day", "service_level_by_hour", "wait_curve", "cause_of_waiting",
    "use_over_time", "spread_of_surges",
}  # fmt: skip


def write_figures(place, result):
    """Write the figures of a run, as its folder holds them."""
    folder = ResultFolder(place, place)
    for name, figure, table in run_figures(result):
        folder.write_figure(name, figure, table)


def figures_without_their_table(folder):
    """Figures whose numbers are in no table, or that have the name of another table."""
    tables = {path.stem: path.read_bytes() for path in (folder / "tables").glob("*.csv")}
    numbers = {path.stem: path.read_bytes() for path in (folder / "figures").glob("*.csv")}
    return sorted(
        name
        for name, own in numbers.items()
        if own not in tables.values() or own != tables.get(name, own)
    )


def test_a_figure_is_drawn_once(tmp_path, monkeypatch):
    """Drawing takes longest of all that follows an answer."""
    drawn = []
    draw = Figure.draw
    monkeypatch.setattr(Figure, "draw", lambda self, _: (drawn.append(self), draw(self, _))[1])
    write_figures(tmp_path, rich_run())
    assert len(drawn) == len(set(drawn)) == len(NAMES)


@pytest.mark.parametrize(
    "result",
    [
        rich_run(),
        pytest.param(rich_run(1), marks=pytest.mark.slow),
        pytest.param(run_of_waits([0] * 5, [0]), marks=pytest.mark.slow),
        pytest.param(run_of_waits(*[[0, 3000.0, 0.5]] * 40), marks=pytest.mark.slow),
        pytest.param(run_of_waits([], [0], [9.0]), marks=pytest.mark.slow),
        run_of_waits([900.0]),
    ],
)
def test_every_run_with_entries_can_be_drawn_without_a_warning(result, tmp_path):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        write_figures(tmp_path, result)
    drawn = {path.stem for path in (tmp_path / "figures").glob("*.png")}
    assert drawn == NAMES == {path.stem for path in (tmp_path / "figures").glob("*.csv")}


def test_a_folder_holds_answer_summary_tables_and_figures(tmp_path):
    fill_run_folder(ResultFolder(tmp_path, tmp_path), rich_run())
    assert {path.stem for path in (tmp_path / "tables").iterdir()} == set(TABLES)
    assert (tmp_path / "answer.txt").is_file()
    assert (tmp_path / "summary.json").is_file()
    assert len(figures_without_their_table(tmp_path)) == 0


def test_a_figure_beside_another_table_than_its_own_is_found(tmp_path):
    fill_run_folder(ResultFolder(tmp_path, tmp_path), rich_run())
    for name in ("by_role", "wait_curve"):
        (tmp_path / f"figures/{name}.csv").write_text("other\n1\n")
    assert figures_without_their_table(tmp_path) == ["by_role", "wait_curve"]


def test_a_run_without_entries_has_tables_and_no_figures(tmp_path):
    fill_run_folder(ResultFolder(tmp_path, tmp_path), run_of_waits([], []))
    assert not (tmp_path / "figures").exists()


@pytest.mark.slow
def test_the_same_run_is_drawn_to_the_same_bytes(tmp_path):
    for name in ("a", "b"):
        write_figures(tmp_path / name, rich_run())
    for name in NAMES:
        first, second = ((tmp_path / x / f"figures/{name}.png").read_bytes() for x in "ab")
        assert first == second, name


def test_points_stand_where_the_shares_are_and_the_target_is_marked():
    ax = figures.new_figure().axes[0]
    table = rich_run().by_hour
    assert figures.draw_service_level(table, "hour", 0.95, ax) is ax
    points = ax.lines[0].get_xydata()
    assert points.tolist() == [[0, 100], [1, 0], [2, 100], [3, 0]]
    assert any(np.allclose(line.get_ydata(), 95) for line in ax.lines)
    assert "%" in ax.get_ylabel()


def test_points_without_limits_are_all_on_the_axes_and_their_legend_names_no_interval():
    """One surge has no limits: its days at 40 % and 100 % are both in sight."""
    table = pd.DataFrame({"day": [1, 2], "service_level": [0.4, 1.0]})
    table = table.assign(service_level_low=np.nan, service_level_high=np.nan)
    ax = figures.draw_service_level(table, "day", 0.95, figures.new_figure().axes[0])
    bottom, top = ax.get_ylim()
    assert bottom < 40 < 100 < top
    assert "interval" not in "".join(text.get_text() for text in ax.get_legend().get_texts())


def test_a_legend_says_where_only_some_points_have_limits():
    table = pd.DataFrame({"day": [1, 2], "service_level": [0.4, 0.9]})
    table = table.assign(service_level_low=[0.3, np.nan], service_level_high=[0.5, np.nan])
    ax = figures.draw_service_level(table, "day", 0.95, figures.new_figure().axes[0])
    words = [text.get_text() for text in ax.get_legend().get_texts()]
    assert "service level, 95 % interval where known" in words


@pytest.mark.slow
@pytest.mark.parametrize("covers", ["", "drawn anew for each play of the recorded period " * 12])
@pytest.mark.parametrize("last", [1.0, np.nan])
def test_no_word_of_a_figure_lies_on_another_however_long_its_foot_is(tmp_path, covers, last):
    """The foot of a recorded period takes several lines, which leave the axes less height."""
    folder = ResultFolder(tmp_path, tmp_path, "A unit (invented)", covers)
    by_day = pd.DataFrame({"day": range(1, 15), "service_level": 0.9})
    by_day = by_day.assign(
        service_level_low=[0.5] * 13 + [0.5 * last], service_level_high=[0.99] * 13 + [0.99 * last],
        date=[f"2031-01-{day:02}" for day in by_day["day"]],
    )  # fmt: skip
    curve = pd.DataFrame({"wait_min": [0.0, 5.0, 20.0], "share_longer": [0.5, 0.1, 0.01]})
    curve = curve.assign(low=[0.4, 0.05, 0.005 * last], high=[0.6, 0.2, 0.02 * last])
    for name, table in (("day", by_day), ("curve", curve)):
        figure = figures.new_figure()
        if name == "day":
            figures.draw_service_level(table, "day", 0.95, figure.axes[0], "recorded period")
        else:
            figures.draw_wait_curve(table, 5.0, 0.95, figure.axes[0])
        folder.write_figure(name, figure, table)
        FigureCanvasAgg(figure).draw()
        assert collisions(figure) == []


def test_points_at_0_per_cent_are_whole_and_before_the_axis():
    ax = figures.new_figure().axes[0]
    table = rich_run().by_hour
    assert 0.0 in table["service_level"].to_numpy()
    figures.draw_service_level(table, "hour", 0.95, ax)
    assert ax.get_ylim()[0] == 0
    assert not ax.lines[0].get_clip_on()
    assert ax.lines[0].get_zorder() > ax.spines["bottom"].get_zorder()


def test_the_wait_curve_passes_through_the_shares_that_wait_longer():
    """Of waits 0, 10, 3 and 8, three wait longer than 0, two longer than 5."""
    ax = figures.new_figure().axes[0]
    figures.draw_wait_curve(rich_run().wait_curve, 5.0, 0.95, ax)
    curve = dict(ax.lines[0].get_xydata().tolist())
    assert (curve[0.0], curve[5.0]) == (75.0, 50.0)
    assert "min" in ax.get_xlabel()


def test_bars_are_as_long_as_the_hours_waited():
    ax = figures.new_figure().axes[0]
    figures.draw_causes_of_waiting(rich_run().cause_of_waiting, ax)
    assert [bar.get_width() for bar in ax.patches] == pytest.approx([8 / 60, 7 / 60, 0.1])
    assert len({bar.get_hatch() for bar in ax.patches}) == 2, "told apart in grey print"
    assert "hours" in ax.get_xlabel()


def test_every_cause_of_waiting_has_its_bar():
    """As the table beside the figure; what was missing has a hatch of its own."""
    table = pd.DataFrame(
        {"missing": [missing_name(n) for n in range(ALL_CAUSES)],
         "cause_of_waiting": [cause_name(n) for n in range(ALL_CAUSES)],
         "hours_per_surge": np.arange(ALL_CAUSES, 0.0, -1.0), "share": 1 / ALL_CAUSES}
    )  # fmt: skip
    ax = figures.new_figure().axes[0]
    figures.draw_causes_of_waiting(table, ax)
    assert [bar.get_width() for bar in ax.patches] == table["hours_per_surge"].tolist()
    assert [label.get_text() for label in ax.get_yticklabels()] == table[
        "cause_of_waiting"
    ].tolist()
    hatches = dict(zip(table["missing"], (bar.get_hatch() for bar in ax.patches), strict=True))
    assert len(set(hatches.values())) == len(hatches) == 5


def test_every_surge_is_in_one_bar_and_the_target_parts_the_bars():
    result = run_of_waits([0] * 20, [0] * 19 + [9], [0] * 18 + [9, 9], [9] * 20, [0] * 7)
    ax = figures.new_figure().axes[0]
    figures.draw_spread(result.surges, 0.95, ax)
    bars = [(bar.get_x(), bar.get_height(), bar.get_hatch()) for bar in ax.patches]
    assert sum(height for _, height, _ in bars) == 5
    # exactly 95 % is kept, and stands to the right of the line
    assert sum(height for x, height, _ in bars if x >= 95 - 1e-9) == 3
    assert sum(height for _, height, hatch in bars if hatch) == 2


def use_table(hours: int, **states: object) -> pd.DataFrame:
    """Means by state, the same in each hour or by hour; all surges are alike."""
    parts = [
        pd.DataFrame({"hour": np.arange(hours), "state": f"kits {name.replace('_', ' ')}",
                      "mean": mean}).assign(p10=lambda t: t["mean"], p90=lambda t: t["mean"])
        for name, mean in states.items()
    ]  # fmt: skip
    return pd.concat(parts, ignore_index=True)


KITS = {"kits in use": "in use", "kits drying": "contact or drying time",
        "kits in wipe-down": "in wipe-down"}  # fmt: skip


def tops(ax) -> list[list[float]]:
    """Upper edges of the bands, from the lowest."""
    points = [pd.DataFrame(band.get_paths()[0].vertices).groupby(0)[1].max()
              for band in ax.collections]  # fmt: skip
    return [one.tolist() for one in points]


def test_of_long_horizons_the_hour_of_each_day_with_the_least_free_is_shown():
    """Twelve days; 0 .. 23 of 30 kits in use in the hours of a day: the last one has the least."""
    hours = 12 * 24
    used = np.arange(hours) % 24.0
    table = use_table(hours, in_use=used, ready=30 - used)
    ax = figures.new_figure().axes[0]
    draw_use(table, {"kits in use": "in use"}, "kits ready", 30, "kits", ax)
    assert tops(ax) == [[23.0] * 12]
    title = use_title(table)
    assert "means over surges in the hour of each day with the least free" in title
    assert "means over surges in each hour" in use_title(table.head(24))
    assert "in the 2 hours of each day with the least free" in use_title(table.assign(hours=2.0))
    assert ax.get_ylim()[1] > 30, "what is in stock is in view"


def test_bands_lie_on_one_another_and_what_is_free_is_left_below_the_stock():
    """2 + 3 + 1 of 9 kits; of the surges with the least free, 1 is free of the mean of 3."""
    table = use_table(3, in_use=2.0, drying=3.0, **{"in_wipe-down": 1.0}, ready=3.0)
    table.loc[table["state"] == "kits ready", "p10"] = 1.0
    ax = figures.new_figure().axes[0]
    draw_use(table, KITS, "kits ready", 9, "kits", ax)
    assert tops(ax) == [[2.0] * 3, [5.0] * 3, [6.0] * 3]
    lines = {line.get_label(): set(line.get_ydata()) for line in ax.lines}
    assert lines == {"1 surge in 10: so many or more": {8.0}, "in stock: 9": {9.0}}
    words = [text.get_text() for text in ax.get_legend().get_texts()]
    assert words == [*list(lines)[::-1], "in wipe-down", "contact or drying time", "in use"]


def test_kits_on_loan_raise_the_line_below_which_things_are_free():
    """Two more than in stock; all surges alike, so no line says what a tenth of them has."""
    table = use_table(3, in_use=2.0, ready=[2.0, 4.0, 4.0])
    ax = figures.new_figure().axes[0]
    draw_use(table, {"kits in use": "in use"}, "kits ready", 4, "kits", ax)
    (line,) = ax.lines
    assert line.get_label() == "in the unit; in stock: 4"
    assert line.get_ydata().tolist() == [4, 4, 6, 6, 6]


def test_the_most_at_one_moment_are_said_to_be_means_and_states_that_never_were_are_left_out():
    table = use_table(3, in_use=2.0, drying=0.0, **{"in_wipe-down": 1.0}, ready=4.0)
    ax = figures.new_figure().axes[0]
    peaks = {"kits in use": 6.06, "kits drying": 0.0, "kits in wipe-down": 2.0}
    draw_use(table, KITS, "kits ready", 7, "kits", ax, peaks)
    legend = ax.get_legend()
    words = [text.get_text() for text in legend.get_texts()]
    assert words == ["in stock: 7", "in wipe-down, at most 2", "in use, at most 6.1"]
    assert "mean over surges" in legend.get_title().get_text()


def test_states_of_one_panel_differ_in_grey_too():
    """By how dark they are, or by their hatch."""
    from matplotlib.colors import to_rgb

    for panel in (
        ("in use", "contact or drying time", "in wipe-down", "waiting for a wipe-down",
         "in repair or for a filter"),
        ("in use", "in a bay", "waiting for a bay"),
    ):  # fmt: skip
        looks = []
        for name in panel:
            colour, hatch = _STATES[name]
            grey = float(np.dot(to_rgb(colour), (0.299, 0.587, 0.114)))
            looks.append((grey, hatch))
        for place, (grey, hatch) in enumerate(looks):
            assert all(
                abs(grey - other) > 0.25 or hatch != another
                for other, another in looks[place + 1 :]
            )


@pytest.mark.parametrize("target", [0.0, 0.29, 0.5, 0.9, 0.93, 0.95, 0.995, 0.9999, 1.0])
@pytest.mark.parametrize("lowest", [0.0, 0.31, 0.87, 0.999, 1.0])
def test_all_bars_of_the_spread_are_equally_wide_and_hold_every_surge(target, lowest):
    """So their heights can be compared; the target parts them, unless it is all but 100 %."""
    import pandas as pd

    shares = np.array([lowest, (lowest + 1) / 2, target, 1.0])
    ax = figures.new_figure().axes[0]
    table = pd.DataFrame({"service_level": shares, "on_target": shares >= target})
    figures.draw_spread(table, target, ax)
    widths = [bar.get_width() for bar in ax.patches]
    assert np.ptp(widths) < 1e-6
    assert len(widths) <= 2 * 101
    assert sum(bar.get_height() for bar in ax.patches) == 4
    edges = {round(bar.get_x(), 6) for bar in ax.patches}
    assert round(max(edges) + widths[0], 6) == 100
    if target < 0.99:
        assert round(100 * target, 6) in edges
        kept = [bar.get_height() for bar in ax.patches if bar.get_x() >= 100 * target - 1e-6]
        assert sum(kept) == (shares >= target).sum()
