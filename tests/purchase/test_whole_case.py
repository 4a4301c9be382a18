"""The whole case, with life, alternatives and what matters: a number is the same everywhere."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.equipment.stock import Stock
from surge_sim.errors import ScenarioError
from surge_sim.purchase.beside import read_beside, scenario_file
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.play import MORE_SURGES
from surge_sim.purchase.sized import Sized, read_sized
from surge_sim.report.case_beside import alternative_words, choices_of
from surge_sim.report.case_document import case_document
from surge_sim.report.case_life import NO_LIFE, life_values
from surge_sim.report.case_matters import _cost_drawn, first_input_parts, study_words
from surge_sim.report.case_workbook import case_workbook, traced
from surge_sim.report.document import Paragraph, Table
from surge_sim.report.rounding import number, with_minus
from surge_sim.report.sizing_words import money
from surge_sim.report.terminal import render
from surge_sim.report.word_file import word_file
from surge_sim.scenario.life_file import load_life
from tests.purchase.test_case import (
    HOSTILE,
    LIFE,
    OFFICE,
    converted,
    sized_folder,
    words_of_docx,
    worked_out,
)
from tests.purchase.test_page import Reader, check_page_says_all
from tests.sizing.test_size_command import UNIT

#: a comparison and a study are played for all of these
pytestmark = pytest.mark.slow

SURGES = ("--surges", "20", "--processes", "1")


def beside(sizing: Path, place: Path) -> tuple[Path, Path]:
    """Compare and study the very scenario that was sized."""
    file = str(sizing / "scenario" / "unit.yaml")
    compared, studied = place / "compared", place / "studied"
    (place / "asked.yaml").write_text(
        "alternatives:\n  '=1+1': {stock.kits: 9}\n"
        "  half the drying: {cleaning.drying_time: 5 min}\n"
    )
    asked = ["--usual", "--alternatives", str(place / "asked.yaml"), "--out", str(compared)]
    assert exit_code_of(["compare", file, *SURGES, *asked]) == 0
    asked = ["--spread", "25%", "--out", str(studied)]
    assert exit_code_of(["matters", file, *SURGES, *asked]) == 0
    return compared, studied


@pytest.fixture(scope="module")
def sized(tmp_path_factory: pytest.TempPathFactory) -> Sized:
    return read_sized(sized_folder(tmp_path_factory.mktemp("sizing")))


@pytest.fixture(scope="module")
def folders(sized: Sized, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return beside(sized.folder, tmp_path_factory.mktemp("beside"))


@pytest.fixture(scope="module")
def folder(
    sized: Sized, folders: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    out = tmp_path_factory.mktemp("case") / "out"
    asked = ["--life", str(LIFE), "--with", str(folders[1]), "--with", str(folders[0])]
    assert exit_code_of(["case", str(sized.folder), *asked, *SURGES[2:], "--out", str(out)]) == 0
    return out


@pytest.fixture(scope="module")
def case(sized: Sized, folders: tuple[Path, Path]) -> PurchaseCase:
    told = read_beside(folders, sized)
    return purchase_case(sized, processes=1, beside=told, life=load_life(LIFE))


def test_the_page_says_what_the_whole_document_says(case: PurchaseCase, folder: Path) -> None:
    page = (folder / "case.html").read_text(encoding="utf-8")
    assert case.comparison is not None and case.study is not None and case.life is not None
    assert check_page_says_all(case, page) > 150
    assert len(page.encode()) < 3_000_000
    shown = Reader(page).shown
    for row in life_values(case.life):
        assert all("".join(cell.split()) in shown for cell in row)


def test_each_number_stands_where_the_workbook_says(case: PurchaseCase, folder: Path) -> None:
    files: dict[str, list[list[str]]] = {}
    seen = set()
    for name, cell in traced(case):
        if cell.file not in files:
            files[cell.file] = list(csv.reader((folder / cell.file).read_text().splitlines()))
        lines = files[cell.file]
        found = lines[cell.row - 1][lines[0].index(cell.column)]
        seen.add(cell.file)
        if cell.value is None:
            assert found == "", name
        else:
            assert float(found) == pytest.approx(cell.value, rel=1e-9), name
    assert {
        "tables/life.csv", "tables/life_lines.csv", "tables/higher_demand.csv",
        "comparison/tables/alternatives.csv", "study/tables/inputs.csv",
    } <= seen  # fmt: skip


def test_document_json_screen_and_tables_tell_the_same_life(
    case: PurchaseCase, folder: Path
) -> None:
    """Every sum over the life, with either stock and as a change, in all four places."""
    told = json.loads((folder / "summary.json").read_text())["life"]["life"]
    words = words_of_docx((folder / "case.docx").read_bytes())
    screen = " ".join((folder / "answer.txt").read_text().split())
    checked = 0
    for row in told:
        for column in ("in_hand", "proposed", "difference"):
            value = case.life_sum(row["sum"], column).value
            assert row[column] == value, row
            if row["sum"] not in ("capital", "running", "waiting_per_year"):
                assert value is not None
                shown = with_minus(money(round(value)))
                assert shown in words and shown in screen, (row["sum"], column)
                checked += 1
    assert checked == 24
    purchase = case.stage(case.sized.place, "purchase").value
    assert case.life_sum("bought", "proposed").value == purchase


def test_document_and_screen_tell_the_same_alternatives_and_inputs(
    case: PurchaseCase, folder: Path
) -> None:
    words = words_of_docx((folder / "case.docx").read_bytes())
    screen = " ".join((folder / "answer.txt").read_text().split())
    assert case.comparison is not None and case.study is not None
    assert alternative_words(case) in words and alternative_words(case) in screen
    assert study_words(case) in words and study_words(case) in screen
    assert "(invented)" in case.study.answer and "(invented)" not in study_words(case)
    place = next(one.place for one in choices_of(case.comparison) if one.name == "=1+1")
    row = case.comparison.tables["alternatives"].iloc[place]
    told = case_document(case).blocks
    cells = next(
        row for one in told if isinstance(one, Table) for row in one.rows if row[0] == "=1+1"
    )
    assert cells[1].rstrip(" *!") == str(row["surges_on_target"])
    assert cells[3].rstrip(" *!") == number(row["hours_waited"])
    assert all(cell in words and cell in screen for cell in cells)


def test_what_matters_most_is_said_below_the_request(case: PurchaseCase) -> None:
    """And nothing where a study shows none, or there is no study."""
    assert case.study is not None
    first = case.study.tables["inputs"]["input"].iloc[0]
    for name, told in ((first, 1), (None, 0)):
        study = replace(case.study, summary={**case.study.summary, "measure_first": name})
        other = replace(case, study=study)
        blocks = list(first_input_parts(other))
        assert len(blocks) == told
        assert all(block in case_document(other).blocks for block in blocks)
        for block in blocks:
            assert isinstance(block, Paragraph) and "before you sign" in block.text
            low, high = (case.study.tables["inputs"][end].iloc[0] for end in ("low", "high"))
            assert low in block.text and high in block.text
    assert not list(first_input_parts(replace(case, study=None)))


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_libreoffice_works_the_life_out_to_the_numbers_that_the_tool_wrote(
    case: PurchaseCase, folder: Path, tmp_path: Path
) -> None:
    book = worked_out((folder / "case.xlsx").read_bytes(), tmp_path)
    assert case.life is not None
    rows = {row[0].value: [cell.value for cell in row] for row in book["Life"]}
    for name in case.life.totals["sum"]:
        told = [case.life_sum(name, one).value for one in ("in_hand", "proposed", "difference")]
        assert rows[name][1:4] == pytest.approx(told, rel=2e-5, abs=1e-3), name
    for place, function in enumerate(("average", "min", "median", "max")):
        column = ("mean", "least", "median", "most")[place]
        told = [case.of("life_one_surge", one, column).value for one in (0, 1)]
        assert rows[f"used up in one surge: {function}"][1:3] == pytest.approx(told, rel=2e-5)
    heads = [cell.value for cell in book["Life years"][1]]
    years = case.life.years
    for name, head in {
        "replaced_in_hand": "Replaced, in hand", "replaced_proposed": "Replaced, as requested",
        "running_proposed": "Running, as requested", "paid_in_hand": "Paid, in hand",
        "present_value_in_hand": "Present value, in hand",
        "present_value_proposed": "Present value, as requested",
        "discount_factor": "Discount factor",
    }.items():  # fmt: skip
        at = next(place for place, one in enumerate(heads) if str(one).startswith(head))
        found = [row[at].value for row in book["Life years"].iter_rows(min_row=2)]
        assert found == pytest.approx(years[name].tolist(), rel=2e-5, abs=1e-3), name
    heads = [cell.value for cell in book["Life lines"][1]]
    for stock, name in (("in_hand", "in hand"), ("proposed", "as requested")):
        at = next(place for place, one in enumerate(heads) if f"one surge, {name}" in str(one))
        shown = [row[at].value or None for row in book["Life lines"].iter_rows(min_row=2)]
        told = [case.of("life_lines", place, f"one_surge_{stock}").value or None
                for place in range(len(case.life.lines))]  # fmt: skip
        assert [one is None for one in shown] == [one is None for one in told]
        assert [one for one in shown if one] == pytest.approx(
            [one for one in told if one], rel=2e-5
        )
    found = [row[-2].value for row in book["More patients"].iter_rows(min_row=2)]
    assert found == pytest.approx(case.demand["share_on_target"].tolist(), rel=1e-5)


@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
def test_the_whole_document_has_four_pages_at_most(folder: Path, tmp_path: Path) -> None:
    pages = converted(folder / "case.docx", "pdf", tmp_path).read_bytes().count(b"/Type/Page/")
    assert 1 <= pages <= 4


def test_five_hard_questions_have_an_answer(case: PurchaseCase) -> None:
    """Do nothing, why not less, over its life, a free rule instead, more patients: a heading each,
    and below it a sentence.
    """
    from surge_sim.report.document import Heading

    blocks = case_document(case).blocks
    heads = [one.text for one in blocks if isinstance(one, Heading)]
    for head in (
        "If nothing is done", "Why not less", "Over its life", "Alternatives",
        "If more patients come",
    ):  # fmt: skip
        assert head in heads
        after = blocks[next(at for at, one in enumerate(blocks)
                            if isinstance(one, Heading) and one.text == head) + 1 :]  # fmt: skip
        below = after[: next(at for at, one in enumerate(after) if isinstance(one, Heading))]
        assert any(isinstance(one, Paragraph) and one.text for one in below), head


def test_more_patients_come_besides_the_same_ones(case: PurchaseCase) -> None:
    table = case.demand
    assert table["more_patients"].tolist() == [0, 0, 0.2, 0.2, 0.5, 0.5]
    assert table["surges"].eq(MORE_SURGES).all() and case.sized.same_surges == 100
    for stock in ("in_hand", "proposed"):
        mine = table[table["stock"] == stock]
        assert mine["entries"].is_monotonic_increasing and mine["hours_waited"].iloc[2] > 0
        # as expected: the first of the surges from above
        above = case.same_surges.head(MORE_SURGES)[[f"{stock}_late", f"{stock}_missed_target"]]
        late, missed = above.mean()
        assert mine["late"].iloc[0] == pytest.approx(late, rel=1e-5)
        assert mine["share_on_target"].iloc[0] == pytest.approx(1 - missed, abs=1e-6)
    entries = table["entries"].tolist()
    assert entries[0::2] == entries[1::2]
    # four are there at the start, and 8 are expected to arrive in two days: 2/3 of the entries or
    # less grow by a half
    assert 1.1 < entries[4] / entries[0] < 1.5


def test_alternatives_and_inputs_are_of_the_scenarios_stock_where_another_was_sized(
    case: PurchaseCase,
) -> None:
    """An empty store was sized; `compare` and `matters` begin with the stock in the file."""
    other = replace(case, sized=replace(case.sized, new=True, in_hand=Stock(0, 0, 0)))
    shown = " ".join(render(case_document(other)).split())
    assert "others (alternatives)" in " ".join(render(case_document(case)).split())
    assert "others (alternatives)" not in shown
    assert "the stock of the scenario" in alternative_words(other)
    heads = [column.header for one in case_document(other).blocks if isinstance(one, Table)
             for column in one.columns]  # fmt: skip
    assert {"With the stock of the scenario", "Entries in time, the stock of the scenario"} <= {
        *heads
    }
    assert case.study is not None and other.study is not None
    assert _cost_drawn(other, other.study) == _cost_drawn(case, case.study)


def test_an_alternative_with_other_times_is_no_choice(case: PurchaseCase, folder: Path) -> None:
    assert case.comparison is not None
    names = {one.name: one for one in choices_of(case.comparison)}
    assert names["half the drying"].other_times and not names["=1+1"].other_times
    assert "half the drying" not in (folder / "answer.txt").read_text()


def test_a_rule_that_costs_nothing_says_what_it_relaxes(case: PurchaseCase) -> None:
    """And that only others than these counts can allow it."""
    assert case.comparison is not None
    shown = " ".join(render(case_document(case)).split())
    table = case.comparison.tables["alternatives"]
    kept = table.loc[table["alternative"] == "kit per shift", "relaxes"]
    assert all(" ".join(one.split()) in shown for one in kept)
    said = alternative_words(case)
    assert "No rule is an alternative to buying until the manufacturer's instructions" in said
    assert "do not confirm the target" in said
    assert "That may do instead" not in shown


def test_a_rule_that_is_worse_for_urgent_entries_is_not_named_first(case: PurchaseCase) -> None:
    """The findings and counts of two choices, set by hand, and neither costs anything."""
    assert case.comparison is not None
    tables = dict(case.comparison.tables)
    table, changes = tables["alternatives"].copy(), tables["differences"].copy()
    table["purchase"] = table["paid_per_surge"] = 0.0
    table["without_a_price"] = ""
    first, second = (
        one
        for one in choices_of(case.comparison)
        if one.place and one.sort != "stress" and not one.other_times
    )
    met = {first.place: 19, second.place: 18}
    table["surges_on_target"] = [met.get(place, 5) for place in range(len(table))]
    in_file = table["alternative"].iloc[first.place]
    mine = (changes["alternative"] == in_file) & (changes["measure"] == "urgent_late")
    for finding, names in (
        ("worse", (second.name, first.name)),
        ("better", (first.name, second.name)),
    ):
        changes["finding"] = "undecided"
        changes.loc[mine, "finding"] = finding
        tables |= {"alternatives": table, "differences": changes.copy()}
        other = replace(case, comparison=replace(case.comparison, tables=dict(tables)))
        said, shown = alternative_words(other), " ".join(render(case_document(other)).split())
        assert f'"{names[0]}" met the target in' in said and f'"{names[1]}" in' in said
        assert ("worse: late urgent entries" in shown) == (finding == "worse")


def test_what_stands_beside_is_refused_where_it_does_not_fit(
    sized: Sized, folders: tuple[Path, Path], tmp_path: Path
) -> None:
    other = tmp_path / "other.yaml"
    other.write_text(UNIT.replace("drying_time: 10 min", "drying_time: 12 min"))
    out = tmp_path / "compared"
    asked = ["--with", "more: stock.kits=3", "--out", str(out)]
    assert exit_code_of(["compare", str(other), *SURGES, *asked]) == 0
    for given, said in (
        ((out,), "is of another scenario: cleaning differ"),
        ((folders[0], folders[0]), "is a second folder of `compare`"),
        ((sized.folder,), "is a sizing of the scenario without more patients"),
        ((tmp_path / "nothing",), "cannot be read"),
    ):
        with pytest.raises(ScenarioError, match=said.replace("`", ".")):
            read_beside(given, sized)
    (out / "tables" / "alternatives.csv").write_text("changed")
    with pytest.raises(ScenarioError, match="its checksum differs"):
        read_beside((out,), sized)


def test_where_a_target_was_asked_for_the_full_form_is_what_was_sized(tmp_path: Path) -> None:
    asked = ("--target", "share_of_surges=70%")
    sized = read_sized(sized_folder(tmp_path / "asked", UNIT, *asked))
    plain = sized.folder / "scenario" / "unit.yaml"
    full = scenario_file(sized)
    assert full == plain.with_name("unit_in_full.yaml") and full.is_file()
    for file, place in ((plain, "plain"), (full, "full")):
        typed = ["compare", str(file), *SURGES, "--with", "more: stock.kits=3"]
        assert exit_code_of([*typed, "--out", str(tmp_path / place)]) == 0
    with pytest.raises(ScenarioError, match="target differ") as caught:
        read_beside((tmp_path / "plain",), sized)
    assert str(full) in caught.value.faults[0].right
    comparison = read_beside((tmp_path / "full",), sized).comparison
    assert comparison is not None and choices_of(comparison)[1].name == "more"


def test_only_formulas_of_the_tool_are_formulas(
    sized: Sized, folders: tuple[Path, Path], tmp_path: Path
) -> None:
    from io import BytesIO

    from openpyxl import load_workbook

    text = LIFE.read_text().replace("rent of the store room", f"'{HOSTILE}'")
    text = text.replace("source: invented}", "source: '=1+1'}", 3)
    (tmp_path / "life.yaml").write_text(text)
    told = read_beside(folders, sized)
    case = purchase_case(sized, processes=1, beside=told, life=load_life(tmp_path / "life.yaml"))
    book = load_workbook(BytesIO(case_workbook(case)))
    formulas = [
        str(cell.value) for sheet in book for row in sheet for cell in row if cell.data_type == "f"
    ]
    assert formulas and not any("HYPERLINK" in one or one == "=1+1" for one in formulas)
    texts = [cell for row in book["Alternatives"] for cell in row if "=1+1" in str(cell.value)]
    assert texts and all(cell.data_type == "s" for cell in texts)
    assert any("HYPERLINK" in str(row[0].value) for row in book["Life lines"])
    words = words_of_docx(word_file(case_document(case)))
    assert not any("HYPERLINK" in one for one in words if one.startswith("="))


def test_without_a_file_nothing_is_said_of_the_life(sized: Sized) -> None:
    case = purchase_case(sized, processes=1)
    shown = " ".join(render(case_document(case)).split())
    assert NO_LIFE in shown and "was not compared" in shown and "was not studied" in shown
    assert not any(name.startswith("life") for name in case.tables)


def test_a_log_has_no_more_patients_and_a_life_all_the_same(tmp_path: Path) -> None:
    head, rest = UNIT.split("arrivals: {baseline")
    text = f"{head}entries: {{from: log.csv}}\nkit:{rest.split('kit:', 1)[1]}"
    text = text.replace("{arrivals: invented}", "{entries: invented}")
    sized = read_sized(sized_folder(tmp_path / "log", text))
    case = purchase_case(sized, processes=1, life=load_life(LIFE))
    assert case.demand.empty and case.life is not None
    shown = " ".join(render(case_document(case)).split())
    assert "Not simulated: entries come from a log" in shown and "Over 10 years" in shown
    assert case_workbook(case)


def test_where_nothing_is_requested_the_life_is_that_of_the_stock_in_hand(tmp_path: Path) -> None:
    text = UNIT.replace("{kits: 2, batteries: 3", "{kits: 9, batteries: 15")
    sized = read_sized(sized_folder(tmp_path / "rich", text))
    case = purchase_case(sized, processes=1, life=load_life(LIFE))
    assert case.life_sum("paid", "difference").value == 0
    shown = " ".join(render(case_document(case)).split())
    assert "the stock in hand costs" in shown and "more than the stock in hand" not in shown
    assert "With the stock in hand kits last" in shown and "stock requested" not in shown
