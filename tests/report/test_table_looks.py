"""Rows of a table that are set off: sums, rows to look at first, and names of the rows below."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest

from surge_sim.report.case_page_parts import blocks_html
from surge_sim.report.document import Column, Rows, Table, document
from surge_sim.report.terminal import render
from surge_sim.report.word_file import word_file

HEADS = (Column("What", align="left"), Column("In hand"), Column("Then"))
ROWS = (("kits", "1", "2"), ("in all", "3", "4"), ("Beside", "", ""), ("hours", "5", ""))
TABLE = Table(HEADS, ROWS, sums=(1,), strong=(3,), groups=(2,))


def table_of(told: Table | Rows) -> Any:
    from docx import Document

    return Document(BytesIO(word_file(document(told)))).tables[0]


def test_on_paper_sums_are_bold_below_a_line_and_a_name_takes_the_whole_row() -> None:
    from docx.oxml.ns import qn

    rows = table_of(TABLE).rows
    bold = [row.cells[0].paragraphs[0].runs[0].bold for row in rows]
    assert bold == [True, False, True, True, True]
    lines = [row._tr.findall(f".//{qn('w:tcBorders')}/{qn('w:top')}") for row in rows]
    assert [len(one) for one in lines] == [0, 0, 3, 0, 0]
    # one cell of three columns, with one paragraph: others would make it higher
    assert [cell.text for cell in rows[3].cells] == ["Beside"] * 3
    assert len(rows[3]._tr.tc_lst) == 1 and len(rows[3].cells[0].paragraphs) == 1


def test_on_paper_a_short_table_is_not_parted() -> None:
    for count, held in ((20, 20), (40, 2)):
        table = table_of(Table(HEADS, (("kits", "1", "2"),) * count))
        kept = [
            all(cell.paragraphs[0].paragraph_format.keep_with_next for cell in row.cells)
            for row in table.rows
        ]
        assert kept == [True] * held + [False] * (count + 1 - held)


def test_on_paper_a_short_list_of_rows_is_not_parted_and_a_long_one_may_be() -> None:
    for count, held in ((10, 9), (11, 0)):
        rows = table_of(Rows((("kits", "what they are"),) * count)).rows
        kept = [row.cells[0].paragraphs[0].paragraph_format.keep_with_next for row in rows]
        assert kept == [True] * held + [False] * (count - held)


def test_on_paper_paragraphs_are_not_parted_and_pages_are_counted() -> None:
    from docx import Document

    word = Document(BytesIO(word_file(document(TABLE))))
    assert word.styles["Normal"].paragraph_format.keep_together
    foot = word.sections[0].footer._element.xml
    assert 'w:instr="PAGE"' in foot and 'w:instr="NUMPAGES"' in foot


def test_on_a_page_they_have_looks_of_their_own() -> None:
    html = blocks_html((TABLE,), "Name")
    assert html.count("<tr>") == 2 and html.count('<tr class="sum"><th') == 1
    assert '<tr class="strong"><th scope="row" class="words">hours</th>' in html
    assert '<tr class="group"><td colspan="3" class="words">Beside</td></tr>' in html


@pytest.mark.parametrize("columns", [80, 40])
def test_on_a_screen_the_words_are_the_same(columns: int) -> None:
    shown = render(document(TABLE), columns)
    assert [word in shown for word in ("kits", "in all", "Beside", "hours")] == [True] * 4
    assert render(document(TABLE), columns, colour=True) != shown


def test_a_row_that_names_others_has_no_numbers() -> None:
    with pytest.raises(ValueError, match="no other cells"):
        Table(HEADS, ROWS, groups=(0,))
