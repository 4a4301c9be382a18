"""``surge-sim matters`` as it is typed: an answer on one screen, a folder, faults."""

from __future__ import annotations

import json

import pytest

from surge_sim import load_scenario, matters
from tests.conftest import ROOT

UNIT = ROOT / "scenarios" / "rule_out_unit.yaml"
ASKED = ("matters", UNIT, "--spread", "25%", "--surges", "20", "--processes", "1")


@pytest.mark.slow
def test_the_answer_is_on_one_screen_and_left_in_a_folder(program, tmp_path):
    done = program(*ASKED, "--out", "out")
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 24
    assert any("Low to high" in line for line in lines)
    assert "every time and check is kept in full" in " ".join(done.stdout.split())
    names = {
        path.relative_to(tmp_path / "out").as_posix() for path in (tmp_path / "out").rglob("*")
    }
    assert names >= {
        "answer.txt", "columns.txt", "manifest.json", "summary.json", "tables/inputs.csv",
        "tables/replications.csv", "tables/order_of_buying.csv", "figures/inputs.png",
        "figures/inputs.csv", "scenario/with_spread.yaml",
    }  # fmt: skip
    whole = (tmp_path / "out" / "answer.txt").read_text()
    assert "What the inputs were held at" in whole
    assert done.stdout.splitlines()[:4] == whole.splitlines()[:4]
    # nothing that is not done is left beside it
    assert not list(tmp_path.glob("*unfinished"))
    answer = json.loads((tmp_path / "out" / "summary.json").read_text())
    assert {one["input"] for one in answer["inputs"]} == set(answer["spread"]["ranges_put_on"])
    assert " ".join(answer["answer"].split()) in " ".join(done.stdout.split())
    # every column has its meaning
    assert "service_level_difference_low" in (tmp_path / "out" / "columns.txt").read_text()


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("matters", UNIT), "no input with a range"),
        (("matters", UNIT, "--spread", "5"), "--spread"),
        (("matters", UNIT, "--surges", "1"), "from 20 to 10,000"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_written(program, tmp_path, options, said):
    done = program(*options)
    assert done.returncode == 2
    assert said in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_in_python_it_has_a_table_a_figure_and_html():
    ends = {"low": "1 per day", "high": "4 per day"}
    scenario = load_scenario(UNIT).changed({"horizon": "2 d", "arrivals.baseline": ends})
    found = matters(scenario, surges=20, stock=False, processes=1)
    assert found.table["input"].tolist() == ["arrivals.baseline", "random variation"]
    assert "Only 1 input has a range" in " ".join(str(found).split())
    assert found._repr_html_().startswith("<div>")
    assert len(found.plot().axes) == 1
