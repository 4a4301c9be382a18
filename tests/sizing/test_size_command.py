"""``surge-sim size`` on a small invented unit, from the file to screen, JSON and folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from surge_sim.cautions import CAUTION
from surge_sim.cli.main import exit_code_of
from surge_sim.sizing.watch import Watch
from tests.report.test_figures import figures_without_their_table

UNIT = """
title: Two days of a small unit (invented)
question: How many kits and batteries does it need?
note: An invented unit in a place that does not exist.
start: 2031-03-03 07:00
horizon: 2 d
arrivals: {baseline: 4 per day, present_at_start: 4}
classes:
  ward:
    share: 100 %
    isolation: {shape: exponential, mean: 1 d}
    entries: {nurse: 12 per day}
roles:
  nurse: {room_time: {shape: gamma, mean: 15 min, cv: 60 %}}
kit:
  check: 1 min
  don: 3 min
  doff: 3 min
  levels: [{flow: 180 L/min, run_time: 4 h}]
batteries: {charge_time: 2 h, least_run: 40 min, alarm_reserve: 5 min}
cleaning: {by: wearer, wipe: 5 min, wet: 2 min, dry: 10 min}
stock: {kits: 2, batteries: 3, bays: 3}
prices: {currency: talers (invented), kit: 1400, battery: 240, charger: 180}
limits: {kits: 12, batteries: 20, bays: 6}
target: {wait: 5 min, share_of_entries: 90 %, share_of_surges: 80 %}
sources: {arrivals: invented}
"""


@pytest.fixture
def unit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario file in a folder of its own, which is also the working folder."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "unit.yaml"
    path.write_text(UNIT)
    return path


def size(*arguments: str) -> int:
    return exit_code_of(
        ["size", *arguments, "--choose", "40", "--surges", "60", "--processes", "1"]
    )


def test_the_answer_is_one_screen_and_a_folder(
    unit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert size(str(unit), "--out", "found") == 0
    shown = capsys.readouterr()
    lines = shown.out.splitlines()
    assert len(lines) <= 32 and max(map(len, lines)) <= 80
    assert lines[0].startswith("Target: in 80 % of surges, 90 % of entries wait 5 min or less")
    assert "Scenario      Two days of a small unit (invented)\n" in shown.out
    assert "Surges        40 chose, 60 fresh ones judge; seed 1.\n" in shown.out
    assert "Held fixed    3 bays" in shown.out
    assert "Least cost    with 3 bays, " in shown.out
    assert "rates of the peak day, rounded up, ask for" in shown.out
    assert shown.out.rstrip().endswith(CAUTION)
    said = (shown.out.replace(CAUTION, "") + shown.err).lower()
    assert "protect" not in said and "safe" not in said
    assert "likely to take" in shown.err and " left\n" in shown.err
    assert "candidates fixed before the test" in shown.err
    folder = tmp_path / "found"
    assert (folder / "answer.txt").read_text() == shown.out
    for name in ("band", "needed", "evidence"):
        assert (folder / "figures" / f"{name}.png").stat().st_size > 10_000
        assert (folder / "figures" / f"{name}.csv").read_text().count("\n") > 1
    assert figures_without_their_table(folder) == []
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["evidence"][0]["verdict"] == "passes"
    manifest = json.loads((folder / "manifest.json").read_text())
    assert manifest["seed"] == 1


def test_json_stands_alone_on_standard_output_and_does_not_depend_on_processes(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = []
    for processes in ("1", "2"):
        code = exit_code_of(
            ["size", str(unit), "--choose", "40", "--surges", "60", "--json",
             "--processes", processes]
        )  # fmt: skip
        assert code == 0
        answers.append(json.loads(capsys.readouterr().out))
    assert answers[0] == answers[1]
    assert {"recommended", "frontier", "evidence", "target", "seed"} <= set(answers[0])


def test_target_prices_and_items_can_be_changed_on_the_command_line(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert size(str(unit), "--json", "--vary", "kits", "--prices", "kit=7",
                "--target", "wait=10min,share_of_surges=70%") == 0  # fmt: skip
    answer = json.loads(capsys.readouterr().out)
    assert answer["vary"] == ["kits"]
    assert answer["target"]["wait_minutes"] == 10
    assert answer["target"]["share_of_surges"] == 0.7
    best = answer["recommended"]
    assert best["batteries"] == 3
    assert best["cost"] == 7 * best["kits"] + 3 * 240 + 3 * 180


def test_prices_that_nobody_wrote_are_said_below_the_answer(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    without = [line for line in UNIT.splitlines() if not line.startswith("prices:")]
    unit.write_text("\n".join(without))
    assert size(str(unit), "--vary", "kits") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Note No price is given for some items; invented ones decide what is cheapest" in said
    assert "cheapest: kit 1. Write yours" in said
    # only what varies decides; a price on the command line is the planner's own
    assert size(str(unit), "--vary", "kits", "--prices", "kit=7") == 0
    assert "No price is given" not in capsys.readouterr().out


def test_a_kit_cheaper_than_a_battery_is_doubted_on_the_command_line_too(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    doubt = (
        "The price of a kit is 100, less than a battery (240): check whether the two are swapped."
    )
    for prices, said in (("kit=100", [doubt]), ("kit=240,battery=240", [])):
        assert size(str(unit), "--json", "--vary", "kits", "--prices", prices) == 0
        notes = json.loads(capsys.readouterr().out)["notes"]
        assert [note for note in notes if "swapped" in note] == said


def test_confidence_budget_seed_and_anytime_reach_the_sizing(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ("--confidence", "80%", "--budget", "9000", "--seed", "7", "--anytime")
    assert size(str(unit), "--json", *asked) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["confidence"], answer["seed"]) == (pytest.approx(0.8), 7)
    assert answer["budget"]["budget"] == 9000 >= answer["budget"]["cost"]
    assert answer["evidence"][0]["test"] == "anytime"


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (("--vary", "kit."), "--vary: there is no 'kit.'.\n  Did you mean kits?"),
        (("--vary", "boots"), "--vary: there is no 'boots'.\n  Use any of kits"),
        (
            ("--vary", "kits,crew"),
            "--vary: more cleaners change nothing in unit.yaml: cleaning is "
            "by wearer, so no crew wipes kits down.\n  Leave crew out.",
        ),
        (("--hold", "hoods"), "`supplies` of unit.yaml names no hoods, so they never run out"),
        (("--vary", "bays,bays"), "--vary: names bays more than once."),
        (("--vary", "kits,bays,kits,batteries,bays"), "names kits, bays more than once"),
        (("--target", "wait=5min,wait=9min"), "wait is given more than once: '5min' and '9min'"),
        (("--target", "share-of-surges=70%,share_of_surges=80%"), "share_of_surges is given more"),
        (("--prices", "kit=7,battery=1,kit=7"), "kit is given more than once"),
        (("--target", "wiat=5min"), "Did you mean wait?"),
        (("--target", "wait=5"), "wait"),
        (("--prices", "kit"), "has no value"),
        (("--prices", "kit=-1"), "0 or more"),
        (
            ("--confidence", "100%"),
            "--confidence: is 100 %.\n  Use at least 50 % and less than 100 %",
        ),
        (("--budget", "nan"), "must be a plain number"),
        (("--within", "5 s"), "--anytime"),
    ],
)
def test_wrong_options_end_with_2_and_say_what_would_be_right(
    unit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], option: tuple[str, str],
    words: str,
) -> None:  # fmt: skip
    assert size(str(unit), *option) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert words in shown.err
    assert [path.name for path in tmp_path.iterdir() if path.is_dir() and any(path.iterdir())] == []


def test_a_budget_that_does_not_reach_the_target_says_so_and_ends_with_0(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """For 2,180 one kit, one battery and the three bays: nine entries in ten cannot be in time."""
    assert size(str(unit), "--budget", "2180", "--out", "found") == 0
    words = " ".join(capsys.readouterr().out.split())
    assert (
        "Budget 2,180 talers (invented) does NOT reach the target (the recommended stock" in words
    )
    assert "the best whole stock for it, what is in hand not counted, is 1 kit, 1 battery" in words
    budget = json.loads((unit.parent / "found/summary.json").read_text())["budget"]
    assert budget["reaches_target"] == "no" and budget["high"] < 0.8


def test_a_budget_below_what_is_held_fixed_says_that_it_buys_nothing(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three bays stay as they are and cost 540."""
    assert size(str(unit), "--budget", "400") == 0
    words = " ".join(capsys.readouterr().out.split())
    assert (
        "Budget 400 talers (invented) buys no stock: what is held fixed alone costs 540." in words
    )


def test_a_budget_is_answered_though_the_target_is_out_of_reach(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    unit.write_text(UNIT.replace("kits: 12,", "kits: 2,").replace("kits: 2, batt", "kits: 1, batt"))
    assert size(str(unit), "--budget", "5000") == 1
    said = " ".join(capsys.readouterr().err.split())
    assert "No stock within the limits keeps the target." in said
    assert "Budget: 5,000 talers (invented) does NOT reach the target: the best whole" in said


@pytest.mark.parametrize("as_json", [False, True])
@pytest.mark.parametrize(
    ("label", "confirmed", "words"),
    [
        ("where to look", False, "STOPPED before any answer was found."),
        ("choosing", False, "STOPPED, NOT CONFIRMED. Best so far: "),
        ("certifying", False, "It is an estimate from 40 simulated surges: do not plan on it."),
        ("one item more", True, "STOPPED. Confirmed so far, though a cheaper stock may do: "),
    ],
)
def test_a_stop_from_the_keyboard_leaves_the_best_so_far_and_no_folder(
    unit: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    label: str,
    confirmed: bool,
    words: str,
    as_json: bool,
) -> None:
    """The stop comes when a part of the work begins."""
    over = Watch.over

    def stopped(watch: Watch, place: Any, task: Any, numbers: Any, what: str) -> Any:
        if what == label:
            raise KeyboardInterrupt
        return over(watch, place, task, numbers, what)

    monkeypatch.setattr(Watch, "over", stopped)
    assert size(str(unit), "--out", "found", *(["--json"] if as_json else [])) == 130
    shown = capsys.readouterr()
    assert "surge-sim: stopped from the keyboard" in shown.err
    assert [path.name for path in unit.parent.iterdir()] == [unit.name]
    if as_json:
        answer = json.loads(shown.out)
        assert (answer["stopped"], answer["confirmed"]) == (True, confirmed)
        assert (answer["best_so_far"] is None) == (label == "where to look")
    else:
        assert words in " ".join(shown.out.split())
        assert shown.out.rstrip().endswith(CAUTION)


def test_a_target_out_of_reach_ends_with_1_and_its_reason(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a bay six batteries last hours, not days."""
    without = UNIT.replace("bays: 3}", "bays: 0}").replace("batteries: 20,", "batteries: 6,")
    unit.write_text(without)
    assert size(str(unit), "--out", "found") == 1
    shown = capsys.readouterr()
    assert shown.out == ""
    assert "\nNo results folder was written.\n" in shown.err
    assert [path.name for path in unit.parent.iterdir()] == [unit.name]
    assert "No stock within the limits keeps the target." in shown.err
    assert "--vary kits,batteries,bays" in shown.err
