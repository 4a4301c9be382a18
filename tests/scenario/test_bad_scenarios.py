"""Every bad scenario gives exactly the message that stands beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario, scenario_from_text
from tests.scenario.base import BASE

BAD = sorted((Path(__file__).parent.parent / "bad_scenarios").glob("*.yaml"))


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_a_bad_scenario_is_told_what_is_wrong_where_and_what_would_be_right(path):
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(path.read_text("utf-8"), path.stem, path.parent)
    assert f"{error.value}\n" == path.with_suffix(".txt").read_text("utf-8")
    for fault in error.value.faults:
        assert fault.found.endswith(".")
        assert fault.right.endswith((".", "?"))
        assert fault.file == path.name


def test_there_are_many_bad_scenarios_and_each_has_its_message():
    assert len(BAD) >= 30
    assert {path.stem for path in BAD} == {path.stem for path in BAD[0].parent.glob("*.txt")}


def test_the_scenario_that_they_were_made_from_is_good():
    """Else they would all be bad for the same reason."""
    assert scenario_from_text(BASE).warnings == ()


@pytest.mark.parametrize(
    "data",
    [
        b"\xff\xfe\x00title: x",
        b"title: \x00",
        b"[" * 5000,
        b"{a: " * 5000,
        b"- " * 5000,
        b"a: " + b"x" * 2_000_000,
        b"? [a, b]\n: c\n",
        b"%YAML 9.9\n---\na: b\n",
        b"<<: {a: b}\n",
        b"a: &a [*a]\n",
        b"a: |\n  text\n b: c",
        b"- one\n- two\n",
        b"''",
        b"null",
        b"\xef\xbb\xbftitle: x\n",
    ],
    ids=range(15),
)
def test_a_hostile_file_is_a_fault_and_never_a_traceback(tmp_path, data):
    path = tmp_path / "hostile.yaml"
    path.write_bytes(data)
    with pytest.raises(ScenarioError):
        load_scenario(path)


def test_a_missing_file_and_a_folder_are_faults(tmp_path):
    for path in (tmp_path / "none.yaml", tmp_path):
        with pytest.raises(ScenarioError) as error:
            load_scenario(path)
        assert "cannot be read" in str(error.value)
