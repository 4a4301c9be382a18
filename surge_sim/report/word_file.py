"""A document as a file for a word processor: to be edited, printed and signed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from io import BytesIO
from typing import TYPE_CHECKING, Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from surge_sim.cautions import CAUTION_ON_PAPER
from surge_sim.plain import visible
from surge_sim.report.document import (
    Answer,
    Document,
    Figure,
    Heading,
    Paragraph,
    Quote,
    Remark,
    Rows,
    Sentences,
    Table,
)

if TYPE_CHECKING:
    from docx.document import Document as WordDocument

_KINDS = {"note": "Note: ", "warning": "Warning: ", "caution": "Caution: "}
_SMALL_PT, _USUAL_PT = 8.5, 9.5
_CM_LABEL, _CM_TEXT, _CM_EMPTY = 3.2, 14.0, 0.9
#: a column of a table counts with so many characters
_FEWEST_SIGNS, _MOST_SIGNS = 10, 32
#: margin of a cell, in twentieths of a point
_TWIPS_CELL = 108


def word_file(told: Document) -> bytes:
    """Return a document as a .docx file; the same document is the same file.

    Figures are left out: their captions stand in their place.
    """
    from docx import Document as new_document
    from docx.shared import Cm, Pt

    word = new_document()
    for section in word.sections:
        section.page_width, section.page_height = Cm(21), Cm(29.7)
        section.left_margin = section.right_margin = Cm(1.9)
        section.top_margin = section.bottom_margin = Cm(1.6)
        foot = section.footer.paragraphs[0]
        foot.add_run(f"{CAUTION_ON_PAPER} Page ").font.size = Pt(7)
        _page_number(foot)
    usual: Any = word.styles["Normal"]
    usual.font.size = Pt(_USUAL_PT)
    usual.paragraph_format.space_after = Pt(4)
    for level, size in ((1, 15), (2, 11)):
        style: Any = word.styles[f"Heading {level}"]
        style.font.size = Pt(size)
        style.paragraph_format.space_before, style.paragraph_format.space_after = Pt(8), Pt(2)
    for block in told.blocks:
        _write(word, block)
    properties = word.core_properties
    title = next((one.text for one in told.blocks if isinstance(one, Heading)), "")
    properties.title, properties.author, properties.comments = visible(title)[:250], "", ""
    data = BytesIO()
    word.save(data)
    return same_bytes(data.getvalue())


def _told(text: str) -> str:
    """Return a text with what cannot be seen written out; a per cent sign stays with its number."""
    return re.sub(r"(?<=\d) (?=%)", "\u00a0", visible(text))


def _page_number(paragraph: Any) -> None:
    """Let the word processor write the number of the page."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn
    from docx.shared import Pt

    field = OxmlElement("w:fldSimple")
    field.set(qn("w:instr"), "PAGE")
    run = paragraph.add_run("1")
    run.font.size = Pt(7)
    field.append(run._r)
    paragraph._p.append(field)


def _write(word: WordDocument, block: object) -> None:
    match block:
        case Heading(text, level):
            word.add_heading(_told(text), level)
        case Answer(text):
            word.add_paragraph().add_run(_told(text)).bold = True
        case Paragraph(text) | Quote(text):
            word.add_paragraph(_told(text))
        case Remark(kind, text):
            paragraph = word.add_paragraph()
            paragraph.add_run(_KINDS[kind]).bold = True
            paragraph.add_run(_told(text))
        case Sentences(items):
            for item in items:
                word.add_paragraph(_told(item), "List Bullet")
        case Rows(rows):
            _table(word, (), rows, (False, False), (_CM_LABEL, _CM_TEXT))
        case Table(columns, rows):
            heads = [f"{one.header} ({one.unit})" if one.unit else one.header for one in columns]
            widths = _widths(heads, rows)
            _table(word, heads, rows, [one.align == "right" for one in columns], widths)
        case Figure(_, caption):
            word.add_paragraph(_told(caption))


def _widths(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[float]:
    """Share the width of the page by the longest text of each column [cm]; a head may wrap."""
    wanted = []
    for head, *cells in zip(heads, *rows, strict=True):
        # words of a head are bold, and are not broken
        longest = max([*map(len, cells), *(len(word) + 2 for word in head.split())])
        # an empty column is there to be written in
        longest = longest if any(cells) else _MOST_SIGNS
        wanted.append(min(max(longest, _FEWEST_SIGNS), _MOST_SIGNS))
    return [(_CM_LABEL + _CM_TEXT) * one / sum(wanted) for one in wanted]


def _table(word: WordDocument, heads: Any, rows: Any, right: Any, widths: Any) -> None:
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.oxml import OxmlElement
    from docx.shared import Cm, Pt

    lines = [tuple(heads), *rows] if heads else list(rows)
    table = word.add_table(len(lines), len(right))
    table.style = "Light Grid Accent 1" if heads else "Normal Table"
    table.autofit = False
    _to_the_margin(table)
    for column, width in zip(table.columns, widths, strict=True):
        column.width = Cm(width)
    for place, (line, row) in enumerate(zip(lines, table.rows, strict=True)):
        properties = row._tr.get_or_add_trPr()
        properties.append(OxmlElement("w:cantSplit"))
        if heads and not place:
            # repeated on the next page, and read out as heads
            properties.append(OxmlElement("w:tblHeader"))
        for number, (text, cell) in enumerate(zip(line, row.cells, strict=True)):
            paragraph = cell.paragraphs[0]
            paragraph.paragraph_format.space_after = Pt(0)
            run = paragraph.add_run(_told(text))
            run.font.size = Pt(_SMALL_PT)
            run.bold = not number or (bool(heads) and not place)
            if right[number]:
                paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT
            cell.width = Cm(widths[number])
        if not any(line[1:]):
            row.height = Cm(_CM_EMPTY)  # room to write
    after = word.add_paragraph()
    after.paragraph_format.space_after = Pt(0)
    after.paragraph_format.line_spacing = Pt(5)


def _to_the_margin(table: Any) -> None:
    """Let a table begin where the text does: a cell's own margin would hang to the left of it."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    indent = OxmlElement("w:tblInd")
    indent.set(qn("w:w"), str(_TWIPS_CELL))
    indent.set(qn("w:type"), "dxa")
    before = table._tbl.tblPr.find(qn("w:tblLayout"))
    before.addprevious(indent)


def same_bytes(data: bytes) -> bytes:
    """Return an office file without the moment at which it was written."""
    out = BytesIO()
    with ZipFile(BytesIO(data)) as old, ZipFile(out, "w", ZIP_DEFLATED) as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "docProps/core.xml":
                part = re.sub(
                    rb"(<dcterms:(created|modified)[^>]*>)[^<]*",
                    rb"\g<1>2000-01-01T00:00:00Z",
                    part,
                )
            info = ZipInfo(name, (2000, 1, 1, 0, 0, 0))
            info.compress_type = ZIP_DEFLATED
            new.writestr(info, part)
    return out.getvalue()
