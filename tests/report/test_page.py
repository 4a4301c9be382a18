"""A document as a page: the same words, nothing loaded, nothing run, texts shown as texts."""

from __future__ import annotations

from html.parser import HTMLParser

from surge_sim.report.document import (
    Answer,
    Column,
    Figure,
    Heading,
    Paragraph,
    Quote,
    Remark,
    Rows,
    Sentences,
    Table,
    document,
)
from surge_sim.report.page import page

HOSTILE = "<script>alert('1')</script>\x1b[31m & \"more\""


class Reader(HTMLParser):
    """Tags with their attributes, and the text between them."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.texts.append(data)


def read(text):
    reader = Reader()
    reader.feed(text)
    return reader


def everything(words):
    """Every kind of block, with the same words in all of them."""
    columns = Column(words, align="left"), Column("late", "min")
    return document(
        Heading(words, 1), Answer(words), Heading("Below"), Paragraph(words), Quote(words),
        Sentences((words, "another")), Rows(((words, words), ("Date", ""))),
        Table(columns, ((words, "3"), ("empty", ""))), Figure("picture", words),
        Remark("note", words), Remark("warning", words), Remark("caution", words),
    )  # fmt: skip


def test_every_block_shows_its_words():
    text = "".join(read(page(everything("Said here"))).texts)
    assert text.count("Said here") == 14  # and once in the title of the window
    assert "late (min)" in text
    assert "Note: Said here" in text and "Warning: Said here" in text and "Caution:" not in text


def test_a_text_is_never_markup_and_orders_nothing():
    reader = read(page(everything(HOSTILE), {"picture": "<svg></svg>"}))
    assert "script" not in {tag for tag, _ in reader.tags}
    assert {name for _, attributes in reader.tags for name in attributes} <= {
        "lang", "charset", "http-equiv", "content", "name", "class", "style",
    }  # fmt: skip
    assert "\x1b" not in "".join(reader.texts)
    assert "<script>alert('1')</script>\\x1b[31m" in "".join(reader.texts)


def test_a_page_loads_nothing():
    text = page(everything("Said here"))
    assert "default-src 'none'" in text
    assert "http://" not in text and "https://" not in text and "url(" not in text


def test_a_figure_is_a_picture_where_there_is_one():
    with_it = read(page(everything("x"), {"picture": "<svg></svg>"}))
    assert [tag for tag, _ in with_it.tags].count("svg") == 1
    assert "figure" not in {tag for tag, _ in read(page(everything("x"))).tags}


def test_an_empty_cell_is_a_space_to_write_in():
    """The style gives it room; nothing may stand in it, not even a blank."""
    assert '<td style="text-align: right"></td>' in page(everything("x"))
    assert "td:empty" in page(everything("x"))
