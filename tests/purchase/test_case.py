"""``surge-sim case`` on a small invented unit: from a sizing's folder to a document to sign."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest

from surge_sim.cautions import CAUTION
from surge_sim.cli.main import exit_code_of
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.sized import read_sized
from surge_sim.report.case_document import case_document
from surge_sim.report.case_folder import case_json
from surge_sim.report.case_limit import blocks_of
from surge_sim.report.case_workbook import case_workbook, traced
from surge_sim.report.terminal import render
from surge_sim.report.word_file import word_file
from surge_sim.sizing.betting import block_ends
from tests.conftest import ROOT, undrawn
from tests.sizing.test_size_command import UNIT

HOSTILE = '=HYPERLINK("http://example.invalid","x") <script> (invented)'
LIFE = ROOT / "surge_sim" / "scenario" / "life_starter.yaml"
OFFICE = shutil.which("soffice")
LOG = "requested,room_minutes,role\n" + "".join(f"{17 * n},20,nurse\n" for n in range(120))


def sized_folder(place: Path, text: str = UNIT, *options: str) -> Path:
    place.mkdir(exist_ok=True)
    (place / "unit.yaml").write_text(text)
    (place / "log.csv").write_text(LOG)
    arguments = ("--choose", "40", "--surges", "100", "--processes", "1")
    out = place / "found"
    with undrawn():
        code = exit_code_of(
            ["size", str(place / "unit.yaml"), *arguments, *options, "--out", str(out)]
        )
    assert code == 0
    return out


@pytest.fixture(scope="module")
def sizing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sized_folder(tmp_path_factory.mktemp("sizing"))


@pytest.fixture(scope="module")
def case(sizing: Path) -> PurchaseCase:
    return purchase_case(read_sized(sizing), processes=1)


@pytest.fixture(scope="module")
def folder(sizing: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("case") / "out"
    assert exit_code_of(["case", str(sizing), "--out", str(out), "--processes", "1"]) == 0
    return out


def words_of_docx(data: bytes) -> list[str]:
    """Paragraphs and cells of a document, without order."""
    from docx import Document

    word = Document(BytesIO(data))
    cells = [cell.text for table in word.tables for row in table.rows for cell in row.cells]
    # a number is not parted from its sign
    return [one.replace("\u00a0", " ") for one in [p.text for p in word.paragraphs] + cells]


def worked_out(data: bytes, place: Path) -> Any:
    """Have LibreOffice work out a workbook; return its values, none of which is an error."""
    from openpyxl import load_workbook

    (place / "case.xlsx").write_bytes(data)
    converted(place / "case.xlsx", "xlsx", place / "out")
    book = load_workbook(place / "out" / "case.xlsx", data_only=True)
    errors = [
        (sheet.title, cell.coordinate, cell.value)
        for sheet in book
        for row in sheet
        for cell in row
        if isinstance(cell.value, str) and cell.value.startswith(("#", "Err:"))
    ]
    assert errors == []
    return book


def converted(path: Path, kind: str, out: Path) -> Path:
    assert OFFICE is not None
    profile = f"-env:UserInstallation=file://{out}/profile"
    command = [OFFICE, profile, "--headless", "--convert-to", kind, "--outdir", str(out), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    return out / path.with_suffix(f".{kind}").name


def test_numbers_that_sizing_and_case_both_tell_are_the_same(case: PurchaseCase) -> None:
    for stock, place in (("in_hand", 0), ("proposed", case.sized.place)):
        for measure, column in (
            ("late", "late"),
            ("hours_waited", "hours_waited"),
            ("worst_day_late", "worst_day_share_late"),
        ):
            here, there = case.nothing(measure, stock).value, case.stage(place, column).value
            assert here == pytest.approx(there, rel=2e-6), (measure, stock)
        met = case.sized.tables["stages"]["same_surges_on_target"].iloc[place]
        missed = case.nothing("missed_target", stock).value
        assert missed == pytest.approx(1 - met / case.sized.same_surges)
        assert case.use("entries", "mean").value == pytest.approx(
            case.stage(place, "entries").value, rel=2e-6
        )


def test_the_change_is_that_of_the_same_surges(case: PurchaseCase) -> None:
    same = case.same_surges
    for measure in case.doing_nothing["measure"]:
        change = (same[f"proposed_{measure}"] - same[f"in_hand_{measure}"]).mean()
        assert case.nothing(measure, "difference").value == pytest.approx(change, rel=1e-5)
    assert (case.nothing("late", "difference").value or 0) < 0


def test_what_is_used_follows_from_the_scenario(case: PurchaseCase) -> None:
    """Each use ends with one wipe-down of two wipes; a battery runs 4 h."""
    used = case.used_by_surge
    assert (used["wipe_downs"] <= used["entries"] * 2).all() and used["wipe_downs"].gt(0).all()
    assert (used["wipes"] == 2 * used["wipe_downs"]).all()
    assert used["full_charges"].to_numpy() == pytest.approx(used["battery_hours"] / 4, rel=1e-5)
    # wiping takes 5 min; what is wiped after the horizon is no longer counted in hours
    assert (used["wiping_hours"] <= used["wipe_downs"] * 5 / 60 + 1e-4).all()
    assert used["wiping_hours"].mean() > 0.9 * used["wipe_downs"].mean() * 5 / 60
    row = case.used.set_index("what").loc["entries"]
    enough = (used["entries"] <= row["enough"]).mean()
    assert enough >= 0.8 and row["least"] <= row["median"] <= row["enough"] <= row["most"]


def test_each_number_stands_where_the_workbook_says(case: PurchaseCase, folder: Path) -> None:
    checked = 0
    for name, cell in traced(case):
        lines = list(csv.reader((folder / cell.file).read_text().splitlines()))
        found = lines[cell.row - 1][lines[0].index(cell.column)]
        if cell.value is None:
            assert found == "", name
        else:
            assert float(found) == pytest.approx(cell.value, rel=1e-9), name
            checked += 1
    assert checked > 100


def test_document_screen_and_json_show_the_same(case: PurchaseCase, folder: Path) -> None:
    told = case_document(case)
    from surge_sim.report.document import Answer, Heading, Paragraph, Remark, Table

    words = words_of_docx((folder / "case.docx").read_bytes())
    for block in told.blocks:
        match block:
            case Heading(text) | Answer(text) | Paragraph(text):
                assert text in words
            case Remark(_, text):
                assert any(one.endswith(text) for one in words)
            case Table(_, rows):
                assert all(cell in words for row in rows for cell in row)
            case _:
                pass
    answer = case_json(case)
    assert answer["answer"] in words
    assert json.loads((folder / "summary.json").read_text()) == answer
    assert (folder / "answer.txt").read_text().strip() == render(case_document(case, False)).strip()
    row = next(one for one in answer["doing_nothing"] if one["measure"] == "late")
    assert row["in_hand"] == case.nothing("late", "in_hand").value
    assert any(CAUTION in one for one in words)


@pytest.mark.slow
@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_libreoffice_works_the_workbook_out_to_the_numbers_that_the_tool_wrote(
    case: PurchaseCase, folder: Path, tmp_path: Path
) -> None:
    book = worked_out((folder / "case.xlsx").read_bytes(), tmp_path)
    rows = {row[0].value: [cell.value for cell in row] for row in book["Request"]}
    assert rows["in all, paid once"][6] == case.stage(case.sized.place, "purchase").value
    rows = {row[0].value: [cell.value for cell in row] for row in book["Doing nothing"]}
    for measure in case.doing_nothing["measure"]:
        told = [case.nothing(measure, one).value for one in ("in_hand", "proposed", "difference")]
        assert rows[measure][2:5] == pytest.approx(told, rel=1e-5, abs=1e-6), measure
    rows = {row[0].value: [cell.value for cell in row] for row in book["Used per surge"]}
    for what in case.used["what"]:
        told = [case.use(what, one).value for one in ("mean", "least", "median", "most")]
        assert rows[what][2:6] == pytest.approx(told, rel=1e-5), what
    limit = {row[0].value: row[1].value for row in book["Limit"]}
    low = case.stage(case.sized.place, "low").value
    assert limit["lower limit, worked out below (0..1)"] == pytest.approx(low, abs=2e-6)


@pytest.mark.slow
@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_the_document_has_four_pages_at_most(folder: Path, tmp_path: Path) -> None:
    pages = converted(folder / "case.docx", "pdf", tmp_path).read_bytes().count(b"/Type/Page/")
    assert 1 <= pages <= 4


@pytest.mark.slow
def test_only_formulas_of_the_tool_are_formulas(tmp_path: Path) -> None:
    from openpyxl import load_workbook

    text = (
        UNIT.replace("Two days of a small unit (invented)", json.dumps(HOSTILE))
        .replace("talers (invented)", '"=1+1 (invented)"')
        .replace("{arrivals: invented}", '{arrivals: "@SUM(A1)", kit: "=1+1"}')
    )
    case = purchase_case(read_sized(sized_folder(tmp_path / "hostile", text)), processes=1)
    book = load_workbook(BytesIO(case_workbook(case)))
    formulas = [
        str(cell.value) for sheet in book for row in sheet for cell in row if cell.data_type == "f"
    ]
    assert formulas and not any("HYPERLINK" in one or one == "=1+1" for one in formulas)
    texts = {str(cell.value): cell for row in book["Inputs"] for cell in row}
    assert texts["=1+1"].data_type == "s" and texts["@SUM(A1)"].data_type == "s"
    assert not any(sheet._hyperlinks for sheet in book)
    words = " ".join(words_of_docx(word_file(case_document(case))))
    assert "<script>" in words


def test_the_same_case_is_the_same_files(case: PurchaseCase, folder: Path) -> None:
    assert case_workbook(case) == (folder / "case.xlsx").read_bytes()
    assert word_file(case_document(case)) == (folder / "case.docx").read_bytes()


def test_numbers_are_numbers_and_heads_stay_in_sight(folder: Path) -> None:
    from openpyxl import load_workbook

    book = load_workbook(folder / "case.xlsx")
    assert all(sheet.freeze_panes == "B2" for sheet in book)
    stages = book["Stages"]
    assert all(stages.cell(2, place).data_type == "n" for place in (4, 7, 8, 10, 14))
    assert "(count)" in stages["D1"].value and "(talers (invented))" in stages["G1"].value


def test_the_sheet_of_what_is_used_has_a_row_for_each_thing_with_its_unit(
    case: PurchaseCase, folder: Path
) -> None:
    from openpyxl import load_workbook

    sheet = load_workbook(folder / "case.xlsx")["Used per surge"]
    rows = [tuple(row) for row in sheet.iter_rows(min_row=2, max_col=2, values_only=True)]
    assert rows and rows == list(zip(case.used["what"], case.used["unit"], strict=True))


def test_the_sheet_of_the_limit_counts_the_surges_of_each_block_under_their_heads(
    case: PurchaseCase, folder: Path
) -> None:
    from openpyxl import load_workbook

    stages = case.sized.tables["stages"]
    ((met, surges),) = blocks_of(stages["on_target_by_block"].iloc[case.sized.place])
    rows = list(load_workbook(folder / "case.xlsx")["Limit"].iter_rows(values_only=True))
    heads = next(row for row in rows if row[0] == "block")
    block = dict(zip(heads, next(row for row in rows if row[0] == "block 1"), strict=True))
    assert block["on target (count)"] == met > 0
    assert block["others (count)"] == surges - met
    assert block["end of the block (surge)"] == block_ends(surges)[0]


@pytest.mark.parametrize("name", ["tables/stages.csv", "summary.json", "scenario/unit.yaml"])
def test_a_folder_that_was_changed_is_refused(
    sizing: Path, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    copy, out = tmp_path / "copy", tmp_path / "out"
    shutil.copytree(sizing, copy)
    (copy / name).write_text((copy / name).read_text() + " ")
    assert exit_code_of(["case", str(copy), "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert f"{copy / name}: is not as the sizing wrote it" in said and not out.exists()


def test_what_is_no_folder_of_a_sizing_is_refused(
    sizing: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert exit_code_of(["case", str(tmp_path / "nothing")]) == 2
    assert "cannot be read" in capsys.readouterr().err
    outside = tmp_path / "link"
    shutil.copytree(sizing, outside)
    (tmp_path / "elsewhere.json").write_text((outside / "summary.json").read_text())
    (outside / "summary.json").unlink()
    (outside / "summary.json").symlink_to(tmp_path / "elsewhere.json")
    assert exit_code_of(["case", str(outside)]) == 2
    assert "leads out of the folder" in capsys.readouterr().err
    (outside / "manifest.json").write_text("[" * 100_000)
    assert exit_code_of(["case", str(outside)]) == 2
    assert "is no JSON object" in capsys.readouterr().err


@pytest.mark.slow
def test_where_nothing_need_be_bought_nothing_is_requested(tmp_path: Path) -> None:
    text = UNIT.replace("{kits: 2, batteries: 3", "{kits: 9, batteries: 15")
    case = purchase_case(read_sized(sized_folder(tmp_path / "rich", text)), processes=1)
    shown = " ".join(render(case_document(case)).split())
    assert "Nothing is requested: the stock in hand meets the target" in shown
    assert "If nothing is done" not in shown and "Why not less" not in shown
    assert case_workbook(case)


def test_a_recorded_period_has_no_limits(tmp_path: Path) -> None:
    head, rest = UNIT.split("arrivals: {baseline")
    text = f"{head}entries: {{from: log.csv}}\nkit:{rest.split('kit:', 1)[1]}"
    text = text.replace("{arrivals: invented}", "{entries: invented}")
    case = purchase_case(read_sized(sized_folder(tmp_path / "log", text)), processes=1)
    assert case.replay is not None and len(case.same_surges) == case.replay.plays(100)
    limits = [one for one in case.doing_nothing if one.endswith(("_low", "_high"))]
    assert case.doing_nothing[limits].isna().all().all()
    shown = render(case_document(case))
    assert "confidence" not in shown and case_workbook(case)
    assert "If nothing is done" in shown and "limits" not in shown.lower()


def test_blocks_of_a_test_are_read() -> None:
    assert blocks_of("271 of 300; 434 of 500") == [(271, 300), (434, 500)]
    assert blocks_of("") == []
