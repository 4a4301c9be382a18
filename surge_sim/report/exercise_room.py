"""The page for the room's screen: one file, offline, with the board, the decisions, the hot wash.

Texts of the files travel as data and are put in place as text. The only script is ours; the
page's policy names it by its digest, loads nothing, and runs nothing else.
"""

from __future__ import annotations

import base64
import calendar
import hashlib
from importlib.resources import files
from typing import Any

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.drill.compare import Comparison
from surge_sim.drill.tree import Branch, Tree
from surge_sim.report.document import Heading, Paragraph, Table
from surge_sim.report.exercise_choices import choice_words
from surge_sim.report.exercise_form import REPORT, report_facts, report_form
from surge_sim.report.exercise_hot_wash import (
    EVERY_PATH,
    LEGEND,
    PERMITS_NOTHING,
    READING,
    hardness_words,
    in_short,
    paths_table,
    ran_out_words,
)
from surge_sim.report.exercise_picture import decision_picture
from surge_sim.report.exercise_rules import (
    condition_words,
    result_words,
    rules_words,
    without_timeline,
)
from surge_sim.report.exercise_words import (
    AT_WORK,
    BEFORE_NEWS,
    BOARD,
    IF_ANY,
    ON_ORDER,
    PARTS,
    decision_named,
    orders_words,
    path_named,
    reorders,
    story_words,
    stretch_words,
)
from surge_sim.report.exercise_worth import ALONE, STRUCK, decision
from surge_sim.report.html import as_data, filled, text_of
from surge_sim.report.rounding import minutes
from surge_sim.scenario.exercise import Choices
from surge_sim.units import DAY_S, HOUR_S, MINUTE_S

#: what is drawn over time while the surge goes on
_CHARTS = (
    ("at_door", "People who wait for a kit at the door"),
    ("kits_ready", "Kits ready on the shelf"),
    ("batteries_on_shelf", "Batteries on the shelf"),
)
#: a time, which the board shows in words and without a bar
_WAIT = "longest_wait_s"
#: seconds on the wall for a stretch, however long it is
PACES = {"slow": 90, "usual": 45, "fast": 15}


def room_page(tree: Tree, comparison: Comparison) -> str:
    """Return the page.

    Parameters
    ----------
    tree : Tree
        The played surge, every path.
    comparison : Comparison
        The same beside other surges, for the hot wash.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    script, style = _own("room.js"), _own("room.css")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = (
        "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
        f"script-src 'sha256-{digest}'"
    )
    return filled(
        _own("room.html"),
        POLICY=policy,
        STYLE=style,
        SCRIPT=script,
        TITLE=text_of(tree.exercise.file.title),
        DATA=as_data(room_data(tree, comparison)),
    )


def _own(name: str) -> str:
    return files("surge_sim.report").joinpath("room", name).read_text("utf-8")


def room_data(tree: Tree, comparison: Comparison) -> dict[str, Any]:
    """Return all that the page shows, as texts and whole numbers."""
    exercise = tree.exercise
    length_s, rooms = exercise.file.length, exercise.scenario.settings.rooms
    tree.whole()
    prefixes = dict.fromkeys(
        path[:made] for path in exercise.paths for made in range(len(path) + 1)
    )
    branches = {prefix: tree.branch(prefix) for prefix in prefixes}
    return {
        "title": exercise.file.title,
        "caution": CAUTION_IN_SHORT,
        "situation": exercise.file.situation or "",
        "rules": list(rules_words(without_timeline(exercise.scenario.settings))),
        # as if it were universal time: the page shows the clock of the place
        "start_ms": calendar.timegm(exercise.scenario.settings.start.timetuple()) * 1_000,
        "days": length_s > DAY_S,
        # an arrow key, and Page Up or Page Down
        "steps_s": [HOUR_S, DAY_S] if length_s > DAY_S else [10 * MINUTE_S, HOUR_S],
        "length_s": length_s,
        "paces": [[name, wall_s] for name, wall_s in PACES.items()],
        "board": _board(branches[()], 0 if rooms is None else rooms.count),
        "charts": [*map(list, _CHARTS), *_charts_of_parts(branches[()])],
        "moments": [
            {
                "title": decision_named(exercise, place),
                "read": moment.read_aloud,
                "discuss": moment.discuss,
                "choices": [
                    {
                        "name": one.name,
                        "words": choice_words(exercise, one),
                        "condition": condition_words(one),
                        "with_result": result_words(one),
                    }
                    for one in moment.choices
                ],
            }
            for place, moment in enumerate(exercise.moments)
        ],
        "branches": {
            path_named(prefix): _branch(tree, branch) for prefix, branch in branches.items()
        },
        "wash": {path_named(path): _wash(tree, comparison, path) for path in exercise.paths},
        "legend": LEGEND,
        "permits_nothing": PERMITS_NOTHING,
        "reading": list(READING),
        "every_path": EVERY_PATH,
        "paths": _table(paths_table(comparison, None)),
        "path_names": [path_named(path) for path in exercise.paths],
        "alone": ALONE,
        "struck": STRUCK,
        "before_news": BEFORE_NEWS,
        "on_order": ON_ORDER if reorders(exercise) else "",
        "report": REPORT.text,
        "form": [_form_block(one) for one in report_form(exercise)],
    }


def _board(first: Branch, rooms: int) -> list[dict[str, Any]]:
    """Return the groups of the board, and how many its bars are drawn of: nothing later tells it.

    Of spare parts those that can run out.
    """
    start = first.seen.at(0)
    groups = []
    for group, names in BOARD.items():
        shown = {name: words for name, words in names.items() if start[name] >= 0}
        if shown:
            drawn = shown.keys() - {*AT_WORK, _WAIT}
            most = sum(start[name] for name in drawn)
            if group == "Rooms":
                most = rooms
            items = [
                {"key": name, "words": words, "if_any": name in IF_ANY, "bar": name in drawn}
                for name, words in shown.items()
            ]
            groups.append({"name": group, "items": items, "most": most})
    return groups


def _charts_of_parts(first: Branch) -> list[list[str]]:
    """Return the charts of spare parts that can run out."""
    parts, start = BOARD[PARTS], first.seen.at(0)
    shown = [(name, words) for name, words in parts.items() if start[name] >= 0]
    return [
        [name, f"{words[0].upper()}{words[1:]}, on clean kits and in the box"]
        for name, words in shown
    ]


def _branch(tree: Tree, branch: Branch) -> dict[str, Any]:
    exercise = tree.exercise
    story = [] if branch.story is None else story_words(exercise, branch.story)
    return {
        "from": branch.from_s,
        "shown_to": branch.at_s[-1],
        "at": list(branch.at_s),
        "seen": {
            name: [minutes(one / 60) for one in column] if name == _WAIT else column.tolist()
            for name, column in branch.seen._asdict().items()
        },
        "came": stretch_words(exercise, branch),
        "story": [list(row) for row in story],
        "orders": _orders(tree, branch),
    }


def _orders(tree: Tree, branch: Branch) -> list[tuple[int, str]]:
    """Return what is on order, from each look at which that changes."""
    said = [orders_words(tree.exercise, one) for one in branch.orders]
    before = [None, *said[:-1]]
    return [
        (place, words)
        for place, (words, was) in enumerate(zip(said, before, strict=True))
        if words != was
    ]


def _table(table: Table) -> dict[str, Any]:
    return {"head": [one.head for one in table.columns], "rows": [list(row) for row in table.rows]}


def _form_block(block: Heading | Table | Paragraph) -> dict[str, Any]:
    if isinstance(block, Table):
        return _table(block)
    return {"heading" if isinstance(block, Heading) else "text": block.text}


def _wash(tree: Tree, comparison: Comparison, path: Choices) -> dict[str, Any]:
    return {
        "short": in_short(comparison, path),
        "hard": hardness_words(comparison, path),
        "ran_out": list(ran_out_words(tree, path)),
        "decisions": [_decision(comparison, path, place) for place in range(len(path))],
        "facts": [list(row) for row in report_facts(comparison.exercise, path).rows],
    }


def _decision(comparison: Comparison, path: Choices, place: int) -> dict[str, Any]:
    """Return what is shown of a decision, by the numbers of the choices that were not taken."""
    one = decision(comparison, path, place)
    others = [
        number for number in range(len(comparison.exercise.moments[place].choices))
        if number != path[place]
    ]  # fmt: skip
    shown = zip(others, one.against, one.sentences, one.tables, strict=True)
    return {
        "name": one.name,
        "against": [
            {
                "choice": number,
                "sentence": sentence,
                "table": _table(table),
                "picture": decision_picture([against], one.against),
            }
            for number, against, sentence, table in shown
        ],
    }
