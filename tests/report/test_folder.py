"""A result folder is there whole or not at all, and its place is tried before any work."""

import hashlib
import json
import os
import re
from pathlib import Path

import pandas as pd
import pytest

import surge_sim
from surge_sim.errors import ScenarioError
from surge_sim.report.figures import new_figure
from surge_sim.report.files import clear_own, whole_text_file
from surge_sim.report.folder import ResultFolder, result_folder
from surge_sim.scenario.load import Scenario
from tests.engine.tiny import PLAIN

FACTS = {"seed": 1, "surges": 2}
COMMAND = ["surge-sim", "run", "plain.yaml"]

needs_modes = pytest.mark.skipif(
    os.name != "posix" or os.geteuid() == 0, reason="this user may write everywhere"
)


LOG = "requested,room_minutes\n0,10\n5,10\n"


def scenario_at(folder: Path, name: str = "plain.yaml", log: str = "log.csv") -> Scenario:
    """A scenario that plays a log of two entries."""
    (folder / log).parent.mkdir(exist_ok=True)
    (folder / log).write_text(LOG)
    path = folder / name
    path.write_text(json.dumps({**PLAIN, "entries": {"from": log}}), encoding="utf-8")
    return surge_sim.load_scenario(path)


def inside(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def test_a_finished_folder_holds_its_files_and_how_they_were_made(tmp_path):
    scenario = scenario_at(tmp_path)
    place = tmp_path / "deep" / "down"
    with result_folder(place, scenario, COMMAND, FACTS) as folder:
        assert not place.exists()
        folder.write_text("answer.txt", "hello")
        folder.write_table("waits", pd.DataFrame({"a": [1 / 3, None]}))
    assert inside(place) == {
        "answer.txt", "columns.txt", "manifest.json", "scenario/log.csv", "scenario/plain.yaml",
        "scenario/plain_in_full.yaml", "tables/waits.csv",
    }  # fmt: skip
    assert (place / "answer.txt").read_text() == "hello\n"
    assert (place / "tables/waits.csv").read_text() == 'a\n0.333333\n""\n'
    manifest = json.loads((place / "manifest.json").read_text())
    assert manifest["command"] == COMMAND
    assert manifest["seed"] == 1
    assert manifest["scenario"]["sha256"] == scenario.sha256
    assert {"numpy", "numba", "simpy"} <= set(manifest["packages"])
    for name, checksum in manifest["sha256"].items():
        assert hashlib.sha256((place / name).read_bytes()).hexdigest() == checksum
    assert list(place.parent.iterdir()) == [place], "nothing half-written is left beside it"


def test_the_copy_of_the_scenario_is_the_very_same_bytes(tmp_path):
    path = tmp_path / "marked.yaml"
    scenario_at(tmp_path)
    text = json.dumps({**PLAIN, "entries": {"from": "log.csv"}}, indent=1)
    data = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    path.write_bytes(data)
    with result_folder(tmp_path / "out", surge_sim.load_scenario(path), COMMAND, FACTS):
        pass
    assert (tmp_path / "out/scenario/marked.yaml").read_bytes() == data


def test_the_copy_can_be_run_with_the_files_that_it_reads(tmp_path):
    scenario = scenario_at(tmp_path, log="logs/a.csv")
    with result_folder(tmp_path / "out", scenario, COMMAND, FACTS):
        pass
    again = surge_sim.load_scenario(tmp_path / "out/scenario/plain.yaml")
    assert again.sha256 == scenario.sha256
    assert again.inputs == scenario.inputs
    full = surge_sim.load_scenario(tmp_path / "out/scenario/plain_in_full.yaml").settings
    assert full.model_dump(exclude={"entries"}) == scenario.settings.model_dump(exclude={"entries"})


def test_a_scenario_that_was_changed_in_python_is_recorded_like_a_file_with_its_values(tmp_path):
    original = scenario_at(tmp_path)
    kits = original.settings.stock.kits
    with result_folder(
        tmp_path / "out", original.changed({"stock.kits": kits + 5}), COMMAND, FACTS
    ):
        pass
    for name in ("plain.yaml", "plain_in_full.yaml"):
        again = surge_sim.load_scenario(tmp_path / "out/scenario" / name)
        assert again.settings.stock.kits == kits + 5
        assert again.inputs == original.inputs
    assert surge_sim.load_scenario(tmp_path / "plain.yaml").settings.stock.kits == kits


def test_a_file_from_outside_the_scenarios_folder_stays_inside_the_results(tmp_path):
    (tmp_path / "near").mkdir()
    scenario = scenario_at(tmp_path / "near", log="../far/a.csv")
    with result_folder(tmp_path / "out", scenario, COMMAND, FACTS):
        pass
    copy = json.loads((tmp_path / "out/manifest.json").read_text())["copies"]["../far/a.csv"]
    assert re.fullmatch(r"scenario/from_elsewhere/[0-9a-f]{8}_a\.csv", copy)
    assert (tmp_path / "out" / copy).read_text() == LOG


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt])
def test_nothing_is_left_when_the_work_stops_half_way(tmp_path, error):
    scenario = scenario_at(tmp_path)
    before = inside(tmp_path)
    with (
        pytest.raises(error),
        result_folder(tmp_path / "new" / "out", scenario, COMMAND, FACTS) as folder,
    ):
        folder.write_text("answer.txt", "half")
        raise error
    assert inside(tmp_path) == before
    assert not (tmp_path / "new").exists()


def test_a_file_in_the_way_is_refused_and_kept(tmp_path):
    scenario = scenario_at(tmp_path)
    full = tmp_path / "full"
    full.mkdir()
    (full / "mine.txt").write_text("mine")
    file = tmp_path / "file"
    file.write_text("mine")
    for place, words in ((full, "not empty"), (file, "not a folder"), (file / "below", "is below")):
        with (
            pytest.raises(ScenarioError, match=words),
            result_folder(place, scenario, COMMAND, FACTS),
        ):
            pytest.fail("the work began")
    assert (full / "mine.txt").read_text() == file.read_text() == "mine"


def test_what_comes_to_the_place_during_the_work_is_kept_and_the_results_are_refused(tmp_path):
    scenario, place = scenario_at(tmp_path), tmp_path / "out"
    with (
        pytest.raises(ScenarioError, match=r"out: cannot be written: directory not empty"),
        result_folder(place, scenario, COMMAND, FACTS),
    ):
        place.mkdir()
        (place / "mine.txt").write_text("mine")
    assert inside(place) == {"mine.txt"}
    assert not list(tmp_path.glob("*.partial"))


def test_an_empty_folder_is_used(tmp_path):
    scenario = scenario_at(tmp_path)
    (tmp_path / "empty").mkdir()
    with result_folder(tmp_path / "empty", scenario, COMMAND, FACTS):
        pass
    assert (tmp_path / "empty/manifest.json").is_file()


@needs_modes
def test_a_place_that_cannot_be_written_is_refused_before_the_work(tmp_path):
    scenario = scenario_at(tmp_path)
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o555)
    with (
        pytest.raises(ScenarioError, match="permission denied"),
        result_folder(shut / "out", scenario, COMMAND, FACTS),
    ):
        pytest.fail("the work began")


def test_without_a_place_each_run_gets_one_with_name_time_and_hash(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    scenario = scenario_at(tmp_path, "winter ward.yaml")
    for _ in range(2):
        with result_folder(None, scenario, COMMAND, FACTS):
            pass
    names = sorted(path.name for path in Path("results").iterdir())
    assert len(names) == 2, "a second run in the same second has its own"
    for name in names:
        assert re.fullmatch(r"winter_ward_\d{8}T\d{6}Z_[0-9a-f]{8}(_2)?", name)


def test_runs_that_begin_in_the_same_second_get_folders_of_their_own(tmp_path, monkeypatch):
    """Of three that run together, at least two begin within a second."""
    scenario = scenario_at(tmp_path)
    monkeypatch.chdir(tmp_path)
    with (
        result_folder(None, scenario, COMMAND, FACTS) as one,
        result_folder(None, scenario, COMMAND, FACTS) as two,
        result_folder(None, scenario, COMMAND, FACTS) as three,
    ):
        pass
    places = {one.place, two.place, three.place}
    assert len(places) == 3
    assert all((place / "manifest.json").is_file() for place in places)
    assert set((tmp_path / "results").iterdir()) == {tmp_path / place for place in places}


@pytest.mark.skipif(os.name == "nt", reason="no locks there")
def test_of_two_runs_with_the_same_place_the_later_is_refused_before_its_work(tmp_path):
    """Another place beside it, and the same one after the first has ended, are free."""
    scenario = scenario_at(tmp_path)
    with (
        result_folder(tmp_path / "out", scenario, COMMAND, FACTS),
        whole_text_file(tmp_path / "out.csv") as rows,
    ):
        for again in (
            result_folder(tmp_path / "out", scenario, COMMAND, FACTS),
            whole_text_file(tmp_path / "out.csv"),
        ):
            with pytest.raises(ScenarioError, match="is being written by another run"), again:
                pytest.fail("the work began")
        with result_folder(tmp_path / "out.1", scenario, COMMAND, FACTS):
            pass
        rows.write("first")
    assert (tmp_path / "out/manifest.json").is_file()
    assert (tmp_path / "out.csv").read_text() == "first"
    with whole_text_file(tmp_path / "out.csv") as rows:
        rows.write("second")
    assert (tmp_path / "out.csv").read_text() == "second"


def test_a_run_that_ends_at_once_leaves_no_folder_that_it_made(tmp_path):
    """`results` was there before, with nothing in it; `results/a` was made on the way."""
    (tmp_path / "results").mkdir()
    scenario = scenario_at(tmp_path)
    place = tmp_path / "results/a/out"
    with (
        pytest.raises(KeyboardInterrupt),
        result_folder(place, scenario, COMMAND, FACTS) as folder,
    ):
        folder.write_text("answer.txt", "half")
        assert list((tmp_path / "results/a").iterdir()) == [folder.building]
        clear_own()
        assert list((tmp_path / "results").iterdir()) == []
        raise KeyboardInterrupt


def test_a_text_file_is_replaced_only_by_a_whole_one(tmp_path):
    path = tmp_path / "rows.csv"
    path.write_text("old")
    with pytest.raises(KeyboardInterrupt), whole_text_file(path) as stream:
        stream.write("half")
        raise KeyboardInterrupt
    assert path.read_text() == "old"
    with whole_text_file(path) as stream:
        stream.write("new\n")
        assert path.read_text() == "old"
    assert path.read_bytes() == b"new\n"
    assert list(tmp_path.iterdir()) == [path]


def test_a_text_file_that_cannot_be_is_refused_at_once(tmp_path):
    for place in (tmp_path, tmp_path / "no such" / "rows.csv"):
        with pytest.raises(ScenarioError), whole_text_file(place):
            pytest.fail("the work began")


def test_letters_without_a_shape_are_told_once_and_not_by_the_library(tmp_path, recwarn):
    table = pd.DataFrame({"day": [1.0]})
    folder = ResultFolder(tmp_path, tmp_path, "\u5916\u79d1 unit")
    folder.write_figure("one", new_figure(), table)
    assert [str(one.message) for one in recwarn] == []
    assert folder.result_lines.endswith("shows some characters as empty boxes.")
    plain = ResultFolder(tmp_path, tmp_path, "a unit")
    plain.write_figure("two", new_figure(), table)
    assert plain.result_lines == f"results: {tmp_path}"
