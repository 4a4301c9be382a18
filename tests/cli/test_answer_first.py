"""The answer is printed as soon as the numbers are there; tables and figures follow."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT, plain_environment
from tests.sizing.test_size_command import UNIT

#: what draws and writes is replaced: it tells what was loaded and shown before it, then ends so
STOPPED_AT_THE_FIGURES = """
import sys
from surge_sim.report import {module}

def instead(folder, result):
    loaded = [name for name in {late} if name in sys.modules]
    print("begins", loaded, flush=True)
    {how}

{module}.{name} = instead
from surge_sim.cli.ending import main
main(sys.argv[1:])
"""
COMMANDS = {
    "run": ("run_folder", "fill_run_folder", ("--surges", "20")),
    "size": ("sizing_folder", "fill_size_folder", ("--choose", "40", "--surges", "100")),
}
#: what takes a while to load, and is loaded after the answer; a sizing is made of tables
LATE = {
    "run": ("matplotlib", "scipy.stats", "simpy", "pandas"),
    "size": ("matplotlib", "scipy.stats", "simpy"),
}


def ended(folder: Path, command: str, how: str) -> subprocess.CompletedProcess[str]:
    """Run a command on a small unit whose tables and figures end as they are told to."""
    (folder / "unit.yaml").write_text(UNIT)
    module, name, options = COMMANDS[command]
    script = STOPPED_AT_THE_FIGURES.format(module=module, name=name, how=how, late=LATE[command])
    return subprocess.run(
        [sys.executable, "-c", script, command, "unit.yaml", "--out", "found", *options],
        cwd=folder, env=plain_environment(), capture_output=True, text=True,
    )  # fmt: skip


@pytest.mark.parametrize("command", ["run", pytest.param("size", marks=pytest.mark.slow)])
def test_a_stop_while_figures_are_drawn_leaves_the_answer_and_no_folder(tmp_path: Path, command):
    done = ended(tmp_path, command, "raise KeyboardInterrupt")
    answer, begins = done.stdout.rstrip().rsplit("\n", 1)
    assert "Planning aid" in answer and begins == "begins []"
    assert done.returncode == 130
    said = done.stderr.split("\n")
    assert "The answer above is whole; no results folder was written." in said
    assert "surge-sim: stopped from the keyboard" in said
    assert os.listdir(tmp_path) == ["unit.yaml"]


@pytest.mark.slow
def test_a_disk_that_fills_meanwhile_leaves_the_answer_and_no_folder(tmp_path: Path):
    done = ended(tmp_path, "run", "raise OSError(28, 'No space left on device')")
    assert "Planning aid" in done.stdout and done.returncode == 71
    assert "no results folder was written" in done.stderr
    assert os.listdir(tmp_path) == ["unit.yaml"]


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="pipes close otherwise there")
def test_the_folder_is_written_though_the_reader_of_the_answer_has_gone(tmp_path: Path):
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = subprocess.run(
        [sys.executable, "-m", "surge_sim", "run", str(ROOT / "scenarios/rule_out_unit.yaml"),
         "--surges", "2", "--out", "found"],
        cwd=tmp_path, env=plain_environment(), stdout=write_end, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    os.close(write_end)
    assert done.returncode == 141 and done.stderr == ""
    assert (tmp_path / "found" / "manifest.json").exists()
