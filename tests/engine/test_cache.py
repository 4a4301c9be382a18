"""Compiled code is kept; the first compile is announced; nothing needs a place to keep it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from surge_sim.cli.progress import announce
from surge_sim.engine import compiled, surges
from surge_sim.scenario.load import scenario_from_text
from surge_sim.sizing.size import size
from surge_sim.sizing.watch import Watch
from tests.conftest import ROOT, plain_environment
from tests.sizing.test_size_command import UNIT

#: plays a surge and says where code is kept, how often it was compiled, and what came of it
PLAY = """
import sys, tempfile
if len(sys.argv) > 1:
    tempfile.tempdir = sys.argv[1]
from surge_sim import draw_demand, load_scenario, simulate, stock_in_hand
from surge_sim.engine.compiled import CACHE_FOLDER
from surge_sim.engine.surges import compile_engine
scenario = load_scenario("scenarios/rule_out_unit.yaml")
compile_engine()
log = simulate(draw_demand(scenario), stock_in_hand(scenario.settings))
from surge_sim.engine.compiled.play import play_through
made = sum(play_through.stats.cache_misses.values())
print(CACHE_FOLDER, made, int(log.wait_s.sum()), len(log.wait_s))
"""

FOLDER = """
import sys, tempfile
if len(sys.argv) > 1:
    tempfile.tempdir = sys.argv[1]
from surge_sim.engine.compiled import CACHE_FOLDER, is_kept
print(CACHE_FOLDER, is_kept())
"""


def python(script: str, *words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", script, *map(str, words)],
        cwd=ROOT, env=plain_environment() | environment, capture_output=True, text=True,
        timeout=900, check=True,
    )  # fmt: skip


@pytest.fixture
def nowhere(tmp_path: Path) -> Path:
    """A folder that nobody can make, the administrator included: it lies below a file."""
    (tmp_path / "file").write_text("no folder\n")
    return tmp_path / "file" / "below"


def test_code_is_kept_in_the_folder_that_is_named(tmp_path: Path):
    folder, kept = python(FOLDER, NUMBA_CACHE_DIR=str(tmp_path)).stdout.split()
    assert Path(folder).is_relative_to(tmp_path / "surge_sim")
    assert kept == "False"


def test_code_is_kept_among_temporary_files_where_the_users_cache_cannot_be_written(
    nowhere: Path, tmp_path: Path
):
    environment = {"NUMBA_CACHE_DIR": str(nowhere)}
    folder, _ = python(FOLDER, tmp_path, **environment).stdout.split()
    assert Path(folder).is_relative_to(tmp_path)


def test_code_is_kept_nowhere_when_nothing_can_be_written(nowhere: Path):
    shown = python(FOLDER, nowhere, NUMBA_CACHE_DIR=str(nowhere), XDG_CACHE_HOME=str(nowhere))
    assert shown.stdout.split() == ["None", "False"]


def test_a_change_of_any_source_asks_for_a_new_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    """The digest is of the sources, so code of an older program is never run."""
    package = tmp_path / "surge_sim"
    for source in (ROOT / "surge_sim").rglob("*.py"):
        target = package / source.relative_to(ROOT / "surge_sim")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(source.read_bytes())
    monkeypatch.setattr(compiled, "__file__", str(package / "engine" / "compiled" / "__init__.py"))
    before = compiled._digest()
    with open(package / "equipment" / "filters.py", "a", encoding="utf-8") as rules:
        rules.write("\n# another rule\n")
    assert compiled._digest() != before


@pytest.mark.parametrize(("kept", "said"), [(False, True), (True, False)])
def test_compiling_is_announced_and_only_when_it_happens(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], kept: bool, said: bool
):
    monkeypatch.setattr(compiled, "is_kept", lambda: kept)
    surges.compile_engine()
    shown = capsys.readouterr()
    assert shown.out == ""
    assert ("Compiling the engine for this machine, once" in shown.err) is said


def test_a_sizing_announces_that_it_compiles_before_it_plays(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(compiled, "is_kept", lambda: False)
    size(scenario_from_text(UNIT), choose=20, surges=30, processes=1, watch=Watch(say=announce))
    first, second, *_ = capsys.readouterr().err.splitlines()
    assert first.startswith("Compiling the engine")
    assert second.startswith("20 surges choose, 30 certify")


def test_the_second_start_compiles_nothing():
    """Compiled here, if it was not yet; then in another process it is only read."""
    if compiled.CACHE_FOLDER is None:
        pytest.skip("nothing can be written on this machine")
    surges.compile_engine()
    shown = python(PLAY)
    folder, made, _, needs = shown.stdout.split()
    assert folder == str(compiled.CACHE_FOLDER)
    assert (made, shown.stderr) == ("0", "")
    assert int(needs) > 0


@pytest.mark.slow
def test_from_an_empty_cache_the_first_start_compiles_within_a_minute_and_the_second_does_not(
    tmp_path: Path,
):
    """Less than a minute of the processor: a busy machine makes it wait longer."""
    answers = []
    for first in (True, False):
        before = os.times()
        shown = python(PLAY, NUMBA_CACHE_DIR=str(tmp_path))
        after = os.times()
        used_s = after.children_user - before.children_user
        _, made, *waits = shown.stdout.split()
        answers.append(waits)
        assert ("Compiling the engine" in shown.stderr) is first
        assert (made != "0") is first
        assert used_s < (60 if first else 10)
    assert answers[0] == answers[1]


@pytest.mark.slow
def test_a_machine_where_nothing_can_be_written_plays_all_the_same(nowhere: Path):
    environment = {"NUMBA_CACHE_DIR": str(nowhere), "XDG_CACHE_HOME": str(nowhere)}
    shown = python(PLAY, nowhere, **environment)
    folder, _, *waits = shown.stdout.split()
    assert folder == "None"
    assert "Compiling the engine" in shown.stderr
    assert waits == python(PLAY).stdout.split()[2:]
