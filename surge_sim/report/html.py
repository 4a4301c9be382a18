"""A document as HTML: the same words, and whatever is in them is text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from html import escape
from typing import Any

from surge_sim.plain import visible
from surge_sim.report import document as doc


def html_of(document: doc.Document, pictures: Mapping[str, str] | None = None, top: int = 3) -> str:
    """Return a document as one HTML element, without styles of its own but for alignment.

    Parameters
    ----------
    document : Document
        What is said.
    pictures : mapping of str to str, optional
        SVG texts of our own making, by the file that a figure names.
    top : int
        Level of the title's heading; 3 below the headings of a notebook.
    """
    blocks = (_block(block, pictures or {}, top) for block in document.blocks)
    return "\n".join(("<div>", *blocks, "</div>"))


def text_of(plain: str) -> str:
    """Return a text as HTML that shows it: no markup, no orders."""
    return escape(visible(plain))


def filled(page: str, **parts: str) -> str:
    """Put parts in the places that are marked for them; marks inside the parts stay as they are.

    Parameters
    ----------
    page : str
        A page of our own with marks, ``@TITLE@``.
    parts : str
        What stands in their place, by name: ``TITLE=...``; as HTML.
    """
    found = []
    while page:
        before, at, rest = page.partition("@")
        name, end, after = rest.partition("@")
        if at and end and name in parts:
            found += [before, parts[name]]
            page = after
        else:
            found += [before, at]
            page = rest
    return "".join(found)


def as_data(data: dict[str, Any]) -> str:
    """Write JSON that cannot end the element in which it stands."""
    written = json.dumps(data, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return written.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _block(block: doc.Block, pictures: Mapping[str, str], top: int) -> str:
    match block:
        case doc.Heading(text, level):
            return _tag(f"h{level + top - 1}", text)
        case doc.Answer(text):
            return f'<p class="answer"><strong>{text_of(text)}</strong></p>'
        case doc.Paragraph(text):
            return _tag("p", text)
        case doc.Quote(text):
            return _tag("blockquote", text)
        case doc.Sentences(items):
            return "<ul>" + "".join(_tag("li", item) for item in items) + "</ul>"
        case doc.Rows(rows):
            said = "".join(_tag("dt", label) + _tag("dd", text) for label, text in rows)
            return f"<dl>{said}</dl>"
        case doc.Table():
            return _table(block)
        case doc.Figure(file, caption) if file in pictures:
            shown = f"<figcaption>{text_of(caption)}</figcaption>"
            return f"<figure>{pictures[file]}{shown}</figure>"
        case doc.Figure(file, caption):
            return f"<p>Figure: {text_of(caption)} ({text_of(file)})</p>"
        case doc.Remark("caution", text):
            return f'<p class="caution"><em>{text_of(text)}</em></p>'
        case doc.Remark(kind, text):
            return f'<p class="{kind}">{kind.capitalize()}: {text_of(text)}</p>'


def _table(table: doc.Table) -> str:
    def row(cells: tuple[str, ...], tag: str) -> str:
        said = (
            f'<{tag} style="text-align: {column.align}">{text_of(cell)}</{tag}>'
            for column, cell in zip(table.columns, cells, strict=True)
        )
        return f"\n<tr>{''.join(said)}</tr>"

    heads = tuple(column.head for column in table.columns)
    body = "".join(row(cells, "td") for cells in table.rows)
    return f"<table><thead>{row(heads, 'th')}</thead><tbody>{body}</tbody></table>"


def _tag(name: str, text: str) -> str:
    return f"<{name}>{text_of(text)}</{name}>"
