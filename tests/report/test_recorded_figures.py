"""Figures of recorded waits show the numbers of their tables, and tell the two apart in grey."""

from __future__ import annotations

import json
import warnings
from datetime import date

import numpy as np
import pandas as pd
import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.report import figures
from tests.engine.tiny import PLAIN
from tests.report.test_figures import figures_without_their_table

BEGINS = date(2031, 1, 31)
NAMES = ("group", "entries", "measure", "unit", "recorded", "simulated", "simulated_lowest",
         "simulated_highest")  # fmt: skip


@pytest.fixture
def by_day() -> pd.DataFrame:
    """Two days, numbers all different."""
    rows = [("whole period", 9, "share late", "0..1", 0.5, 0.6, 0.55, 0.65)]
    for day in (1, 2):
        rows += [
            (f"day {day}", 4, "share late", "0..1", 0.1 * day, 0.2 * day, 0.15 * day, 0.25 * day),
            (f"day {day}", 4, "median", "min", day, day + 1, day + 0.5, day + 1.5),
            (f"day {day}", 4, "90th percentile", "min", 7 * day, 8 * day, 7.5 * day, 9 * day),
        ]
    return pd.DataFrame(rows, columns=NAMES)


def marks(ax) -> dict[str, list[float]]:
    """Heights of the marks by their label, without what explains the lines."""
    return {
        line.get_label().split(", mean\n")[0]: np.round(line.get_ydata(), 9).tolist()
        for line in ax.lines
    }


def test_marks_stand_at_the_recorded_and_simulated_numbers_of_each_day(by_day):
    figure = figures.new_figure(panels=2)
    figures.draw_recorded_by_day(by_day, *figure.axes, BEGINS)
    top, bottom = figure.axes
    assert marks(top) == {"recorded": [10, 20], "simulated": [20, 40]}
    assert marks(bottom) == {
        "median, recorded": [1, 2], "median, simulated": [2, 3],
        "90th percentile, recorded": [7, 14], "90th percentile, simulated": [8, 16],
    }  # fmt: skip
    (spread,) = top.collections
    ends = [np.round(segment[:, 1], 9).tolist() for segment in spread.get_segments()]
    assert ends == [[15, 25], [30, 50]]
    assert "[%]" in top.get_ylabel() and "[min]" in bottom.get_ylabel()
    assert [bottom.xaxis.get_major_formatter()(day) for day in (1, 2)] == ["1\n31 Jan", "2\n1 Feb"]


def test_recorded_marks_are_filled_and_simulated_ones_open(by_day):
    figure = figures.new_figure(panels=2)
    figures.draw_recorded_by_day(by_day, *figure.axes, BEGINS)
    for line in figure.axes[1].lines:
        is_open = line.get_markerfacecolor() == "white"
        assert is_open == ("simulated" in line.get_label())


def test_each_entry_stands_at_its_two_waits_beside_the_line_of_equal_ones():
    table = pd.DataFrame({"recorded_min": [0.0, 14.0, 3.0], "simulated_min": [0.0, 15.0, 9.0]})
    ax = figures.new_figure().axes[0]
    figures.draw_recorded_by_entry(table, 5.0, ax)
    lines = {line.get_label(): line for line in ax.lines}
    assert lines["one entry"].get_xdata().tolist() == [0, 14, 3]
    assert lines["one entry"].get_ydata().tolist() == [0, 15, 9]
    equal = lines["equal"]
    assert np.array_equal(equal.get_xdata(), equal.get_ydata())
    assert ax.get_xlim()[1] >= 14 and ax.get_ylim()[1] >= 15


def test_a_run_of_a_log_with_waits_leaves_tables_figures_and_their_help(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    log = "requested,room_minutes,wait_minutes\n0,20,0\n5,20,14\n1440,10,1\n"
    (tmp_path / "log.csv").write_text(log)
    scenario = {**PLAIN, "horizon": "48 h", "entries": {"from": "log.csv"}}
    (tmp_path / "unit.yaml").write_text(json.dumps(scenario))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        asked = ("--engine", "reference", "--processes", "1", "--out", "out")
        assert exit_code_of(["run", "unit.yaml", *asked]) == 0
    out = tmp_path / "out"
    for name in ("recorded_waits", "recorded_waits_by_entry"):
        assert (out / "figures" / f"{name}.png").is_file()
        assert f"tables/{name}.csv" in (out / "columns.txt").read_text()
    assert figures_without_their_table(out) == []
    assert json.loads((out / "summary.json").read_text())["recorded_waits"]["reproduced"] is True
