"""`compare` and `matters` that were stopped go on, and leave what they leave without a stop."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import pytest

from surge_sim import scenario_from_text
from tests.conftest import ROOT, plain_environment

EXPOSURE = ROOT / "scenarios" / "exposure_cluster.yaml"
ALONE = ("--processes", "1", "--out", "out")
COMPARE = (
    *("compare", str(EXPOSURE), "--with", "own kit: policy.kit=held for a shift"),
    *("--surges", "40", *ALONE),
)
#: one input besides random variation: as it is, low, high, three that take something from a
#: second surge
MATTERS = ("matters", "unit.yaml", "--surges", "40", *ALONE)


def unit() -> str:
    """One day of a small unit with one uncertain input."""
    text = (ROOT / "scenarios" / "rule_out_unit.yaml").read_text(encoding="utf-8")
    changes = {
        "horizon": "1 d", "arrivals.baseline": {"low": "1 per day", "high": "6 per day"},
        "stock.kits": 4, "limits": {"kits": 8, "batteries": 18, "bays": 9},
    }  # fmt: skip
    return scenario_from_text(text).changed(changes).full_form()


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="other signals there")
@pytest.mark.parametrize(
    ("typed", "plays", "how"),
    [
        (COMPARE, 2, signal.SIGINT),
        (COMPARE, 2, signal.SIGKILL),
        (MATTERS, 6, signal.SIGKILL),
    ],
    ids=["compare, keyboard", "compare, killed", "matters, killed"],
)
def test_a_stopped_study_goes_on_and_writes_the_same_bytes(tmp_path, typed, plays, how):
    command = [sys.executable, "-m", "surge_sim", *typed]
    for folder in ("stopped", "whole"):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "unit.yaml").write_text(unit(), encoding="utf-8")
    with (tmp_path / "shown.txt").open("w") as shown:
        running = subprocess.Popen(
            command, cwd=tmp_path / "stopped", stdout=shown, stderr=shown,
            env=plain_environment(), start_new_session=True,
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )  # fmt: skip
        until = time.monotonic() + 600
        while not list(tmp_path.glob("stopped/*unfinished/block*")):
            assert running.poll() is None and time.monotonic() < until
            time.sleep(0.02)
        running.send_signal(how)
        running.wait(600)
    assert running.returncode != 0
    assert not (tmp_path / "stopped" / "out").exists()
    parts = len(list(tmp_path.glob("stopped/*unfinished/block*")))
    assert 1 <= parts < 4
    told = {}
    for folder in ("stopped", "whole"):
        done = subprocess.run(
            command, cwd=tmp_path / folder, capture_output=True, text=True, env=plain_environment()
        )
        assert done.returncode == 0, done.stderr
        told[folder] = done.stderr
    known = (
        f"{10 * plays * parts} of {40 * plays} replications are there from a run that was stopped"
    )
    assert known in told["stopped"]
    assert "stopped" not in told["whole"]
    first, second = (tmp_path / name / "out" for name in ("stopped", "whole"))
    files = [path.relative_to(second) for path in second.rglob("*") if path.is_file()]
    assert len(files) > 8
    for name in files:
        if name.name != "manifest.json":
            assert (first / name).read_bytes() == (second / name).read_bytes(), name
    assert not list(tmp_path.glob("*/*unfinished"))
