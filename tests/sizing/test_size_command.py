"""``surge-sim size`` on a small invented unit, from the file to screen, JSON and folder."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.cli.main import exit_code_of
from surge_sim.equipment.stock import Stock
from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario
from surge_sim.sizing.player import Work
from surge_sim.sizing.size import size as sized
from tests.report.test_figures import figures_without_their_table

UNIT = """
title: Two days of a small unit (invented)
question: How many kits and batteries does it need?
note: An invented unit in a place that does not exist.
start: 2031-03-03 07:00
horizon: 2 d
arrivals: {baseline: 4 per day, initial_census: 4}
classes:
  ward:
    share: 100 %
    length_of_isolation: {shape: exponential, mean: 1 d}
    entries: {nurse: 12 per day}
roles:
  nurse: {room_time: {shape: gamma, mean: 15 min, cv: 60 %}}
kit:
  pre_use_check: 1 min
  don: 3 min
  doff: 3 min
  levels: [{flow: 180 L/min, run_time: 4 h}]
batteries: {charge_time: 2 h, minimum_run_time: 40 min, low_battery_alarm: 5 min,
  end_of_charge: straight,
  issued: fullest}
cleaning: {by: wearer, wipe_down: 5 min, contact_time: 2 min, drying_time: 10 min}
stock: {kits: 2, batteries: 3, bays: 3}
prices: {currency: talers (invented), kit: 1400, battery: 240, charger: 180}
limits: {kits: 12, batteries: 20, bays: 6}
target: {wait: 5 min, service_level: 90 %, share_of_surges: 80 %}
sources: {arrivals: invented}
"""
PARTS = """
failures: {hood_damage: 20 %}
supplies: {hoods: {spare: 2, reorder_point: 1, order_quantity: 1, lead_time: 5 d}}
"""
CREW = {
    "by: wearer,": "by: crew, crew: [{start: 07:00, end: 19:00, cleaners: 0}, "
    "{start: 19:00, end: 07:00, cleaners: 0}],",
    "charger: 180": "charger: 180, cleaner: 500",
}


@pytest.fixture
def unit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario file in a folder of its own, which is also the working folder."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "unit.yaml"
    path.write_text(UNIT)
    return path


def size(*arguments: str) -> int:
    return exit_code_of(
        ["size", *arguments, "--choose", "40", "--surges", "100", "--processes", "1"]
    )


def flat(text: str) -> str:
    return " ".join(text.split())


def test_the_answer_is_a_screen_and_a_folder(
    unit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert size(str(unit), "--out", "found") == 0
    shown = capsys.readouterr()
    lines = shown.out.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[2].startswith("Buy ")
    assert "then 90 % of entries wait 5 min or less in" in flat(shown.out)
    assert len(lines) <= 24 and "\nnothing " in shown.out
    assert flat(shown.out).endswith(CAUTION_IN_SHORT)
    said = (flat(shown.out).replace(CAUTION_IN_SHORT, "") + shown.err).lower()
    for word in ("protect", "safe", "certif"):
        assert word not in said
    assert shown.err.startswith("First look, do not order yet: add ") or "Compiling" in shown.err
    assert "\nSo far confirmed, in " in shown.err
    folder = tmp_path / "found"
    whole = (folder / "answer.txt").read_text()
    assert "In hand " in whole and "Least cost " in whole
    assert set(re.findall(r"[\d,.]+", shown.out)) <= set(re.findall(r"[\d,.]+", whole))
    assert (folder / "figures" / "stages.png").stat().st_size > 10_000
    assert figures_without_their_table(folder) == []
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["recommended"]["verdict"] == "confirmed"
    assert json.loads((folder / "manifest.json").read_text())["seed"] == 1


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


@pytest.mark.usefixtures("undrawn")
def test_target_and_prices_of_the_command_line_are_those_of_the_folder_and_of_python(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target, prices = "wait=10min,share_of_surges=70%", "kit=7"
    assert size(str(unit), "--json", "--only", "kits", "--prices", prices, "--target", target,
                "--out", "found") == 0  # fmt: skip
    answer = json.loads(capsys.readouterr().out)
    assert answer["searched"] == ["kits"]
    assert (answer["target"]["wait_minutes"], answer["target"]["share_of_surges"]) == (10, 0.7)
    best = answer["recommended"]
    assert (best["batteries"], best["bays"]) == (3, 3)
    assert best["cost"] == 7 * (best["kits"] - 2) and answer["prices"]["kit"] == 7
    full = unit.parent / "found/scenario/unit_in_full.yaml"
    again = load_scenario(full).settings
    assert (again.target.wait, again.prices.kit) == (600, 7)
    result = sized(
        load_scenario(unit), vary="kits", target={"wait": "10min", "share_of_surges": "70%"},
        prices={"kit": 7}, stock=(2, 3, 3), choose=40, surges=100, processes=1,
    )  # fmt: skip
    assert result.recommended == Stock(best["kits"], 3, 3)


@pytest.mark.slow
@pytest.mark.usefixtures("undrawn")
def test_an_empty_store_is_sized_without_what_is_owned(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = []
    for option in ((), ("--new",)):
        assert size(str(unit), "--json", *option) == 0
        answers.append(json.loads(capsys.readouterr().out))
    hand, empty = answers
    assert (empty["in_hand"]["kits"], empty["in_hand"]["cost"]) == (0, 0)
    assert empty["recommended"]["cost"] >= 1400 * 2 > 0
    assert hand["recommended"]["kits"] >= 2 and hand["recommended"]["batteries"] >= 3


@pytest.mark.usefixtures("undrawn")
def test_what_is_owned_and_enough_asks_for_nothing(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    unit.write_text(UNIT.replace("{kits: 2, batteries: 3", "{kits: 9, batteries: 15"))
    assert size(str(unit)) == 0
    assert "Buy nothing: with the stock in hand 90 % of entries" in flat(capsys.readouterr().out)


@pytest.mark.slow
@pytest.mark.usefixtures("undrawn")
def test_parts_alone_are_bought_where_they_would_do(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nine kits are enough; hoods run out, and no kit is bought for the hood that is in it."""
    enough = UNIT.replace("{kits: 2, batteries: 3", "{kits: 9, batteries: 15")
    unit.write_text(enough.replace("charger: 180", "charger: 180, hood: 30") + PARTS)
    assert size(str(unit), "--json", "--out", "found") == 0
    answer = json.loads(capsys.readouterr().out)
    best = answer["recommended"]
    assert best["kits"] == 9 and best["extra_hoods"] > 0
    assert best["cost"] == 30 * best["extra_hoods"] == best["purchase"]
    (hoods,) = answer["parts"]
    assert hoods["on_shelf_recommended"] == 2 + best["extra_hoods"]
    assert hoods["reorder_point"] == 1 + best["extra_hoods"]
    assert hoods["surges_short_in_hand"] > hoods["surges_short"]
    assert answer["cause_of_waiting_in_hand"][0]["reduced_by"] == "hoods"
    assert "hoods on the shelf; reorder points" in (unit.parent / "found/answer.txt").read_text()


@pytest.mark.slow
@pytest.mark.usefixtures("undrawn")
def test_cleaners_are_said_in_hours_and_paid_for_each_surge(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody cleans: one cleaner on every shift, two days of 24 hours, and a few kits."""
    text = UNIT
    for old, new in CREW.items():
        text = text.replace(old, new)
    unit.write_text(text)
    assert size(str(unit), "--out", "found") == 0
    said = flat(capsys.readouterr().out)
    best = json.loads((unit.parent / "found/summary.json").read_text())["recommended"]
    cleaners = best["extra_cleaners"]
    assert cleaners >= 1 and best["paid_per_surge"] == 500 * cleaners
    assert f"{cleaners} more cleaner" in said and f"; {48 * cleaners} hours)" in said
    assert f"for {500 * cleaners} a surge" in said


@pytest.mark.slow
@pytest.mark.usefixtures("undrawn")
def test_money_to_spend_buys_what_it_can_and_says_what_is_missing(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert size(str(unit), "--spend", "1700", "--out", "found") == 0
    said = flat(capsys.readouterr().out)
    assert "For the money best use of 1,700 found: buy" in said and "the answer above takes" in said
    summary = json.loads((unit.parent / "found/summary.json").read_text())
    assert 0 < summary["spend"]["purchase"] <= 1700
    assert size(str(unit), "--spend", "90000", "--json") == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["spend"]["verdict"] == "confirmed"
    assert answer["spend"]["cost"] >= answer["recommended"]["cost"]


def test_money_is_answered_though_the_target_is_out_of_reach(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    unit.write_text(UNIT.replace("kits: 12,", "kits: 2,").replace("kits: 2, batt", "kits: 1, batt"))
    assert size(str(unit), "--spend", "500", "--only", "kits,batteries", "--out", "found") == 1
    shown = capsys.readouterr()
    assert shown.out == "" and not (unit.parent / "found").exists()
    said = flat(shown.err)
    assert "no stock within the limits meets the target." in said
    assert "The best use of 500 found is " in said and "No results folder was written." in said


@pytest.mark.usefixtures("undrawn")
def test_prices_that_nobody_wrote_are_said_below_the_answer(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    without = [line for line in UNIT.splitlines() if not line.startswith("prices:")]
    unit.write_text("\n".join(without))
    assert size(str(unit), "--only", "kits") == 0
    assert "Warning: No price is given for some items" in flat(capsys.readouterr().out)


@pytest.mark.slow
@pytest.mark.usefixtures("undrawn")
def test_a_kit_cheaper_than_a_battery_is_doubted_on_the_command_line_too(
    unit: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for prices, said in (("kit=100", 1), ("kit=240,battery=240", 0)):
        assert size(str(unit), "--json", "--only", "kits", "--prices", prices) == 0
        notes = json.loads(capsys.readouterr().out)["notes"]
        assert len([note for note in notes if "swapped" in note]) == said


@pytest.mark.parametrize(
    ("option", "words"),
    [
        (("--only", "kit."), "--only: there is no 'kit.'.\n  Did you mean kits?"),
        (("--only", "boots"), "--only: there is no 'boots'.\n  Use any of kits"),
        (("--only", "kits,cleaners"), "cleaning in unit.yaml is by wearer, so no crew wipes kits"),
        (("--only", "hoods"), "`supplies` of unit.yaml names no hoods, so they never run out"),
        (("--only", "bays,bays"), "--only: names bays more than once."),
        (("--only", ","), "--only: names nothing."),
        (("--target", "wait=5min,wait=9min"), "wait is given more than once: '5min' and '9min'"),
        (("--target", "share-of-surges=70%,share_of_surges=80%"), "share_of_surges is given more"),
        (("--prices", "kit=7,battery=1,kit=7"), "kit is given more than once"),
        (("--target", "wiat=5min"), "Did you mean wait?"),
        (("--target", "wait=5"), "wait"),
        (("--prices", "kit"), "has no value"),
        (("--prices", "kit=-1"), "It must be at least 0"),
        (("--confidence", "100%"), "--confidence: is 100 %.\n  Use at least 50 % and less than"),
        (("--spend", "nan"), "must be a plain number"),
        (("--spend", "0"), "--spend: is 0.\n  Use more than 0."),
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


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"surges": 20}, "is 20, too few to show 80 %"),
        ({"choose": 5}, r"--choose: is 5\.\n  Use at least 20\."),
        ({"stock": "many"}, "is no stock"),
        ({"target": 5}, "cannot be used"),
        ({"prices": {"boots": 3}}, "there is no 'boots'"),
    ],
)
def test_python_says_in_a_sentence_what_is_wrong(
    unit: Path, asked: dict[str, Any], words: str
) -> None:
    with pytest.raises(ScenarioError, match=words):
        sized(load_scenario(unit), **{"choose": 40, "surges": 100, "processes": 1, **asked})


@pytest.mark.parametrize("as_json", [False, True])
@pytest.mark.parametrize(
    ("label", "confirmed", "words"),
    [
        ("what surges need", False, "Stopped before any answer was found."),
        ("candidate", False, "Stopped. First look, do not order yet: add "),
        ("least cost", True, "Stopped. So far confirmed, in "),
    ],
)
def test_a_stop_from_the_keyboard_leaves_the_best_so_far_and_no_folder(
    unit: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, label: str,
    confirmed: bool, words: str, as_json: bool,
) -> None:  # fmt: skip
    """The stop comes when a part of the work begins."""
    call = Work.__call__

    def stopped(work: Work, task: Any, numbers: Any, what: str) -> Any:
        if what == label:
            raise KeyboardInterrupt
        return call(work, task, numbers, what)

    monkeypatch.setattr(Work, "__call__", stopped)
    assert size(str(unit), "--out", "found", *(["--json"] if as_json else [])) == 130
    shown = capsys.readouterr()
    assert "stopped from the keyboard" in shown.err
    assert [path.name for path in unit.parent.iterdir()] == [unit.name]
    if as_json:
        answer = json.loads(shown.out)
        assert (answer["stopped"], answer["confirmed"]) == (True, confirmed)
        assert (answer["best_so_far"] is None) == (label == "what surges need")
    else:
        assert words in flat(shown.out)
