"""A document as one self-contained page to print: the same blocks as on the screen, in grey."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape

from surge_sim.plain import for_screen
from surge_sim.report import document as doc

#: nothing is loaded and nothing runs, whatever a text holds
_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"

_STYLE = """
@page { margin: 16mm 18mm; }
body { font: 11pt/1.45 Georgia, "Times New Roman", serif; color: #111; background: #fff;
  max-width: 44em; margin: 2em auto; padding: 0 1em; }
h1 { font-size: 1.5em; line-height: 1.2; margin: 0 0 .6em; }
h2 { font-size: 1.12em; margin: 1.6em 0 .4em; border-bottom: 1px solid #777; padding-bottom: .15em;
  break-after: avoid; }
p { margin: .5em 0; }
.answer { font-weight: bold; }
.caution { font-size: .85em; color: #333; border-top: 1px solid #999; margin-top: 2em;
  padding-top: .5em; }
.warning { border: 2px solid #111; padding: .4em .7em; }
.aloud { border-left: .35em solid #111; padding: .1em .9em; margin: .6em 0; font-size: 1.08em; }
ul { margin: .4em 0; padding-left: 1.3em; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .25em 1.2em; margin: .6em 0; }
dt { font-weight: bold; } dd { margin: 0; } 
dd:empty { border-bottom: 1px solid #999; min-height: 1.7em; }
table { border-collapse: collapse; width: 100%; margin: .6em 0; font-size: .93em; }
th, td { border: 1px solid #999; padding: .25em .5em; text-align: right; vertical-align: top; }
th { background: #eee; font-weight: bold; vertical-align: bottom; }
td { white-space: nowrap; }
.left { text-align: left; white-space: normal; }
tr { break-inside: avoid; } thead { display: table-header-group; }
td.blank { height: 2.6em; min-width: 8em; }
figure { margin: .8em 0; break-inside: avoid; } figure svg { width: 100%; height: auto; }
figcaption { font-size: .88em; color: #333; }
@media print { body { margin: 0; padding: 0; max-width: none; } }
"""


def page(document: doc.Document, pictures: Mapping[str, str] | None = None) -> str:
    """Return a document as a page.

    Parameters
    ----------
    document : Document
        What is said; its first heading is the title. An empty cell is a space to write in.
    pictures : mapping of str to str, optional
        SVG texts of our own making, by the file that a figure names.

    Returns
    -------
    str
        HTML that needs nothing else: no network, no script. Texts are shown as texts.
    """
    heads = (one.text for one in document.blocks if isinstance(one, doc.Heading))
    body = "\n".join(_shown(one, pictures or {}) for one in document.blocks)
    return "\n".join(
        (
            "<!doctype html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{text(next(heads, ''))}</title>",
            f"<style>{_STYLE}</style>",
            "</head>",
            "<body>",
            body,
            "</body>",
            "</html>\n",
        )
    )


def text(plain: str) -> str:
    """Return a text as HTML that shows it: no markup, no orders."""
    return escape(for_screen(plain))


def _shown(block: doc.Block, pictures: Mapping[str, str]) -> str:
    match block:
        case doc.Heading(words, level):
            return f"<h{level}>{text(words)}</h{level}>"
        case doc.Answer(words):
            return f'<p class="answer">{text(words)}</p>'
        case doc.Paragraph(words):
            return f"<p>{text(words)}</p>"
        case doc.Quote(words):
            return f'<blockquote class="aloud">{text(words)}</blockquote>'
        case doc.Sentences(items):
            return f"<ul>{''.join(f'<li>{text(one)}</li>' for one in items)}</ul>"
        case doc.Rows(rows):
            pairs = (f"<dt>{text(label)}</dt><dd>{text(said)}</dd>" for label, said in rows)
            return f"<dl>{''.join(pairs)}</dl>"
        case doc.Table():
            return "".join(_table(block))
        case doc.Figure(file, caption):
            picture = pictures.get(file, "")
            return f"<figure>{picture}<figcaption>{text(caption)}</figcaption></figure>"
        case doc.Remark(kind, words):
            label = "" if kind == "caution" else f"<b>{kind.capitalize()}:</b> "
            return f'<p class="{kind}">{label}{text(words)}</p>'


def _table(table: doc.Table) -> Iterator[str]:
    sides = [' class="left"' if one.align == "left" else "" for one in table.columns]
    yield "<table><thead><tr>"
    for column, side in zip(table.columns, sides, strict=True):
        unit = f" ({text(column.unit)})" if column.unit else ""
        yield f"<th{side}>{text(column.header)}{unit}</th>"
    yield "</tr></thead><tbody>"
    for row in table.rows:
        yield "<tr>"
        for cell, side in zip(row, sides, strict=True):
            yield f"<td{side}>{text(cell)}</td>" if cell else '<td class="blank"></td>'
        yield "</tr>"
    yield "</tbody></table>"
