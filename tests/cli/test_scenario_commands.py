"""new, check and schema, as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from surge_sim.cli.main import cli
from surge_sim.scenario.load import scenario_from_text
from tests.scenario.base import BASE, changed


@pytest.fixture
def run():
    def invoke(*arguments):
        return CliRunner().invoke(cli, [str(argument) for argument in arguments])

    return invoke


def test_new_writes_a_scenario_that_check_takes(run, tmp_path):
    path = tmp_path / "ward.yaml"
    answer = run("new", path)
    assert answer.exit_code == 0
    assert "surge-sim check" in answer.output
    checked = run("check", path)
    assert checked.exit_code == 0
    assert "Average number in use" in checked.output
    assert "no faults in it, no warnings" in checked.output


def test_new_names_a_source_beside_every_value(run, tmp_path):
    """Every line with a value says invented, a choice, or a source, or the line next to it does."""
    run("new", tmp_path / "ward.yaml")
    text = (tmp_path / "ward.yaml").read_text("utf-8")
    for source in ("Lippincott", "42 CFR 84.175", "29 CFR 1910.134(h)(3)", "CDC/HICPAC", "NIOSH",
                   "common practice, no source", "(invented)"):  # fmt: skip
        assert source in text


def test_new_never_overwrites(run, tmp_path):
    path = tmp_path / "ward.yaml"
    path.write_text("mine")
    answer = run("new", path)
    assert answer.exit_code == 2
    assert "is there already" in answer.output
    assert path.read_text() == "mine"


def test_new_where_nothing_can_be_written_says_so(run, tmp_path):
    answer = run("new", tmp_path / "no" / "such" / "folder.yaml")
    assert answer.exit_code == 2
    assert "cannot be written" in answer.output


def test_new_without_a_name_writes_scenario_yaml(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("new").exit_code == 0
    assert Path("scenario.yaml").exists()


def test_check_lists_every_fault_and_exits_2(run, tmp_path):
    path = tmp_path / "ward.yaml"
    path.write_text(
        changed(("pre_use_check: 1 min", "pre_use_check: 1"), ("horizon: 14 d", "horizon: 14"))
    )
    answer = run("check", path)
    assert answer.exit_code == 2
    assert f"{path}:3: horizon is '14'." in answer.output
    assert f"{path}:13: kit.pre_use_check is '1'." in answer.output


def test_check_prints_a_scenario_with_its_defaults_that_reads_back_the_same(run, tmp_path):
    path = tmp_path / "ward.yaml"
    path.write_text(BASE)
    answer = run("check", "--defaults", path)
    assert scenario_from_text(answer.output).settings == scenario_from_text(BASE).settings


def test_check_json_prints_one_object(run, tmp_path):
    path = tmp_path / "ward.yaml"
    path.write_text(BASE)
    answer = json.loads(run("check", "--json", "--defaults", path).output)
    assert answer["scenario"] == "ward"
    assert "constant_current_to: 80 %" in answer["full_form"]


def test_schema_prints_a_json_schema(run):
    schema = json.loads(run("schema").output)
    jsonschema.Draft202012Validator.check_schema(schema)
    assert set(schema["required"]) >= {"title", "start", "horizon", "kit", "stock", "target"}


def test_whether_a_scenario_can_be_read_is_told_by_its_reader_like_any_other_fault(
    run, tmp_path, monkeypatch
):
    """Nobody asks the system beforehand, and tells it in other words."""
    (tmp_path / "a.yaml").write_text(BASE)
    monkeypatch.setattr("os.access", lambda *_, **__: False)
    assert run("check", tmp_path / "a.yaml").exit_code == 0
