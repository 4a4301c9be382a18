"""Answers fit the terminal at hand, in colours where it shows them; nothing is lost on the way."""

from __future__ import annotations

import os
import pty
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from surge_sim.cli.main import cli
from tests.conftest import ROOT, plain_environment

SHIPPED = sorted((ROOT / "scenarios").glob("*.yaml"))
FEW = ("--choose", "20", "--surges", "60", "--confidence", "80%", "--processes", "1")
#: what a person types first
COMMANDS = [
    *(("check", path.name) for path in SHIPPED),
    *(("run", path.name, "--surges", "100", "--processes", "1") for path in SHIPPED),
    ("verify", "rule_out_unit.yaml", "--surges", "2"),
    ("explain", "rule_out_unit.yaml"),
    ("explain", "exposure_cluster.yaml"),
    ("size", "rule_out_unit.yaml", *FEW, "--target", "share_of_surges=50%"),
    *(("compare", path.name, "--usual", "--surges", "10", "--processes", "1") for path in SHIPPED),
    ("matters", "exposure_cluster.yaml", "--no-stock", "--surges", "20", "--processes", "1"),
]
QUICK = [
    *COMMANDS[: len(SHIPPED)],
    ("run", "rule_out_unit.yaml"),
    ("explain", "rule_out_unit.yaml"),
]
#: what few surges bring, and a person who takes the usual number does not see
FEW_SURGES = r"\nWarning: With \d+ surges, fewer than 100,(?:.|\n)*?\.(?=\n)"


def shown(command: tuple[str, ...], columns: int, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    monkeypatch.setenv("COLUMNS", str(columns))
    done = CliRunner().invoke(cli, command, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout.splitlines()


@pytest.mark.parametrize(
    "command",
    [
        pytest.param(one, id=" ".join(one), marks=[] if one[:2] in QUICK else pytest.mark.slow)
        for one in COMMANDS
    ],
)
def test_the_screens_of_shipped_scenarios_fit_24_lines_of_80_columns(
    command: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for path in SHIPPED:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    monkeypatch.chdir(tmp_path)
    text = re.sub(FEW_SURGES, "", "\n".join(shown(command, 80, monkeypatch)))
    lines = text.replace("\n\n\n", "\n\n").splitlines()
    assert len(lines) <= 24, text
    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize("columns", [40, 60, 72, 120])
def test_a_screen_of_any_width_has_every_word_and_every_number(
    columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    command = ("check", str(ROOT / "scenarios" / "winter_wave.yaml"), "--full")
    lines = shown(command, columns, monkeypatch)
    assert max(map(len, lines)) <= columns
    words = set(re.findall(r"[\w.,]+", " ".join(shown(command, 80, monkeypatch))))
    assert words <= set(re.findall(r"[\w.,]+", " ".join(lines)))


def on_a_terminal(**environment: str) -> bytes:
    """What `check` writes to a terminal."""
    master, slave = pty.openpty()
    file = str(SHIPPED[0])
    words = [sys.executable, "-m", "surge_sim", "check", file]
    given = {**plain_environment(), "TERM": "xterm", "NO_COLOR": "", **environment}
    with subprocess.Popen(words, stdout=slave, env=given) as done:
        os.close(slave)
        said = b""
        while part := _read(master):
            said += part
    os.close(master)
    assert done.returncode == 0
    return said


def _read(master: int) -> bytes:
    for _ in range(600):
        try:
            return os.read(master, 65536)
        except BlockingIOError:
            time.sleep(0.1)
        except OSError:
            break
    return b""


@pytest.mark.slow
def test_a_terminal_gets_colours_unless_somebody_refused_them() -> None:
    coloured = on_a_terminal()
    assert b"\x1b[" in coloured
    plain = on_a_terminal(NO_COLOR="1")
    assert b"\x1b" not in plain
    assert b"\x1b" not in on_a_terminal(TERM="dumb")
    bare = re.sub(rb"\x1b\[[0-9;]*m", b"", coloured)
    assert bare.split() == plain.split()
