"""A program that is stopped in the middle of its work ends at once, in good order."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest

from tests.conftest import ROOT

#: the longest that is waited for anything [s]
PATIENCE_S = 120.0


def workers_at_work(program: psutil.Process) -> bool:
    """Whether two processes of the program have been busy for a while."""
    children = program.children(recursive=True)
    return sum(child.cpu_times().user > 3 for child in children if child.is_running()) >= 2


@pytest.mark.skipif(os.name == "nt", reason="other signals there")
@pytest.mark.parametrize(
    ("how", "code", "said"),
    [
        (signal.SIGINT, 130, "surge-sim: stopped from the keyboard"),
        (signal.SIGTERM, 143, ""),
    ],
    ids=["keyboard", "told to end"],
)
def test_a_stop_in_the_middle_leaves_one_line_and_no_half_result(
    tmp_path: Path, how: signal.Signals, code: int, said: str
):
    command = [sys.executable, "-m", "surge_sim", "run", str(ROOT / "scenarios/winter_wave.yaml")]
    command += ["--surges", "50000", "--processes", "2", "--out", "results"]
    program = subprocess.Popen(
        command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
        # also where the tests themselves run in the background, deaf to the keyboard
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    try:
        seen, until = psutil.Process(program.pid), time.monotonic() + PATIENCE_S
        while not workers_at_work(seen):
            assert time.monotonic() < until and program.poll() is None
            time.sleep(0.2)
        # a terminal sends its stop to every process of the program
        os.killpg(program.pid, how) if how == signal.SIGINT else program.send_signal(how)
        out, err = program.communicate(timeout=PATIENCE_S)
    finally:
        program.kill()
    assert program.returncode == code
    assert out == ""
    lines = [line for line in err.splitlines() if line and not line.startswith(("surges:", "Comp"))]
    assert lines == ([said] if said else [])
    assert not list(tmp_path.iterdir()) or not any((tmp_path / "results").iterdir())
