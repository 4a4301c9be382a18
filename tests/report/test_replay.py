"""A replayed log is one recorded period: no confidence comes of playing it again."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.demand.replay import replay_of
from surge_sim.report.check_answer import check_answer
from surge_sim.report.sizing_so_far import so_far_words
from surge_sim.report.terminal import render
from surge_sim.scenario.load import Scenario, load_scenario
from surge_sim.sizing.player import Watch
from surge_sim.sizing.size import size
from surge_sim.statistics.run import run
from tests.demand.ward import scenario as ward
from tests.engine.tiny import PLAIN, merged

PERIOD = "One recorded period, replayed; random variation is not covered."
ALIKE = f"{PERIOD} Its entries are fixed and nothing else is random, so it is simulated once."
WIPES = {"cleaning": {"wipe_down": {"shape": "lognormal", "mean": "2 min", "cv": "50 %"}}}
UNIT = {
    **PLAIN,
    "entries": {"from": "log.csv"},
    "prices": {"currency": "talers (invented)", "kit": "1000", "battery": "200", "charger": "100"},
    "limits": {"kits": "6", "batteries": "6", "bays": "2"},
}


@pytest.fixture
def logged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Two entries of 20 min, due at minutes 0 and 5, of a unit with one kit and one battery."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "log.csv").write_text("requested,room_minutes\n0,20\n5,20\n")

    def made(**changes) -> Path:
        path = tmp_path / "two.yaml"
        path.write_text(json.dumps(merged(UNIT, changes)))
        return path

    return made


def limits_in(answer: object) -> list[object]:
    """Every limit in plain values."""
    if isinstance(answer, list):
        return [limit for one in answer for limit in limits_in(one)]
    if not isinstance(answer, dict):
        return []
    mine = [answer[name] for name in ("low", "high") if name in answer]
    return mine + [limit for one in answer.values() for limit in limits_in(one)]


def results(path: Path, command: str, *options: str) -> tuple[dict, str]:
    """Run a command; return its summary and its screen."""
    assert exit_code_of([command, str(path), "--out", "out", "--processes", "1", *options]) == 0
    out = path.parent / "out"
    return json.loads((out / "summary.json").read_text()), (out / "answer.txt").read_text()


def flat(text: str) -> str:
    return " ".join(text.split())


def check(scenario: Scenario) -> str:
    return flat(render(check_answer(scenario, full=True)))


def test_a_log_in_which_nothing_is_random_is_played_once_and_has_no_limits(logged):
    """The second entry waits from minute 5 until the only kit comes back at minute 20."""
    path = logged()
    answer, screen = results(path, "run", "--surges", "50", "--engine", "reference")
    assert answer["surges"] == 1
    assert answer["replay"] == {
        "log": "log.csv", "recorded_periods": 1, "replications": 1,
        "drawn_for_each_replication": [], "covers": ALIKE,
    }  # fmt: skip
    assert answer["wait_minutes"]["max"]["estimate"] == 15
    assert answer["confidence"] is None
    assert set(limits_in(answer)) == {None}
    assert ALIKE in flat(screen)
    assert "the service target is NOT met in this recorded period. " in flat(screen)
    assert "Hours of waiting in the period 0.25" in flat(screen)
    for word in ("interval", "1 surge in 10", "per surge"):
        assert word not in screen, word

    out = path.parent / "out"
    assert json.loads((out / "manifest.json").read_text())["surges"] == 1
    assert flat((out / "columns.txt").read_text()).startswith(f"{ALIKE} Where a column speaks of")
    assert not (out / "figures" / "spread_of_surges.png").exists()
    for table in out.glob("*/*.csv"):
        if table.parent.name == "scenario":
            continue
        read = pd.read_csv(table)
        limits = [name for name in read.columns if name.split("_")[-1] in ("low", "high")]
        assert read[limits].isna().all(axis=None), table.name


@pytest.mark.usefixtures("undrawn")
def test_what_is_still_random_is_said_and_plays_are_counted_as_plays(logged):
    answer, screen = results(logged(**WIPES), "run", "--surges", "30", "--engine", "reference")
    assert answer["replay"]["drawn_for_each_replication"] == ["wipe-down times"]
    assert (answer["surges"], answer["confidence"]) == (30, None)
    assert set(limits_in(answer)) == {None}
    said = "Its entries are fixed; drawn anew for each of 30 replications: wipe-down times."
    assert f"{PERIOD} {said}" in flat(screen)
    verdict = "the service target is NOT met in this recorded period: 95 % of entries wait 5 min "
    assert f"{verdict}or less in 0 of 30 replications; 90 % of replications are asked for" in flat(
        screen
    )
    assert "per replication" in screen
    assert "interval" not in screen


def test_drawn_surges_keep_their_limits_and_say_nothing_of_a_period():
    """What is left out for a recorded period is there for drawn surges."""
    result = run(ward(), surges=12, processes=1)
    assert result.replay is None
    assert result.service_level.low is not None
    assert "recorded" not in repr(result)


def test_size_finds_the_cheapest_stock_for_the_recorded_period_by_one_play_each(logged):
    """Both entries are in a room at once from minute 5 to 20: two kits and two batteries, of
    which either alone makes the second entry wait 15 minutes.
    """
    answer, screen = results(logged(), "size")
    best = answer["recommended"]
    assert (best["kits"], best["batteries"], best["bays"]) == (2, 2, 1)
    assert answer["least_cost"]["low"] == answer["least_cost"]["high"] == best["cost"]
    assert best["verdict"] == "confirmed"
    assert {one["surges"] for one in answer["tested"]} == {1}
    assert answer["surges_choosing"] == answer["most_new_surges"] == 1
    assert answer["confidence"] is None
    assert answer["replay"]["covers"] == ALIKE
    assert answer["target"]["share_of_surges"] == 0.9
    assert ALIKE in flat(screen)
    assert "on this one period: the target is met." in flat(screen)
    for words in ("confidence", "new simulated surges", " of 1 "):
        assert words not in screen, words
    assert flat(Path("out/columns.txt").read_text()).startswith(ALIKE)
    manifest = json.loads(Path("out/manifest.json").read_text())
    assert (manifest["choose"], manifest["surges"]) == (1, 1)
    assert {path.name for path in Path("out/figures").iterdir()} == {"stages.png", "stages.csv"}


@pytest.mark.parametrize(
    ("spend", "said"),
    [
        ("100", "buy nothing for 0 talers (invented). It misses the target; the answer above"),
        ("5000", "it is met in the recorded period; nothing dearer was tested."),
    ],
)  # fmt: skip
def test_what_so_much_money_does_in_a_period_played_once_is_told_without_shares(
    logged, spend, said
):
    answer, screen = results(logged(), "size", "--spend", spend)
    told = flat(screen).partition("For the money ")[2].partition("Not covered")[0]
    assert said in told
    assert "replication" not in told and " % of" not in told
    assert {one["verdict"] for one in answer["tested"]} == {"confirmed", "not met"}


@pytest.mark.usefixtures("undrawn")
def test_a_sizing_of_plays_that_differ_claims_nothing_of_other_periods(logged):
    answer, screen = results(logged(**WIPES), "size", "--choose", "20", "--surges", "100")
    assert answer["recommended"]["kits"] == 2
    assert answer["confidence"] is None
    said = flat(screen)
    assert (
        f"{PERIOD} Its entries are fixed; drawn anew for each replication: wipe-down times." in said
    )
    assert "on this one period: the target is met in" in said
    assert "Not covered any other period" in said
    assert "confidence" not in screen
    result = size(load_scenario(logged(**WIPES)), choose=20, surges=100, processes=1)
    assert "random variation is not covered" in repr(result)
    assert "confidence" not in repr(result)


def test_a_sizing_for_a_log_with_recorded_waits_asks_first_whether_the_model_reproduces_them(
    logged,
):
    path = logged()
    asked = "before you use this answer, see whether `surge-sim run` reproduces them"
    assert asked not in " ".join(results(path, "size")[1].split())
    shutil.rmtree(path.parent / "out")
    (path.parent / "log.csv").write_text("requested,room_minutes,wait_minutes\n0,20,0\n5,20,15\n")
    assert asked in " ".join(results(path, "size")[1].split())


def test_a_recorded_period_that_no_stock_serves_is_told_without_counts(logged, capsys):
    """With one kit at most the second entry waits 15 minutes whatever else there is."""
    path = logged(limits={"kits": "1"})
    assert exit_code_of(["size", str(path), "--processes", "1"]) == 1
    said = capsys.readouterr().err
    assert "the recorded period misses it too" in said
    assert "With plenty, people still wait for: kit" in said
    assert PERIOD in said


@pytest.mark.usefixtures("undrawn")
def test_the_table_of_stages_is_read_by_limits_and_means_only_where_there_are_several_plays(logged):
    means, limits = "means that a few bad ones raise", "Confirmed: the lower limit is at"
    _, alike = results(logged(), "size")
    assert "on the Worst day: of that one period. Confirmed: the target is met." in flat(alike)
    assert means not in flat(alike) and limits not in flat(alike)
    shutil.rmtree("out")
    _, differing = results(logged(**WIPES), "size", "--surges", "100")
    assert means in flat(differing) and limits in flat(differing)


@pytest.mark.usefixtures("undrawn")
def test_the_target_names_surges_only_where_there_are_any(logged):
    """Nine plays of ten must keep it where plays differ; one play just keeps it, or does not."""
    entries = "95 % of entries wait 5 min or less"
    for command, said, asked in (
        ("run", f"Service target {entries}", "90 % of replications are asked for"),
        ("size", f"then {entries} in the recorded period", f"then {entries} in at least 9 of 10"),
    ):
        _, alike = results(logged(), command)
        assert said in flat(alike)
        shutil.rmtree("out")
        _, differing = results(logged(**WIPES), command, "--surges", "100")
        assert asked in flat(differing)
        shutil.rmtree("out")


def test_check_says_that_a_log_is_one_period_and_what_is_drawn(logged):
    said = check(load_scenario(logged(**WIPES)))
    assert (
        f"{PERIOD} Its entries are fixed; drawn anew for each replication: wipe-down times." in said
    )
    assert PERIOD not in check(ward())
    assert "Target in 90 % of replications, 95 % of entries wait 5 min or less" in said
    assert "Target 95 % of entries wait" in check(load_scenario(logged()))


@pytest.mark.parametrize("changes", [{}, WIPES])
def test_the_best_so_far_of_a_period_is_told_without_surges(logged, changes):
    told = []
    scenario = load_scenario(logged(**changes))
    size(scenario, choose=20, surges=100, processes=1, watch=Watch(best=told.append))
    assert told[-1].confirmed
    words = {so_far_words(one, "talers", replay_of(scenario)) for one in told}
    assert all(one.startswith("Found by playing the one recorded period") for one in words)
