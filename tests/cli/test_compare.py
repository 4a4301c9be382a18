"""``surge-sim compare`` as it is typed: answers, faults, and going on after a stop."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from surge_sim import scenario_from_text
from tests.conftest import ROOT, plain_environment

EXPOSURE = ROOT / "scenarios" / "exposure_cluster.yaml"
KIT = "own kit: policy.kit=held for a shift"


def compare(program, *options):
    return program("compare", EXPOSURE, "--surges", "12", "--processes", "1", *options)


def test_the_answer_fits_a_screen(program):
    done = compare(program, "--with", KIT, "--usual", "--out", "out")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    # title, answer and the table of all choices are seen at once
    assert any(line.startswith("one charger more") for line in lines[:24])
    assert not list(Path(done.args[-1]).parent.glob("*unfinished"))


def test_a_folder_is_left_like_that_of_a_run(program, tmp_path):
    done = compare(program, "--with", KIT, "--out", "out", "--json")
    answer = json.loads(done.stdout)
    folder = tmp_path / "out"
    assert json.loads((folder / "summary.json").read_text()) == answer
    assert [one["name"] for one in answer["alternatives"]] == ["as it is", "own kit"]
    names = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert names >= {
        "answer.txt", "columns.txt", "manifest.json", "tables/alternatives.csv",
        "tables/differences.csv", "tables/outcomes.csv", "figures/differences.png",
        "figures/differences.csv", "alternatives/01.yaml", "scenario/exposure_cluster.yaml",
    }  # fmt: skip
    # the changed scenario runs from there and gives the same numbers
    run = program("run", folder / "alternatives" / "01.yaml", "--surges", "12", "--json")
    assert (
        json.loads(run.stdout)["surges_on_target"]
        == (answer["alternatives"][1]["surges_on_target"])
    )


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "has no alternative here"),
        (("--with", "a: polcy.kit=x"), "--with 'a: polcy.kit=x': polcy"),
        (("--with", KIT, "--with", KIT), "'own kit' is there twice"),
        (("--alternatives", "none.yaml"), "none.yaml: cannot be read"),
        (("none.yaml",), "none.yaml: cannot be read"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_written(program, tmp_path, options, said):
    done = compare(program, *options)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_all_faults_come_at_once(program):
    done = compare(program, "--with", "a: polcy.kit=x", "--with", "b: stock.kits=many")
    assert "'a: polcy.kit=x'" in done.stderr
    assert "'b: stock.kits=many'" in done.stderr


@pytest.mark.slow
def test_each_alternative_is_sized(program, tmp_path):
    text = (ROOT / "scenarios" / "rule_out_unit.yaml").read_text(encoding="utf-8")
    unit = scenario_from_text(text).changed(
        {"horizon": "2 d", "target.share_of_surges": "50 %", "limits.kits": 10}
    )
    (tmp_path / "unit.yaml").write_text(unit.full_form(), encoding="utf-8")
    options = ("--surges", "5", "--size", "--json", "--out", "out")
    done = program("compare", tmp_path / "unit.yaml", "--with", "few: stock.kits=2", *options)
    assert done.returncode == 0, done.stderr
    base, few = (one["to_meet_the_target"] for one in json.loads(done.stdout)["alternatives"])
    assert base["buy"] == "nothing"
    assert few["price"] > 0
    assert "sizing 2 of 2: few" in done.stderr
    assert "To meet the target" in (tmp_path / "out" / "answer.txt").read_text()


@pytest.mark.skipif(os.name == "nt", reason="other signals there")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL], ids=["keyboard", "killed"])
def test_a_stopped_comparison_goes_on_and_writes_the_same_bytes(tmp_path, how):
    command = [
        sys.executable, "-m", "surge_sim", "compare", str(EXPOSURE), "--with", KIT,
        "--surges", "60", "--processes", "1", "--out", "out",
    ]  # fmt: skip
    (tmp_path / "stopped").mkdir()
    (tmp_path / "whole").mkdir()
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
    assert 1 <= parts < 6
    for folder in ("stopped", "whole"):
        done = subprocess.run(
            command, cwd=tmp_path / folder, capture_output=True, text=True, env=plain_environment()
        )
        assert done.returncode == 0, done.stderr
        if folder == "stopped":
            assert (
                f"{20 * parts} of 120 replications are there from a run that was stopped"
                in done.stderr
            )
    first, second = (tmp_path / name / "out" for name in ("stopped", "whole"))
    files = [path.relative_to(second) for path in second.rglob("*") if path.is_file()]
    assert len(files) > 8
    for name in files:
        if name.name != "manifest.json":
            assert (first / name).read_bytes() == (second / name).read_bytes(), name
    assert not list(tmp_path.glob("*/*unfinished"))
