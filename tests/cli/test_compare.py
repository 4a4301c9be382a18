"""``surge-sim compare`` as it is typed: answers, what each has to add, and faults."""

from __future__ import annotations

import json

import pytest

from surge_sim import scenario_from_text, size
from tests.conftest import ROOT

EXPOSURE = ROOT / "scenarios" / "exposure_cluster.yaml"
KIT = "own kit: policy.kit=held for a shift"


def compare(program, *options):
    return program("compare", EXPOSURE, "--surges", "12", "--processes", "1", *options)


@pytest.mark.slow
def test_the_answer_fits_a_screen(program, tmp_path):
    done = compare(program, "--with", KIT, "--usual", "--out", "out")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    # title, answer and the table are seen at once; what has no room there stands in the folder
    assert any(line.startswith("if allowed: own kit") for line in lines[:24])
    whole = (tmp_path / "out" / "answer.txt").read_text("utf-8")
    assert "\none charger more" in whole
    assert not list(tmp_path.glob("*unfinished"))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["exposure_cluster", "rule_out_unit"])
def test_the_usual_alternatives_fit_a_terminal(program, name):
    """100 surges: fewer bring a warning of their own."""
    file = ROOT / "scenarios" / f"{name}.yaml"
    done = program("compare", file, "--usual", "--surges", "100", "--out", "out")
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    # the last one says where the results are
    assert len(lines) - 1 <= 24
    assert "Where manufacturer's instructions" in " ".join(done.stdout.split())


@pytest.mark.slow
def test_own_alternatives_stand_before_the_usual_ones(program):
    """However little they change, as here one kit more does."""
    own = [word for n in (1, 2, 3) for word in ("--with", f"own {n}: stock.kits={32 + n}")]
    done = compare(program, *own, "--usual", "--out", "out")
    lines = done.stdout.splitlines()
    table = lines[next(n for n, line in enumerate(lines) if line.startswith("as it is")) + 1 :]
    assert {line[:5] for line in table[:3]} == {"own 1", "own 2", "own 3"}
    assert table[3][:4] not in ("own ", "")


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
def test_each_alternative_is_sized_as_it_would_be_alone(program, tmp_path):
    """A day with few things to choose from, so that a sizing takes seconds."""
    text = (ROOT / "scenarios" / "rule_out_unit.yaml").read_text(encoding="utf-8")
    unit = scenario_from_text(text).changed(
        {
            "horizon": "1 d", "target.share_of_surges": "50 %", "stock.kits": 5,
            "limits": {"kits": 8, "batteries": 18, "bays": 9},
        }
    )  # fmt: skip
    (tmp_path / "unit.yaml").write_text(unit.full_form(), encoding="utf-8")
    options = ("--surges", "5", "--processes", "1", "--size", "--json", "--out", "out")
    done = program("compare", tmp_path / "unit.yaml", "--with", "few: stock.kits=4", *options)
    assert done.returncode == 0, done.stderr
    sized = [one["to_meet_the_target"] for one in json.loads(done.stdout)["alternatives"]]
    for told, kits in zip(sized, (5, 4), strict=True):
        alone = size(unit.changed({"stock.kits": kits}), seed=1, processes=1)
        assert told["price"] == alone.cost, kits
    assert [one["buy"] for one in sized] == ["nothing", "1 kit"]
    assert "sizing 2 of 2: few" in done.stderr
    assert "To meet the target" in (tmp_path / "out" / "answer.txt").read_text()


def test_a_name_that_the_usual_alternatives_have_is_told_as_theirs(program):
    done = compare(program, "--usual", "--with", "kit per shift: stock.kits=33")
    assert done.returncode == 2
    assert done.stderr == (
        "--usual: has an alternative 'kit per shift' too.\n"
        "  Give yours another name, or leave --usual out.\n"
    )
