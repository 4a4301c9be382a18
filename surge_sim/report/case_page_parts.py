"""Parts of a case's page as HTML: blocks of the document, charts, causes of waiting, inputs.

Whatever comes from a file is text: it passes `text_of`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.purchase.assumptions import INVENTED, NO_SOURCE, NOT_SAID, PARTLY, SOURCED
from surge_sim.report import document as doc
from surge_sim.report.case_charts import Course, Picture, legend, pairs_pictures
from surge_sim.report.case_life import life_values
from surge_sim.report.case_words import hand_head, hand_words
from surge_sim.report.html import text_of
from surge_sim.report.phrases import counted_plays, per_play, plays_name
from surge_sim.report.rounding import counted, number, percent

if TYPE_CHECKING:
    from surge_sim.purchase.assumptions import Assumption
    from surge_sim.purchase.case import PurchaseCase

#: how well inputs are known, the least known first
_STANDINGS = (INVENTED, PARTLY, NOT_SAID, SOURCED)
#: looks of both stocks in a chart
_BOTH = ("now line", "then line")
#: class of a row that names the rows below it
_GROUP = "group"


def blocks_html(blocks: Iterable[doc.Block], name: str) -> str:
    """Return blocks of a document; `name` is what a screen reader calls their tables."""
    return "\n".join(_block(block, name) for block in blocks)


def _block(block: doc.Block, name: str) -> str:
    match block:
        case doc.Heading(text, _):
            return f"<h3>{text_of(text)}</h3>"
        case doc.Answer(text) | doc.Paragraph(text):
            return f"<p>{text_of(text)}</p>"
        case doc.Quote(text):
            return f"<blockquote>{text_of(text)}</blockquote>"
        case doc.Sentences(items):
            return "<ul>" + "".join(f"<li>{text_of(item)}</li>" for item in items) + "</ul>"
        case doc.Rows(rows):
            pairs = (f"<div><dt>{text_of(a)}</dt><dd>{text_of(b)}</dd></div>" for a, b in rows)
            return f"<dl>{''.join(pairs)}</dl>"
        case doc.Table(columns, rows):
            heads = [one.head for one in columns]
            left = [place for place, one in enumerate(columns) if one.align == "left"]
            looks = dict.fromkeys(block.sums, "sum") | dict.fromkeys(block.strong, "strong")
            return table_html(name, heads, rows, left, looks | dict.fromkeys(block.groups, _GROUP))
        case doc.Figure(_, caption):
            return f"<p>{text_of(caption)}</p>"
        case doc.Remark(kind, text):
            said = "" if kind == "caution" else f"{kind.capitalize()}: "
            return f'<p class="{kind}">{said}{text_of(text)}</p>'


def table_html(
    name: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    left: Sequence[int] = (0,),
    looks: Mapping[int, str] = MappingProxyType({}),
) -> str:
    """Return a table that a narrow screen scrolls sideways; the first column names the rows.

    Parameters
    ----------
    name : str
        What a screen reader calls it.
    heads : sequence of str
        Of the columns.
    rows : iterable of sequences of str
        Their cells.
    left : sequence of int
        Columns of words; the others are numbers and stand at the right.
    looks : mapping of int to str
        Class of rows that are set off; those of the class `group` name the rows below them.
    """

    def cell(place: int, text: str, tag: str, more: str = "") -> str:
        look = ' class="words"' if place in left else ""
        return f"<{tag}{more}{look}>{text_of(text)}</{tag}>"

    head = "".join(
        cell(place, text, "th", ' scope="col"') if text else "<td></td>"
        for place, text in enumerate(heads)
    )

    def line(row: Sequence[str], look: str) -> str:
        begin = f'<tr class="{look}">' if look else "<tr>"
        if look == _GROUP:
            return begin + cell(0, row[0], "td", f' colspan="{len(row)}"') + "</tr>"
        cells = "".join(cell(place, text, "td") for place, text in enumerate(row[1:], 1))
        return begin + cell(0, row[0], "th", ' scope="row"') + cells + "</tr>"

    body = "".join(line(row, looks.get(place, "")) for place, row in enumerate(rows))
    return (
        f'<div class="wide" role="group" aria-label="{text_of(name)}" tabindex="0"><table>'
        f'<caption class="unseen">{text_of(name)}</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def figure_html(picture: Picture, name: str, above: str = "") -> str:
    """Return a chart with its caption, and its numbers to open."""
    numbers = ""
    if picture.rows:
        table = table_html(f"{name}: numbers", picture.heads, picture.rows)
        numbers = f"<details><summary>Numbers of this picture</summary>{table}</details>"
    head = f"<h3>{text_of(name)}</h3>"
    caption = f"<figcaption>{text_of(picture.caption)}</figcaption>"
    return f"<figure>{head}{above}{picture.svg}{caption}{numbers}</figure>"


def legend_html(entries: Sequence[tuple[str, str]]) -> str:
    """Return the names of looks, each beside a small picture of it."""
    items = "".join(f"<li>{svg}{text_of(name)}</li>" for svg, name in legend(entries))
    return f'<ul class="legend">{items}</ul>'


def pairs_html(case: PurchaseCase) -> str:
    """Return pictures of every surge with both stocks: how people were served in it."""
    entries = [(hand_head(case).lower(), "now cross"), ("as requested", "then dot")]
    figures = [figure_html(picture, name) for name, picture in pairs_pictures(case).items()]
    plays = counted_plays(len(case.same_surges), case.replay)
    one = plays_name(case.replay).removesuffix("s")
    said = (
        f"Each of the same {plays}, sorted by {hand_words(case)}. A thin line joins both marks of "
        f"a {one}."
    )
    return f'<p>{text_of(said)}</p>{legend_html(entries)}<div class="pair">{"".join(figures)}</div>'


def course_html(case: PurchaseCase) -> str:
    """Return the pictures of the course of a surge."""
    course, plays = Course(case), plays_name(case.replay)
    one = plays.removesuffix("s")
    when = "in the hour of each day with the least free" if course.by_day else "in each hour"
    both = legend_html(list(zip((hand_head(case), "As requested"), _BOTH, strict=True)))
    parts = [figure_html(course.people(), "People at the door", both)]
    if course.has_rooms:
        parts.append(figure_html(course.rooms(), "Patients in isolation rooms"))
    parts = [f'<div class="pair">{"".join(parts)}</div>']
    for thing in ("kits", "batteries"):
        entries = [
            *course.shown_states(thing)[::-1],
            (f"1 {one} in 10: so many or more are not free", "most"),
            ("in the unit", "limit"),
        ]
        now, then = (
            figure_html(picture, f"{thing.capitalize()}: {stock}")
            for picture, stock in zip(
                course.things(thing), (hand_head(case).lower(), "as requested"), strict=True
            )
        )
        said = (
            f"Where {thing} are {when}: means over {plays}, on one another. What is left empty "
            "below the dotted line is free."
        )
        parts.append(
            f'<p>{text_of(said)}</p>{legend_html(entries)}<div class="pair">{now}{then}</div>'
        )
    return "\n".join(parts)


def waiting_html(case: PurchaseCase) -> str:
    """Return what people waited for, with both stocks: bars and numbers in one table."""
    table = case.waiting
    if table.empty:
        return "<p>Nobody waited.</p>"
    most = float(table[["hours_per_surge_in_hand", "hours_per_surge_proposed"]].to_numpy().max())
    shown = table[table[["share_in_hand", "share_proposed"]].max(axis=1) >= 0.005]
    rows = []
    for row in shown.to_dict(orient="records"):
        cells = [f'<th scope="row" class="words">{text_of(str(row["cause_of_waiting"]))}</th>']
        for stock, look in (("in_hand", "now"), ("proposed", "then")):
            hours = float(row[f"hours_per_surge_{stock}"])
            bar = (
                f'<svg class="bar" viewBox="0 0 100 10" preserveAspectRatio="none" '
                f'aria-hidden="true"><path class="{look} fill" '
                f'd="M0 0h{100 * hours / most:.2f}v10H0z"/></svg>'
            )
            share = percent(float(row[f"share_{stock}"]), 0.1)
            cells.append(f'<td>{bar}<span class="n">{number(hours)} h ({share})</span></td>')
        reduced = str(row["reduced_by"]) if isinstance(row["reduced_by"], str) else ""
        cells.append(f'<td class="words">{text_of(reduced)}</td>')
        rows.append(f"<tr>{''.join(cells)}</tr>")
    per = per_play(case.replay)
    name = f"Hours waited {per}, all people together, by what was missing"
    heads = "".join(
        f'<th scope="col"{look}>{text_of(words)}</th>'
        for words, look in (
            ("Waiting for", ' class="words"'), (hand_head(case), ""), ("As requested", ""),
            ("More of this would reduce it", ' class="words"'),
        )
    )  # fmt: skip
    rest = len(table) - len(shown)
    left_out = f" {counted(rest, 'rarer cause')} left out." if rest else ""
    return (
        f"<h3>What people waited for</h3><p>{text_of(name)}; in brackets its share of all hours "
        f"waited with that stock.{left_out}</p>"
        f'<div class="wide" role="group" aria-label="{text_of(name)}" tabindex="0">'
        f'<table class="bars"><caption class="unseen">{text_of(name)}</caption>'
        f"<thead><tr>{heads}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def assumptions_html(case: PurchaseCase) -> str:
    """Return every input below its source, those of the life of the equipment last.

    All are shut: a page of open ones is too long to be looked through.
    """
    groups = list(_by_source(case.assumptions))
    known = Counter(one.standing for one in case.assumptions)
    said = "; ".join(f"{known[one]:,} {one}" for one in _STANDINGS if known[one])
    parts = [
        f"<p>Of {len(case.assumptions):,} input values: {text_of(said)}, by the source that the "
        "scenario names for the section. An invented value is a guess, however many surges are "
        "played: put measured ones in its place.</p>"
    ]
    for group in sorted(groups, key=lambda one: _STANDINGS.index(one.standing)):
        rows = "".join(
            f"<div><dt>{_breakable(name)}</dt><dd>{text_of(value)}</dd></div>"
            for name, value in group.rows
        )
        head = f"{group.section}: {counted(group.values, 'value')}, {group.standing}"
        source = "" if group.source in (group.standing, NO_SOURCE) else group.source
        said = f"<p>{text_of(source)}</p>" if source else ""
        parts.append(
            f"<details><summary>{text_of(head)}</summary>{said}"
            f'<dl class="inputs">{rows}</dl></details>'
        )
    if case.life is not None:
        values = life_values(case.life)
        table = table_html(
            "Life of the equipment: values and sources", ("Input", "Value", "Source"),
            values, (0, 1, 2),
        )  # fmt: skip
        head = f"Life of the equipment: {counted(len(values), 'value')}"
        parts.append(f"<details><summary>{text_of(head)}</summary>{table}</details>")
    return "\n".join(parts)


def _breakable(name: str) -> str:
    """Return a dotted name that may be broken into lines where its words end."""
    return text_of(name).replace(".", ".<wbr>").replace("_", "_<wbr>")


class _Group(NamedTuple):
    """Inputs of one section that have one source."""

    section: str
    standing: str
    source: str
    written: bool
    values: int
    #: name within the section, and value; a plain list is one input
    rows: tuple[tuple[str, str], ...]


def _by_source(inputs: Sequence[Assumption]) -> Iterator[_Group]:
    """Yield the inputs in the order of the file, those of one source together."""

    def group_of(one: Assumption) -> tuple[str, str, str, bool]:
        unsaid = one.standing == NOT_SAID and not one.written
        section = "Defaults of sections that the file leaves out" if unsaid else one.section
        return section, one.standing, one.source, one.written

    def name_of(one: Assumption) -> str:
        stem, _, last = one.name.rpartition(".")
        return stem if last.isdigit() else one.name

    # sections without a source lie between others, and stand together
    inputs = sorted(inputs, key=lambda one: one.standing == NOT_SAID and not one.written)
    for key, group in groupby(inputs, group_of):
        rows, count = [], 0
        for name, members in groupby(group, name_of):
            values = ["none" if one.value is None else str(one.value) for one in members]
            rows.append((name.removeprefix(f"{key[0]}."), ", ".join(values)))
            count += len(values)
        yield _Group(*key, count, tuple(rows))
