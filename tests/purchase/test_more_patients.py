"""A case with a sizing for more patients: what it costs to be ready, told alike everywhere."""

from __future__ import annotations

import csv
import hashlib
import json
import shlex
import shutil
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.errors import ScenarioError
from surge_sim.purchase.beside import _differing, read_beside
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.demand import MORE, higher_demand
from surge_sim.purchase.sized import read_sized
from surge_sim.report.case_demand import ready_words
from surge_sim.report.case_document import case_document
from surge_sim.report.case_folder import case_json
from surge_sim.report.case_planner import TO_ADD, planner_parts
from surge_sim.report.case_workbook import traced
from surge_sim.report.document import Heading, Paragraph, Rows
from surge_sim.report.sizing_words import money
from surge_sim.report.terminal import render
from surge_sim.scenario.load import load_scenario, scenario_from_text
from tests.purchase.test_case import LOG, sized_folder, words_of_docx
from tests.purchase.test_page import Reader
from tests.sizing.test_size_command import UNIT

EXTRA = "timeline:\n  - {what: extra patients, at: 0 min, lasts: 2 d, arrivals: +20 %}\n"


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> PurchaseCase:
    """The unit, without any folder beside it."""
    return purchase_case(read_sized(sized_folder(tmp_path_factory.mktemp("unit"))), processes=1)


@pytest.fixture(scope="module")
def more(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a sizing with a fifth more patients."""
    return sized_folder(tmp_path_factory.mktemp("more"), UNIT + EXTRA)


@pytest.fixture(scope="module")
def told(case: PurchaseCase, more: Path) -> PurchaseCase:
    """The case with that folder."""
    return replace(case, more=read_beside((more,), case.sized).more)


@pytest.fixture(scope="module")
def folder(case: PurchaseCase, more: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("case") / "out"
    asked = ["--with", str(more), "--processes", "1", "--out", str(out)]
    assert exit_code_of(["case", str(case.sized.folder), *asked]) == 0
    return out


def altered(folder: Path, place: Path, files: str, old: str, new: str) -> Path:
    """Return a copy of a folder as if another sizing had written it: with checksums that fit."""
    shutil.copytree(folder, place)
    manifest = json.loads((place / "manifest.json").read_text())
    changed = 0
    for path in place.glob(files):
        before = path.read_text()
        path.write_text(before.replace(old, new))
        changed += before != path.read_text()
        name = path.relative_to(place).as_posix()
        manifest["sha256"][name] = hashlib.sha256(path.read_bytes()).hexdigest()
    assert changed
    (place / "manifest.json").write_text(json.dumps(manifest))
    return place


def short_case(case: PurchaseCase) -> PurchaseCase:
    """Return the case with a request that is not enough for a fifth more patients."""
    demand = case.demand.copy()
    mine = (demand["stock"] == "proposed") & (demand["more_patients"] == 0.2)
    demand.loc[mine, ["surges_on_target", "share_on_target"]] = 20, 0.4
    return replace(case, demand=demand)


def test_what_it_costs_is_that_of_the_sizing_with_more_patients(
    case: PurchaseCase, told: PurchaseCase, more: Path
) -> None:
    assert told.more is not None and told.more.per_cent == 20
    with (more / "tables" / "stages.csv").open() as file:
        stage = next(one for one in csv.DictReader(file) if one["recommended"] == "True")
    row = told.tables["ready_for_more"].iloc[0]
    for name in ("kits", "batteries", "bays", "cost", "surges", "surges_on_target", "low"):
        assert row[name] == float(stage[name]), name
    price = case.stage(case.sized.place, "cost").value or 0.0
    assert row["cost_requested"] == price and row["more_than_requested"] == row["cost"] - price
    said = ready_words(told)
    assert said.startswith(
        f"Being ready for 20 % more patients costs {money(row['cost'])} talers ("
    )
    assert f"confirmed in {stage['surges_on_target']} of {stage['surges']} new simulated" in said
    assert f"{money(abs(row['more_than_requested']))} talers" in said


def test_it_is_told_alike_everywhere(told: PurchaseCase, folder: Path) -> None:
    from openpyxl import load_workbook

    said, row = ready_words(told), told.tables["ready_for_more"].iloc[0]
    assert words_of_docx((folder / "case.docx").read_bytes()).count(said) == 1
    assert " ".join((folder / "answer.txt").read_text().split()).count(said) == 1
    shown = Reader((folder / "case.html").read_text(encoding="utf-8")).shown
    assert shown.count("".join(said.split())) == 1
    answer = json.loads((folder / "summary.json").read_text())
    assert answer == case_json(told) and answer["ready_for_more"]["cost"] == row["cost"]
    book = load_workbook(BytesIO((folder / "case.xlsx").read_bytes()))
    heads, cells = ([cell.value for cell in line] for line in book["Ready for more"])
    sheet = dict(zip(heads, cells, strict=True))
    assert sheet["Cost, with one surge (talers (invented))"] == row["cost"]
    assert sheet["On target (count)"] == row["surges_on_target"]
    checked = 0
    for name, cell in traced(told):
        if name.startswith("ready for more"):
            lines = list(csv.reader((folder / cell.file).read_text().splitlines()))
            found = lines[cell.row - 1][lines[0].index(cell.column)]
            assert float(found) == pytest.approx(cell.value, rel=1e-9), name
            checked += 1
    assert checked > 10
    assert "ready_for_more.csv" in (folder / "columns.txt").read_text()
    assert (folder / "more" / "tables" / "stages.csv").is_file()


def test_it_stands_beside_the_request_and_nowhere_else(told: PurchaseCase) -> None:
    blocks, said = case_document(told).blocks, Paragraph(ready_words(told))
    assert blocks.count(said) == 1 and blocks.index(said) < blocks.index(Heading("What we have"))
    shown = " ".join(render(case_document(told)).split())
    assert "Not worked out: what it costs" not in shown and "is not worked out" not in shown
    assert "% more patients cp -r" not in shown


def test_without_it_the_case_says_so_beside_the_request(case: PurchaseCase) -> None:
    head = " ".join(render(case_document(short_case(case))).split()).partition("What we have")[0]
    assert (
        "Not worked out: what it costs to be ready for 20 % more patients; with so many the stock "
        "requested met the target in 20 of 50 surges."
    ) in head
    assert TO_ADD in head


def test_the_commands_for_it_run_as_they_stand(
    case: PurchaseCase, more: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Copy, put the entry in, size again; and what is typed last ends with the new folder."""
    typed = ("surge-sim", "size", "/far/away/unit.yaml", "--choose=40", "--out", "found", "--quick")
    other = short_case(replace(case, sized=replace(case.sized, command=typed)))
    rows = next(one for one in planner_parts(other) if isinstance(one, Rows)).rows
    start = [label for label, _ in rows].index("20 % more patients")
    copied, put, again = (said for _, said in rows[start : start + 3])
    assert again == "surge-sim size scenario_more/unit.yaml --choose=40 --quick --out more"
    assert rows[-1] == (
        "then this again",
        "surge-sim case found --with alternatives --with inputs --with more --life life.yaml "
        "--out case_again",
    )
    shutil.copytree(case.sized.folder, tmp_path / "found")
    monkeypatch.chdir(tmp_path)
    _, _, source, target = shlex.split(copied)
    shutil.copytree(source, target)
    place, _, line = put.removeprefix("put in ").partition(" ")
    with Path(place).open("a") as file:
        file.write(f"\n{line}\n")
    # what is sized then is what the folder of the other tests holds
    assert _differing(load_scenario(place), read_sized(more).scenario) == []


@pytest.mark.parametrize(
    ("files", "old", "new", "said"),
    [
        ("scenario/*_in_full.yaml", "wait: 5 min", "wait: 6 min", "else: target differ"),
        ("scenario/*_in_full.yaml", "kit: 1400", "kit: 1500", "else: prices differ"),
        ("scenario/*.yaml", "+20 %", "+30 %", "else: timeline differ"),
        ("scenario/*.yaml", "don: 3 min", "don: 2 min", "else: kit differ"),
        ("summary.json", '"kits": 2,', '"kits": 3,', "else: stock in hand differ"),
        ("summary.json", '"searched": [', '"searched": ["tubes",', "items that may be bought"),
        ("summary.json", '"confidence": 0.95', '"confidence": 0.9', "else: confidence differ"),
        ("summary.json", '"empty_store": false', '"empty_store": true', "stock in hand differ"),
    ],
)
def test_what_was_sized_otherwise_is_refused(
    case: PurchaseCase, more: Path, tmp_path: Path, files: str, old: str, new: str, said: str
) -> None:
    other = altered(more, tmp_path / "other", files, old, new)
    with pytest.raises(ScenarioError, match=said) as caught:
        read_beside((other,), case.sized)
    assert TO_ADD in caught.value.faults[0].right


def test_a_sizing_that_does_not_fit_is_refused(
    case: PurchaseCase, more: Path, tmp_path: Path
) -> None:
    sized = case.sized
    for given, said in (
        ((sized.folder,), "is a sizing of the scenario without more patients"),
        ((more, more), "is a second folder of `size`"),
    ):
        with pytest.raises(ScenarioError, match=said):
            read_beside(given, sized)
    copy = tmp_path / "copy"
    shutil.copytree(more, copy)
    (copy / "tables" / "tested.csv").write_text("changed")
    with pytest.raises(ScenarioError, match="its checksum differs"):
        read_beside((copy,), sized)
    half = altered(more, tmp_path / "half", "scenario/*.yaml", "+20 %", "+50 %")
    found = read_beside((half,), sized).more
    assert found is not None and found.per_cent == 50


def test_entries_of_a_log_have_no_more_patients(
    case: PurchaseCase, more: Path, tmp_path: Path
) -> None:
    head, rest = UNIT.split("arrivals: {baseline")
    log = f"{head}entries: {{from: log.csv}}\nkit:{rest.split('kit:', 1)[1]}"
    log = log.replace("{arrivals: invented}", "{entries: invented}")
    (tmp_path / "log.csv").write_text(LOG)
    sized = replace(case.sized, scenario=scenario_from_text(log, folder=tmp_path))
    with pytest.raises(ScenarioError, match="no more patients to size for: entries come"):
        read_beside((more,), sized)


def test_two_sets_of_surges_are_told_only_where_they_are_two(case: PurchaseCase) -> None:
    """More patients meet the first 50 surges: with no more than 50 in all these are the same."""
    assert "two sets of surges" in " ".join(render(case_document(case)).split())
    same = case.demand.assign(surges=case.stage(0, "surges").value)
    alike = render(case_document(replace(case, demand=same)))
    assert "sets of surges" not in " ".join(alike.split())


def test_where_nobody_arrives_no_log_is_spoken_of(more: Path, tmp_path: Path) -> None:
    ward = UNIT.replace("{baseline: 4 per day", "{baseline: 0 per day")
    assert ward != UNIT
    sized = read_sized(sized_folder(tmp_path / "ward", ward))
    shown = " ".join(render(case_document(purchase_case(sized, processes=1))).split())
    assert "Not simulated: no patient arrives after the start." in shown and " log" not in shown
    with pytest.raises(ScenarioError, match="to size for: no patient arrives after the start"):
        read_beside((more,), sized)


def test_changes_of_a_timeline_may_stand_in_any_order() -> None:
    outage = "  - {what: power outage, at: 3 h, lasts: 2 h}\n"
    base = scenario_from_text(f"{UNIT}timeline:\n{outage}")
    expected = dict(zip(MORE, higher_demand(base), strict=True))[20]
    assert _differing(scenario_from_text(UNIT + EXTRA + outage), expected) == []
    assert _differing(scenario_from_text(UNIT + EXTRA), expected) == ["timeline"]
