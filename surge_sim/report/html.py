"""A document as HTML for a notebook: the same words; whatever is in them is text."""

from __future__ import annotations

from html import escape

from surge_sim.plain import visible
from surge_sim.report import document as doc


def html_of(document: doc.Document) -> str:
    """Return a document as one HTML element, without styles of its own but for alignment."""
    return "<div>" + "".join(_block(block) for block in document.blocks) + "</div>"


def _block(block: doc.Block) -> str:
    match block:
        case doc.Heading(text, level):
            return _tag(f"h{level + 2}", text)
        case doc.Answer(text):
            return f"<p><strong>{_text(text)}</strong></p>"
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
        case doc.Figure(file, caption):
            return f"<p>Figure: {_text(caption)} ({_text(file)})</p>"
        case doc.Remark("caution", text):
            return f"<p><em>{_text(text)}</em></p>"
        case doc.Remark(kind, text):
            return f"<p>{kind.capitalize()}: {_text(text)}</p>"


def _table(table: doc.Table) -> str:
    def row(cells: tuple[str, ...], tag: str) -> str:
        said = (
            f'<{tag} style="text-align: {column.align}">{_text(cell)}</{tag}>'
            for column, cell in zip(table.columns, cells, strict=True)
        )
        return f"<tr>{''.join(said)}</tr>"

    heads = tuple(
        f"{column.header} ({column.unit})" if column.unit else column.header
        for column in table.columns
    )
    body = "".join(row(cells, "td") for cells in table.rows)
    return f"<table><thead>{row(heads, 'th')}</thead><tbody>{body}</tbody></table>"


def _tag(name: str, text: str) -> str:
    return f"<{name}>{_text(text)}</{name}>"


def _text(text: str) -> str:
    return escape(visible(text))
