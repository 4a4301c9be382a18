"""Text from files, names and the command line is shown as text, whatever is in it."""

from __future__ import annotations

import json
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from surge_sim.plain import csv_text, for_screen, json_text, visible
from surge_sim.report.folder import ResultFolder
from tests.conftest import plain_environment


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("two\nlines\tand a tab", "two\nlines\tand a tab"),
        ("Überwachung ≥ 5\N{NO-BREAK SPACE}min 病室", "Überwachung ≥ 5\N{NO-BREAK SPACE}min 病室"),
        ("\x1b[2J\x1b]0;x\x07", r"\x1b[2J\x1b]0;x\x07"),
        ("over\rwritten\x08\x7f", r"over\rwritten\x08\x7f"),
        ("\x9b31m\x85", r"\x9b31m\x85"),
        ("abc\u202egnp", r"abc\u202egnp"),
        ("\u2028\u2066", r"\u2028\u2066"),
        # a byte of a file name that is no text
        ("b\udcff", r"b\udcff"),
    ],
)  # fmt: skip
def test_orders_to_a_terminal_are_written_out_and_words_stay(text: str, shown: str):
    assert visible(text) == shown
    shown.encode()


def test_an_endless_line_is_shortened_on_the_screen_and_says_so():
    """100,000 characters: the first and the last 500 stay."""
    shown = for_screen("short\n" + "a" * 50_000 + "b" * 50_000)
    assert shown == "short\n" + "a" * 500 + " ... [99,000 characters left out] ... " + "b" * 500


def test_no_cell_of_a_csv_file_is_a_formula_and_numbers_stay_numbers():
    table = pd.DataFrame(
        {
            "name": ["=1+1", "+x", "-nurse", "@x", "nurse", "\tx", None],
            "share": [-0.5, 1e-9, np.nan, 0.0, 1.0, -2.0, 3.0],
            "count": [-1, 0, 1, 2, 3, 4, 5],
            "mixed": ["-", -1, 2, "=A1", None, "x", "y"],
        }
    )
    rows = csv_text(table).splitlines()
    assert rows[:4] == [
        "name,share,count,mixed",
        "'=1+1,-0.5,-1,'-",
        "'+x,1e-09,0,-1",
        "'-nurse,,1,2",
    ]
    assert rows[4:] == ["'@x,0.0,2,'=A1", "nurse,1.0,3,", "'\tx,-2.0,4,x", ",3.0,5,y"]


def test_a_name_of_a_column_is_no_formula_either():
    assert csv_text(pd.DataFrame({"=x": [1]})).splitlines() == ["'=x", "1"]


def test_json_keeps_every_text_and_shows_none_of_its_orders():
    answer = {"title": "\x1b[2J \x9b \u202e ü", "share": 0.5}
    text = json_text(answer)
    assert json.loads(text) == answer
    assert visible(text) == text and "ü" in text


@pytest.mark.parametrize("text", ["a $b_{ $ c", r"$\frac{$", "^ $ _ $"])
def test_dollar_signs_in_figures_are_no_mathematics(tmp_path, text: str):
    """Names on axes, in legends and titles, and the title of the scenario at the foot."""
    figure = Figure(layout="constrained")
    axes = figure.subplots()
    axes.barh([f"{text} 1", f"{text} 2"], [1, 2], label=text)
    axes.set_title(text)
    axes.annotate(text, (0, 0))
    axes.legend(title=text)
    folder = ResultFolder(tmp_path, tmp_path, title=text)
    folder.write_figure("one", figure, pd.DataFrame({"a": [1]}))
    assert (tmp_path / "figures" / "one.png").stat().st_size > 1_000


@pytest.mark.slow
def test_orders_in_a_file_name_do_not_reach_the_screen(tmp_path):
    """Nor does half a character end the program."""
    name = b"\x1b[31mred\xff.yaml"
    small = ["--surges", "1", "--engine", "reference", "--processes", "1"]
    for command in (["check", name], ["new", name], ["new", name], ["run", name, *small]):
        done = subprocess.run(
            [sys.executable, "-m", "surge_sim", *command], cwd=tmp_path,
            env=plain_environment(), capture_output=True,
        )  # fmt: skip
        shown = (done.stdout + done.stderr).decode()
        assert "Traceback" not in shown and "\x1b" not in shown
        assert command[0] == "run" or r"\x1b[31mred\udcff.yaml" in shown
    (results,) = (tmp_path / "results").iterdir()
    manifest = json.loads((results / "manifest.json").read_text())
    assert manifest["command"][2] == "\x1b[31mred\udcff.yaml"


def test_orders_on_the_command_line_do_not_reach_the_screen():
    for words in (["\x1b[31m"], ["run", "--\x1b[31m"], ["run", "a", "--kits", "\x1b[31m"]):
        done = subprocess.run(
            [sys.executable, "-m", "surge_sim", *words],
            env=plain_environment(),
            capture_output=True,
        )
        assert done.returncode == 2
        assert b"\x1b" not in done.stderr and done.stderr
