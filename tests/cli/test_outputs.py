"""Outputs replace nothing that they must not, and what cannot be written is said with its code."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import MappingProxyType

import pytest

from surge_sim.cli import EXIT_CODES
from tests.conftest import ROOT, plain_environment
from tests.engine.tiny import PLAIN

pytestmark = pytest.mark.skipif(os.name == "nt", reason="other files there")

SMALL = ("--surges", "2", "--engine", "reference", "--processes", "1")


@pytest.fixture
def unit(tmp_path: Path) -> Path:
    """A scenario that plays a log, which another link names too."""
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n0,10,nurse\n5,10,nurse\n")
    path = tmp_path / "unit.yaml"
    path.write_text(json.dumps({**PLAIN, "entries": {"from": "log.csv"}}))
    os.link(tmp_path / "log.csv", tmp_path / "other name.csv")
    (tmp_path / "link.csv").symlink_to("unit.yaml")
    (tmp_path / "broken.csv").symlink_to("nowhere")
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "device").symlink_to("/dev/null")
    (tmp_path / "folder").mkdir()
    (tmp_path / "no folder").write_text("")
    (tmp_path / "protected.csv").write_text("mine")
    (tmp_path / "protected.csv").chmod(0o444)
    return path


def kinds(folder: Path) -> dict[str, int]:
    return {path.name: path.lstat().st_mode for path in folder.rglob("*")}


BAD_PLACES = MappingProxyType(
    {
        "unit.yaml": "is an input of this run",
        "log.csv": "is an input of this run",
        "other name.csv": "is an input of this run",
        "link.csv": "is an input of this run",
        "broken.csv": "is a link that leads nowhere",
        "pipe": "is no ordinary file",
        "device": "is no ordinary file",
        "/dev/null": "is no ordinary file",
        "folder": "is a folder, not a file",
        "no folder/needs.csv": "cannot be written",
        "new/needs.csv": "cannot be written",
    }
)


@pytest.mark.parametrize("place", BAD_PLACES)
def test_a_file_of_entries_is_refused_where_it_must_not_be(program, unit, tmp_path, place):
    files = [unit, tmp_path / "log.csv", tmp_path / "no folder"]
    before, texts = kinds(tmp_path), [path.read_text() for path in files]
    done = program("run", unit, "--out", "elsewhere", "--entries-out", place, *SMALL)
    assert (done.returncode, done.stdout) == (2, "")
    assert BAD_PLACES[place] in done.stderr and "Traceback" not in done.stderr
    assert kinds(tmp_path) == before
    assert [path.read_text() for path in files] == texts


@pytest.mark.parametrize(
    "words", [("run", ""), ("new", ""), ("run", "unit.yaml", "--entries-out", ""),
              ("run", "unit.yaml", "--out", ""), ("size", "unit.yaml", "--out", "")],
)  # fmt: skip
def test_an_empty_name_is_not_the_folder_that_one_is_in(program, unit, tmp_path, words):
    before = kinds(tmp_path)
    done = program(*words)
    assert (done.returncode, done.stdout) == (2, "")
    named = words[-2] if words[-2].startswith("--") else "FILE"
    assert f"{named}" in done.stderr and "the name is empty" in done.stderr
    assert kinds(tmp_path) == before


def test_a_file_of_entries_is_not_written_into_the_folder_of_results(program, unit, tmp_path):
    (tmp_path / "mine").mkdir()
    done = program("run", unit, "--out", "mine", "--entries-out", "mine/needs.csv", *SMALL)
    assert done.returncode == 2
    assert "lies in the folder for the results" in done.stderr
    assert not any((tmp_path / "mine").iterdir())


def test_a_file_of_entries_is_not_written_where_the_answer_is_printed(unit, tmp_path):
    shown = tmp_path / "shown.txt"
    with shown.open("w") as stream:
        done = run("run", unit, "--entries-out", shown, *SMALL, stdout=stream)
    assert done.returncode == 2
    assert "is where this run prints" in done.stderr


@pytest.mark.skipif(os.name == "posix" and os.geteuid() == 0, reason="may write everything")
def test_a_protected_file_is_not_replaced(program, unit, tmp_path):
    done = program("run", unit, "--entries-out", "protected.csv", *SMALL)
    assert done.returncode == 2
    assert (tmp_path / "protected.csv").read_text() == "mine"


@pytest.mark.usefixtures("undrawn")
def test_a_file_that_is_there_is_replaced_through_a_link_and_keeps_its_mode(
    program, unit, tmp_path
):
    (tmp_path / "folder" / "old.csv").write_text("old")
    (tmp_path / "folder" / "old.csv").chmod(0o640)
    (tmp_path / "to old.csv").symlink_to("folder/old.csv")
    assert program("run", unit, "--entries-out", "to old.csv", *SMALL).returncode == 0
    assert (tmp_path / "to old.csv").is_symlink()
    assert (tmp_path / "folder" / "old.csv").read_text().startswith("surge,requested_min,")
    assert (tmp_path / "folder" / "old.csv").stat().st_mode & 0o777 == 0o640


@pytest.mark.usefixtures("undrawn")
def test_results_go_through_a_link_to_an_empty_folder_which_keeps_its_mode(program, unit, tmp_path):
    (tmp_path / "folder").chmod(0o700)
    (tmp_path / "to folder").symlink_to("folder")
    assert program("run", unit, "--out", "to folder", *SMALL).returncode == 0
    assert (tmp_path / "to folder").is_symlink()
    assert (tmp_path / "folder" / "manifest.json").is_file()
    assert (tmp_path / "folder").stat().st_mode & 0o777 == 0o700


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (".", "is the folder that the command is given in"),
        ("/dev/shm", "is where a disk is mounted"),
        ("broken", "is a link that leads nowhere"),
        ("../unit.yaml/new", "which is a file, not a folder"),
    ],
)
def test_a_place_for_results_that_cannot_be_is_found_before_the_work(
    program, unit, tmp_path, place, words
):
    """The run would take hours; a disk that is mounted and not empty is refused for that."""
    here = tmp_path / "folder"
    (here / "broken").symlink_to("nowhere")
    if place == ".":
        (here / "broken").unlink()
    if place == "/dev/shm" and (not os.path.ismount(place) or any(Path(place).iterdir())):
        pytest.skip("no empty disk is mounted there")
    done = program("run", unit, "--out", place, "--surges", "20000", cwd=here)
    assert (done.returncode, done.stdout) == (2, "")
    assert words in done.stderr


@pytest.mark.slow
def test_what_a_dead_run_left_is_cleared_away_and_what_a_living_one_writes_is_not(
    program, unit, tmp_path
):
    """One run is killed, one is at work; beside them stands what has a name like theirs."""

    def begin(place: str) -> subprocess.Popen[bytes]:
        command = [
            sys.executable,
            "-m",
            "surge_sim",
            "run",
            str(ROOT / "scenarios/winter_wave.yaml"),
        ]
        command += ["--out", place, "--entries-out", f"{place}.csv", *SMALL[2:]]
        running = subprocess.Popen(command, cwd=tmp_path, env=plain_environment())
        while len(list(tmp_path.glob(f"{place}.*.surge-sim.partial"))) < 2:
            assert running.poll() is None
        return running

    dead, living = begin("dead"), begin("living")
    try:
        dead.kill()
        dead.wait()
        (tmp_path / "mine.partial").mkdir()
        assert program("run", unit, "--out", "third", *SMALL).returncode == 0
        left = sorted(path.name.split(".")[0] for path in tmp_path.glob("*.partial"))
        assert left == ["living", "living", "mine"]
    finally:
        living.send_signal(signal.SIGTERM)
        living.wait()
    assert [path.name for path in tmp_path.glob("*.partial")] == ["mine.partial"]


def run(
    *arguments: object, stdout: object = subprocess.PIPE, before: Callable[[], object] | None = None
) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "surge_sim", *map(str, arguments)], env=plain_environment(),
        stdin=subprocess.DEVNULL, stdout=stdout, stderr=subprocess.PIPE, text=True, timeout=600,
        preexec_fn=before, cwd=ROOT,
    )  # fmt: skip


def small_files_only() -> None:
    """No file may be longer than 3000 bytes, which ends a write like a full disk does."""
    import resource

    resource.setrlimit(resource.RLIMIT_FSIZE, (3_000, 3_000))


def test_a_full_disk_ends_with_71_and_one_line_and_leaves_nothing(unit, tmp_path):
    done = run("run", unit, "--out", tmp_path / "new", *SMALL, before=small_files_only)
    assert done.returncode == 71
    assert "met in this" in done.stdout, "the answer came before the folder"
    assert done.stderr == (
        "The answer above is whole; no results folder was written.\n"
        "surge-sim: could not finish: file too large.\n"
    )
    assert not (tmp_path / "new").exists() and not list(tmp_path.glob("*.partial"))


def test_a_new_scenario_is_not_left_half_written(tmp_path):
    done = run("new", tmp_path / "mine.yaml", before=small_files_only)
    assert done.returncode == 2
    assert "cannot be written: file too large" in done.stderr
    assert not list(tmp_path.iterdir())


def test_standard_output_on_a_full_disk_ends_with_71_and_one_line():
    with open("/dev/full", "w") as full:
        done = run("schema", stdout=full)
    assert done.returncode == 71
    assert done.stderr == "surge-sim: could not finish: no space left on device.\n"


@pytest.mark.parametrize("closed", ["0 1 2", "1", "0 1", "2"])
def test_closed_standard_streams_end_in_good_order(tmp_path, closed):
    """Without standard output there is nowhere to print; no file is opened in its place."""
    redirections = " ".join(f"{number}>&-" for number in closed.split())
    command = f"exec {sys.executable} -m surge_sim new mine.yaml {redirections}"
    done = subprocess.run(
        ["sh", "-c", command], cwd=tmp_path, env=plain_environment(), capture_output=True, text=True
    )
    if "1" in closed:
        assert done.returncode == 71
        assert "Traceback" not in done.stderr
        assert not list(tmp_path.iterdir())
    else:
        assert done.returncode == 0
        assert (tmp_path / "mine.yaml").read_text().startswith("#")


BUG = """
import click, sys
from surge_sim.cli import ending, main
def body():
    raise {what}
main.LazyCommands.list_commands = lambda self, ctx: ["work"]
main.LazyCommands.get_command = lambda self, ctx, name: click.Command("work", callback=body)
ending.main(["work"])
"""


@pytest.mark.parametrize(
    ("what", "code", "words"),
    [
        ("KeyboardInterrupt", 130, "surge-sim: stopped from the keyboard"),
        ("ZeroDivisionError('a bug')", 70, "ZeroDivisionError: a bug"),
        ("FileNotFoundError(2, 'gone')", 70, "FileNotFoundError"),
        ("MemoryError", 71, "there is not enough memory"),
        ("OSError(28, 'No space left on device')", 71, "no space left on device"),
    ],
)
def test_a_crash_is_no_answer(what, code, words):
    """1 would mean that no stock keeps the target."""
    done = subprocess.run(
        [sys.executable, "-c", BUG.format(what=what)], env=plain_environment(),
        capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == code
    assert words in done.stderr
    assert ("Traceback" in done.stderr) is (code == 70)
    assert ("Please report" in done.stderr) is (code == 70)


def test_every_exit_code_is_said_in_the_help_and_in_the_readme(program):
    shown = " ".join(program("--help").stdout.split())
    readme = (ROOT / "README.md").read_text().split("The exit codes stand")[1].split("###")[0]
    for code, meaning in EXIT_CODES.items():
        assert f"{code} {meaning}" in shown
        # that all went well needs no words
        assert all(one in readme for one in code.split(", ") if one != "0")


def test_whoever_shares_work_with_a_cluster_is_told_whom_to_trust(program):
    for text in (program("run", "--help").stdout, program("size", "--help").stdout):
        assert "use only a scheduler and workers that you trust" in " ".join(text.split())
    assert "Use only a scheduler and workers that you trust" in (ROOT / "README.md").read_text()
