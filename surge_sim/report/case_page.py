"""The page of a case: one file that opens offline, with all that the document says, and more.

Its sections are those of the document, in its words and with its numbers; beside them stand
pictures, every input, and the stages as a reader may move money and target. Texts of files travel
as text. The only script is ours: the page's policy names it by its digest and loads nothing.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator, Sequence
from importlib.resources import files
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.cautions import CAUTION
from surge_sim.report import document as doc
from surge_sim.report.case_checklist import SOURCE, checklist
from surge_sim.report.case_document import answer_words, case_document, invented_parts
from surge_sim.report.case_page_data import case_data
from surge_sim.report.case_page_parts import (
    assumptions_html,
    blocks_html,
    course_html,
    pairs_html,
    table_html,
    waiting_html,
)
from surge_sim.report.case_stages import count
from surge_sim.report.case_words import hand_head, price_words, sized_parts
from surge_sim.report.html import as_data, filled, text_of
from surge_sim.report.phrases import counted_plays, per_play, plays_name
from surge_sim.report.rounding import number, percent

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

#: sections of the document that the page shows elsewhere, or in another form
_REQUEST, _HAVE, _LESS, _MORE, _NOTHING = (
    "Request", "What we have", "Why not less", "Why not more", "If nothing is done",
)  # fmt: skip
_DEPENDS, _CHECK = "What it depends on", "Where to check"
#: what no number here says
_LIMITS = (
    "Whether a respirator, a room or a procedure protects anybody; fit, seal, exposure and "
    "infection; training; how care suffers from a wait.",
    "Inputs that are wrong: more simulated surges do not help. Random variation between surges "
    "is allowed for, a unit that differs from its description is not.",
    "Stages of buying that are not in the table: the sizing looked at more stocks, this page "
    "looks at these.",
    "A surge unlike those that the scenario describes: all surges here are drawn from it.",
)
#: widest text that is shown as the question of a file
_LONGEST = 600


class Section(NamedTuple):
    """A part of the page, and its name in the contents."""

    mark: str
    name: str
    html: str


def case_page(case: PurchaseCase) -> str:
    """Return the page.

    Parameters
    ----------
    case : PurchaseCase
        What is told.

    Returns
    -------
    str
        HTML that needs nothing else: no network, no other file.
    """
    script, style = _own("page.js"), _own("page.css")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = (
        "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; "
        f"script-src 'sha256-{digest}'"
    )
    sections = list(_sections(case))
    nav = "".join(f'<li><a href="#{one.mark}">{text_of(one.name)}</a></li>' for one in sections)
    main = "\n".join(
        f'<section id="{one.mark}" aria-labelledby="{one.mark}-name">'
        f'<h2 id="{one.mark}-name">{text_of(one.name)}</h2>\n{one.html}\n</section>'
        for one in sections
    )
    settings = case.scenario.settings
    question = " ".join(settings.question.split())[:_LONGEST]
    return filled(
        _own("page.html"),
        POLICY=policy,
        TITLE=text_of(settings.title or case.scenario.name),
        STYLE=style,
        QUESTION=f'<p class="question">{text_of(question)}</p>' if question else "",
        NAV=nav,
        MAIN=main,
        FOOT=f'<p class="caution">{text_of(CAUTION)}</p>',
        DATA=as_data(case_data(case)),
        SCRIPT=script,
    )


def _own(name: str) -> str:
    return files("surge_sim.report").joinpath("case", name).read_text("utf-8")


def _sections(case: PurchaseCase) -> Iterator[Section]:
    """Yield the sections in the order in which they are read."""
    told = dict(_told(case_document(case, signatures=False)))
    rest = [name for name in told if name not in (_REQUEST, _HAVE, _LESS, _MORE, _NOTHING)]
    late = [name for name in rest if name in (_DEPENDS, _CHECK)]
    said = blocks_html((*sized_parts(case), *invented_parts(case)), "")
    answer = f'<p class="lead">{text_of(answer_words(case))}</p>{said}{_facts(case)}'
    yield Section("answer", "The answer", answer + blocks_html(told.get(_REQUEST, ()), _REQUEST))
    if _NOTHING in told:
        said = blocks_html(told[_NOTHING], _NOTHING)
        yield Section("nothing", _NOTHING, said + pairs_html(case))
    yield Section("service", "Money and service", _explore(case, told))
    have = blocks_html(told.get(_HAVE, ()), _HAVE)
    yield Section("waiting", "What we have, and what people wait for", have + waiting_html(case))
    yield Section("course", "The course of a surge", course_html(case))
    for place, name in enumerate(rest):
        if name not in late:
            yield Section(f"part-{place}", name, blocks_html(told[name], name))
    depends = blocks_html(told.get(_DEPENDS, ()), _DEPENDS)
    yield Section("inputs", "Assumptions and their sources", depends + assumptions_html(case))
    limits = doc.Sentences(_LIMITS), doc.Remark("caution", CAUTION)
    yield Section("limits", "Limits and cautions", "<p>Not covered:</p>" + blocks_html(limits, ""))
    listed = table_html(
        "Reporting checklist", ("No.", "Item", "What is said"), checklist(case), (0, 1, 2)
    )
    named = f'<p class="small">{text_of(SOURCE)}</p>'
    shut = f"<details><summary>All {len(tuple(checklist(case)))} items</summary>{listed}</details>"
    yield Section("checklist", "Reporting checklist", named + shut)
    if _CHECK in told:
        yield Section("check", _CHECK, blocks_html(told[_CHECK], _CHECK))


def _told(whole: doc.Document) -> Iterator[tuple[str, tuple[doc.Block, ...]]]:
    """Yield the blocks of the document below each heading; its title, answer and foot are not."""
    name = ""

    def heading(block: doc.Block) -> str:
        nonlocal name
        if isinstance(block, doc.Heading):
            name = block.text if block.level == 2 else ""
        return name

    for found, blocks in groupby(whole.blocks, heading):
        inside = tuple(
            one
            for one in blocks
            if not isinstance(one, doc.Heading) and one != doc.Remark("caution", CAUTION)
        )
        if found and inside:
            yield found, inside


def _facts(case: PurchaseCase) -> str:
    """Return the largest differences as a row of boxes: stock in hand, then as requested."""
    sized, best = case.sized, case.sized.place
    if not best:
        return ""
    per, plays = per_play(case.replay), plays_name(case.replay)

    def met(place: int) -> str:
        return " of ".join(count(case.stage(place, one)) for one in ("surges_on_target", "surges"))

    def nothing(measure: str, write: object) -> tuple[str, str]:
        now, then = (case.nothing(measure, one).value for one in ("in_hand", "proposed"))
        return write(now), write(then)  # type: ignore[operator]

    late = tuple(percent(case.stage(place, "share_late").value) for place in (0, best))
    rows = [
        (f"{plays} that meet the target", (met(0), met(best))),
        (f"late entries, of all {plays} together", late),
        (
            f"hours waited {per}, all people together",
            nothing("hours_waited", lambda one: f"{number(one)} h"),
        ),
        (
            f"late entries on the worst day of a {plays.removesuffix('s')}, mean",
            nothing("worst_day_late", percent),
        ),
    ]
    if case.nothing("urgent_late", "in_hand").value:
        rows.append((f"late urgent entries {per}", nothing("urgent_late", number)))
    price = price_words(case, best)
    now_name = hand_head(case).lower()
    boxes = [
        f'<div><dt>{text_of(name)}</dt><dd>{_held(now)} <span aria-hidden="true">→</span>'
        f'<span class="unseen"> {now_name}, as requested: </span> {_held(then)}</dd></div>'
        for name, (now, then) in rows
    ]
    boxes.append(f"<div><dt>price of the request</dt><dd>{text_of(price)}</dd></div>")
    same = f"the same {counted_plays(sized.same_surges, case.replay)}"
    return (
        f'<dl class="facts">{"".join(boxes)}</dl>'
        f'<p class="small">{hand_head(case)}, then as requested. How many meet the target is told '
        f"of the surges that tested each stock, and late entries and hours of {same}.</p>"
    )


def _held(text: str) -> str:
    """Return a number that is not parted from its unit."""
    return text_of(text.replace(" ", "\u00a0"))


def _explore(case: PurchaseCase, told: dict[str, tuple[doc.Block, ...]]) -> str:
    """Return the stages: as the document tells them, and as a reader may move money and target."""
    plays = plays_name(case.replay)
    same = case.sized.same_surges
    more = bool((case.sized.tables["stages"]["surges"] > same).any())
    counted = counted_plays(same, case.replay)
    tested = f", which tested some stages on more than {counted}" if more else ""
    moved = filled(_own("explore.html"), COUNTED=counted, PLAYS=plays, TESTED=tested)
    parts = [moved]
    for name in (_LESS, _MORE):
        blocks: Sequence[doc.Block] = told.get(name, ())
        tables = [one for one in blocks if isinstance(one, doc.Table)]
        words = [one for one in blocks if not isinstance(one, doc.Table)]
        if tables:
            parts.append(f'<div class="without-script">{blocks_html(tables, name)}</div>')
        if words:
            head = f"{name}, for the target of the request"
            parts.append(f"<h3>{text_of(head)}</h3>{blocks_html(words, name)}")
    return "\n".join(parts)
