"""A document as a file for a word processor: to be edited, printed and signed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from io import BytesIO
from types import MappingProxyType
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
from surge_sim.report.phrases import folded

if TYPE_CHECKING:
    from docx.document import Document as WordDocument

_KINDS = {"note": "Note: ", "warning": "Warning: ", "caution": "Caution: "}
_SMALL_PT, _USUAL_PT = 8, 9
#: characters of a command on a line
_LONGEST_COMMAND = 74
_CM_LABEL, _CM_TEXT, _CM_EMPTY = 3.2, 14.4, 0.8
#: a column of a table counts with so many characters at most; width of one, and of the margins of
#: a cell
_MOST_SIGNS, _CM_SIGN, _CM_CELL = 40, 0.18, 0.45
#: margin of a cell, in twentieths of a point
_TWIPS_CELL = 108
#: a table of so many lines stays on one page; a longer one is parted between rows
_MOST_WHOLE = 24
#: a list of labelled rows of at most so many lines stays on one page
_MOST_TOGETHER = 10
#: letters that word processors have or replace by others of the same width
_FONT = "Arial"
#: colours of the lines of a table, of a line above sums, and of heads
_LINE, _DARK, _HEAD = "B8C4D0", "404A54", "E4EBF3"


def word_file(told: Document) -> bytes:
    """Return a document as a .docx file; the same document is the same file.

    Figures are left out: their captions stand in their place.
    """
    from docx import Document as new_document
    from docx.shared import Cm, Pt

    word = new_document()
    for section in word.sections:
        section.page_width, section.page_height = Cm(21), Cm(29.7)
        section.left_margin = section.right_margin = Cm(1.7)
        section.top_margin, section.bottom_margin = Cm(1.5), Cm(1.8)
        section.footer_distance = Cm(0.8)
        foot = section.footer.paragraphs[0]
        foot.add_run(f"{CAUTION_ON_PAPER} Page ").font.size = Pt(7)
        _field(foot, "PAGE")
        foot.add_run(" of ").font.size = Pt(7)
        _field(foot, "NUMPAGES")
    usual: Any = word.styles["Normal"]
    usual.font.size = Pt(_USUAL_PT)
    _letters(usual)
    usual.paragraph_format.space_after = Pt(3)
    usual.paragraph_format.line_spacing = 1.0
    usual.paragraph_format.keep_together = True
    for level, size in ((1, 14), (2, 11)):
        style: Any = word.styles[f"Heading {level}"]
        style.font.size = Pt(size)
        _letters(style)
        style.paragraph_format.space_before, style.paragraph_format.space_after = Pt(6), Pt(2)
        style.paragraph_format.keep_with_next = True
    for block, after in zip(told.blocks, (*told.blocks[1:], None), strict=True):
        _write(word, block)
        if (
            isinstance(block, Paragraph)
            and isinstance(after, Table)
            and _to_fill_in(after.rows, dict.fromkeys(after.groups, "group"))
        ):
            word.paragraphs[-1].paragraph_format.keep_with_next = True
    properties = word.core_properties
    title = next((one.text for one in told.blocks if isinstance(one, Heading)), "")
    properties.title, properties.author, properties.comments = visible(title)[:250], "", ""
    data = BytesIO()
    word.save(data)
    return same_bytes(data.getvalue())


def _letters(style: Any) -> None:
    """Give a style letters of its own, not those of the theme."""
    from docx.oxml.ns import qn

    style.font.name = _FONT
    fonts = style.element.rPr.rFonts
    for name in ("ascii", "hAnsi", "eastAsia", "cs"):
        fonts.attrib.pop(qn(f"w:{name}Theme"), None)


def _told(text: str) -> str:
    """Return a text with what cannot be seen written out; a per cent sign stays with its number."""
    return re.sub(r"(?<=\d) (?=%)", "\u00a0", visible(text))


def _unbroken(text: str) -> str:
    """Keep a number of a table on one line; ``34 of 50 (53 to 80 %)`` breaks before brackets."""
    parts = text.split(" (")
    return " (".join(part.replace(" ", "\u00a0") for part in parts)


def _field(paragraph: Any, name: str) -> None:
    """Let the word processor write a number: of the page, of all pages."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn
    from docx.shared import Pt

    field = OxmlElement("w:fldSimple")
    field.set(qn("w:instr"), name)
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
            heads = [one.head for one in columns]
            right = [one.align == "right" for one in columns]
            looks = dict.fromkeys(block.sums, "sum") | dict.fromkeys(block.strong, "strong")
            looks |= dict.fromkeys(block.groups, "group")
            apart = [row for place, row in enumerate(rows) if place not in block.groups]
            _table(word, heads, rows, right, _widths(heads, apart, right), looks)
        case Figure(_, caption):
            word.add_paragraph(_told(caption))


def _widths(
    heads: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[bool]
) -> list[float]:
    """Share the width of the page [cm]: numbers get what they need, words may be broken."""
    wanted, least = [], []
    for place, (head, *cells) in enumerate(zip(heads, *rows, strict=True)):
        # a number may be broken before brackets, words and heads between words; heads are bold
        parts = [part for cell in cells for part in cell.split(" (")]
        words = [1.2 * len(word) for text in (head, *cells) for word in text.split()]
        of_head = max((1.2 * len(word) for word in head.split()), default=0)
        # an empty column is there to be written in
        longest = max([of_head, *map(len, cells)]) if any(cells) else _MOST_SIGNS
        wanted.append(_CM_SIGN * min(longest, _MOST_SIGNS) + _CM_CELL)
        whole = max([of_head, *map(len, parts)] if right[place] else [*words, 0])
        short = _CM_SIGN * whole + _CM_CELL
        least.append(min(short, wanted[-1]))
    rest = _CM_LABEL + _CM_TEXT - sum(wanted)
    if rest >= 0:
        return [one + rest / len(wanted) for one in wanted]
    give = sum(wanted) - sum(least)
    part = min(-rest / give, 1.0) if give else 1.0
    found = [one - part * (one - other) for one, other in zip(wanted, least, strict=True)]
    return [(_CM_LABEL + _CM_TEXT) * one / sum(found) for one in found]


def _table(
    word: WordDocument,
    heads: Any,
    rows: Any,
    right: Any,
    widths: Any,
    looks: Mapping[int, str] = MappingProxyType({}),
) -> None:
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.oxml import OxmlElement
    from docx.shared import Cm, Pt

    lines = [tuple(heads), *rows] if heads else list(rows)
    table = word.add_table(len(lines), len(right))
    table.style = "Normal Table"
    table.autofit = False
    # heads are not left alone, and a short table is not parted
    fill_in = _to_fill_in(rows, looks)
    short = len(lines) <= (_MOST_WHOLE if heads else _MOST_TOGETHER)
    held = len(lines) - 1 if short or fill_in else 2 * bool(heads)
    _to_the_margin(table)
    for column, width in zip(table.columns, widths, strict=True):
        column.width = Cm(width)
    for place, (line, row) in enumerate(zip(lines, table.rows, strict=True)):
        look = looks.get(place - 1, "") if heads else ""
        properties = row._tr.get_or_add_trPr()
        properties.append(OxmlElement("w:cantSplit"))
        if heads and not place:
            # repeated on the next page, and read out as heads
            properties.append(OxmlElement("w:tblHeader"))
            look = "head"
        for number, (text, cell) in enumerate(zip(line, row.cells, strict=True)):
            paragraph = cell.paragraphs[0]
            paragraph.paragraph_format.space_after = Pt(0)
            paragraph.paragraph_format.keep_with_next = place < held
            told = _told(_unbroken(text)) if right[number] and place else _told(text)
            run = paragraph.add_run()
            # line ends of a command are its own
            run.text = folded(told, _LONGEST_COMMAND) if not heads else told
            run.font.size = Pt(_SMALL_PT)
            run.bold = bool(look) if heads else not number
            if right[number]:
                paragraph.alignment = WD_ALIGN_PARAGRAPH.RIGHT
            cell.width = Cm(widths[number])
            _mark_size(paragraph)
            if heads:
                _cell_look(cell, look, between=bool(number) and fill_in)
        if look == "group":
            whole = row.cells[0].merge(row.cells[-1])
            for empty in whole.paragraphs[1:]:
                whole._tc.remove(empty._p)
        elif not any(line[1:]):
            row.height = Cm(_CM_EMPTY)  # room to write
    after = word.add_paragraph()
    after.paragraph_format.space_after = Pt(0)
    after.paragraph_format.line_spacing = Pt(5)


def _mark_size(paragraph: Any) -> None:
    """Give the end of a paragraph small letters, too: it sets the height of an empty cell."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    mark, size = OxmlElement("w:rPr"), OxmlElement("w:sz")
    size.set(qn("w:val"), str(2 * _SMALL_PT))
    mark.append(size)
    paragraph._p.get_or_add_pPr().append(mark)


def _cell_look(cell: Any, look: str, between: bool) -> None:
    """Draw the lines of a cell, and colour heads."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    properties = cell._tc.get_or_add_tcPr()
    borders = OxmlElement("w:tcBorders")
    sides = [("top", _DARK)] if look == "sum" else []
    # columns to write in are told apart; the order is that of the format
    sides += [("left", _LINE)] if between else []
    for side, colour in (*sides, ("bottom", _DARK if look == "head" else _LINE)):
        line = OxmlElement(f"w:{side}")
        for name, value in (("val", "single"), ("sz", "4"), ("space", "0"), ("color", colour)):
            line.set(qn(f"w:{name}"), value)
        borders.append(line)
    properties.append(borders)
    if look in ("head", "group"):
        ground = OxmlElement("w:shd")
        for name, value in (("val", "clear"), ("color", "auto"), ("fill", _HEAD)):
            ground.set(qn(f"w:{name}"), value)
        properties.append(ground)


def _to_fill_in(
    rows: Sequence[Sequence[str]], looks: Mapping[int, str] = MappingProxyType({})
) -> bool:
    """Say whether a table has lines to write in: it is not parted by the end of a page."""
    return any(not any(row[1:]) and looks.get(place) != "group" for place, row in enumerate(rows))


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
