"""A document as one self-contained page to print: the same blocks as on the screen, in grey."""

from __future__ import annotations

from collections.abc import Mapping

from surge_sim.report.document import Document, Heading
from surge_sim.report.html import html_of, text_of

#: nothing is loaded and nothing runs, whatever a text holds
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"

_STYLE = """
@page { margin: 16mm 18mm; }
body { font: 11pt/1.45 Georgia, "Times New Roman", serif; color: #111; background: #fff;
  max-width: 44em; margin: 2em auto; padding: 0 1em; }
h1 { font-size: 1.5em; line-height: 1.2; margin: 0 0 .6em; }
h2 { font-size: 1.12em; margin: 1.6em 0 .4em; border-bottom: 1px solid #777; padding-bottom: .15em;
  break-after: avoid; }
p { margin: .5em 0; }
.caution { font-size: .85em; color: #333; border-top: 1px solid #999; margin-top: 2em;
  padding-top: .5em; break-inside: avoid; }
p:has(+ table) { break-after: avoid; }
.warning { border: 2px solid #111; padding: .4em .7em; }
blockquote { border-left: .35em solid #111; padding: .1em .9em; margin: .6em 0; font-size: 1.08em; }
ul { margin: .4em 0; padding-left: 1.3em; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .25em 1.2em; margin: .6em 0; }
dt { font-weight: bold; } dd { margin: 0; }
dd:empty { border-bottom: 1px solid #999; min-height: 1.7em; }
table { border-collapse: collapse; width: 100%; margin: .6em 0; font-size: .93em; }
th, td { border: 1px solid #999; padding: .25em .5em; vertical-align: top; }
th { background: #eee; font-weight: bold; vertical-align: bottom; }
td:not([style*=left]) { white-space: nowrap; }
td:empty { height: 2.6em; width: 45%; }
/* columns to write in share what their neighbours leave */
table:has(td:empty + td:empty) { table-layout: fixed; break-inside: avoid; }
table:has(td:empty + td:empty) td:empty { height: 3.8em; width: auto; }
table:has(tr + tr) tr:first-child { break-after: avoid; }
tr { break-inside: avoid; } thead { display: table-header-group; }
figure { margin: .8em 0; break-inside: avoid; } figure svg { width: 100%; height: auto; }
figcaption { font-size: .88em; color: #333; }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 10.5pt; }
  h2 { margin-top: 1.1em; } ul, dl, table { margin: .4em 0; } dl { gap: .15em 1.2em; }
  .caution { margin-top: .8em; break-before: avoid; } }
"""


def page(document: Document, pictures: Mapping[str, str] | None = None) -> str:
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
    titles = (one.text for one in document.blocks if isinstance(one, Heading))
    return "\n".join(
        (
            "<!doctype html>",
            '<html lang="en">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{text_of(next(titles, ''))}</title>",
            f"<style>{_STYLE}</style>",
            "</head>",
            "<body>",
            html_of(document, pictures, top=1),
            "</body>",
            "</html>\n",
        )
    )
