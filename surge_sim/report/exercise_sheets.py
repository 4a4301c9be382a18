"""Sheets to print for an exercise: for the facilitator, the players and the evaluator."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import cycle

from surge_sim.cautions import CAUTION
from surge_sim.drill.tree import Branch, Tree
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.report.document import (
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Quote,
    Remark,
    Rows,
    Sentences,
    Table,
    document,
)
from surge_sim.report.exercise_choices import choice_sentences
from surge_sim.report.exercise_rules import rules_words, without_timeline
from surge_sim.report.exercise_words import (
    BOARD,
    PARTS,
    board_rows,
    decision_named,
    inject_words,
    path_named,
    surge_words,
    when,
)
from surge_sim.report.phrases import stock_in_words
from surge_sim.report.rounding import about, counted, moment_words
from surge_sim.scenario.exercise import Exercise
from surge_sim.units import DAY_S, duration_text

#: minutes on the wall for the opening and for the hot wash (common practice, no source)
_OPENING_MIN, _HOT_WASH_MIN = 10, 25
#: buttons of the page, in the order of their use
_PAGE = (
    "Begin starts the clock; Speed says how fast it runs, and Play or Pause, or the space bar, "
    "stops it. It stops by itself at each decision, in about 45 s at the usual speed.",
    "What happens now shows what is read aloud, and the choices. A choice that your rules forbid "
    "is struck out there: it is left out of the hot wash, too.",
    "Time looks back, for example to what was on the shelf a day earlier: arrow keys move it "
    "by a step, Page Up and Page Down by more; Now comes back.",
    "Decide cannot be taken back. At the end: Hot wash.",
)


def facilitator_sheet(tree: Tree) -> Document:
    """Return the sheet for whoever leads the exercise: with what follows every choice."""
    exercise = tree.exercise
    # any path will do as an example
    numbers = ",".join(
        str(min(number, len(one.choices)))
        for number, one in zip(cycle((2, 1, 3)), exercise.moments, strict=False)
    )
    return document(
        Heading(f"Facilitator: {exercise.file.title}", 1),
        Remark("note", "Keep this sheet to yourself: it shows what follows each choice."),
        Rows(tuple(_facts(tree))),
        Heading("Objectives"),
        Sentences(exercise.file.objectives),
        Heading("Opening"),
        Paragraph(
            "Hand out the players' sheets. Say that nobody is judged: the exercise is about "
            "equipment, rules and hand-overs. Say that each player keeps the decision log: what "
            "was chosen, why, and what is expected, before you press Decide. Then read:"
        ),
        Quote(exercise.file.situation or exercise.file.title),
        Heading("The page for the room"),
        Sentences(_PAGE),
        Heading("Answers: the rules of this unit, as on the players' sheet"),
        Sentences(tuple(rules_words(without_timeline(exercise.scenario.settings)))),
        *(block for number in range(len(exercise.moments)) for block in _moment(tree, number)),
        Heading("Hot wash"),
        Paragraph(
            "Before you press Hot wash, go through the decision logs: did it come as expected? Ask "
            "each player for one thing that went well and one thing to improve. Then show the hot "
            "wash of the path that was taken, on the page for the room or by surge-sim exercise "
            f"hot-wash {exercise.path.name} --choices {numbers} (these numbers stand for yours): "
            "what each choice is worth on average, and what was random variation of this surge. "
            "Write owners and dates into the improvement plan before the group leaves."
        ),
        Remark("caution", CAUTION),
    )


def _facts(tree: Tree) -> Iterator[tuple[str, str]]:
    exercise = tree.exercise
    discuss_min = sum(one.discuss for one in exercise.moments) // 60
    whole_min = discuss_min + _OPENING_MIN + _HOT_WASH_MIN
    yield (
        "Time needed",
        f"about {whole_min} min: opening {_OPENING_MIN} min, discussion {discuss_min} min, hot "
        f"wash {_HOT_WASH_MIN} min, and the time in which you show what happens",
    )
    yield "Surge", surge_words(exercise, tree.surge.number)
    start = exercise.scenario.settings.start
    yield (
        "Covers",
        f"{duration_text(exercise.file.length)} from {moment_words(start, 0)}",
    )
    yield "Paths", f"{len(exercise.paths)}; 2-1-3 is choice 2, then choice 1, then choice 3"


def _moment(tree: Tree, number: int) -> Iterator[Block]:
    exercise = tree.exercise
    moment = exercise.moments[number]
    yield Heading(decision_named(exercise, number))
    happens = inject_words(exercise, number)
    yield Rows((("Inject", happens or "only told"), ("Discussion", duration_text(moment.discuss))))
    if number == 0:
        yield Rows((*board_rows(tree.branch(()).seen.at(-1)), *_a_day_before(tree)))
    else:
        yield Paragraph(
            "What the group sees now depends on what it chose: see the last columns of the table "
            "before this one."
        )
    yield Quote(moment.read_aloud)
    yield _choices_table(exercise, number)
    asked = [("Ask", one) for one in moment.questions]
    if moment.expect is not None:
        asked.append(("Expect", moment.expect))
    if moment.if_stuck is not None:
        asked.append(("If stuck", moment.if_stuck))
    yield Rows(tuple(asked))
    until = (
        when(exercise, exercise.moments[number + 1].at)
        if number + 1 < len(exercise.moments)
        else "the end"
    )
    yield Paragraph(
        f"What follows until {until}, by the choices made so far. Left the queue: also counted as "
        "late. Busy wearers: time until a free wearer, which is no wait for a kit. The last "
        "columns, from waiting at the end, are what the group sees then:"
    )
    yield _consequences(tree, number)


def _a_day_before(tree: Tree) -> Iterator[tuple[str, str]]:
    """Return the parts that could be seen a day before the first decision."""
    first = tree.branch(())
    places = [place for place, at_s in enumerate(first.at_s) if at_s <= first.to_s - DAY_S]
    if places:
        seen = first.seen.at(places[-1])
        said = [f"{seen[name]:,} {words}" for name, words in BOARD[PARTS].items() if seen[name] > 0]
        if said:
            yield "A day before", ", ".join(said)


def _choices_table(exercise: Exercise, number: int) -> Table:
    columns = Column("Choice", align="left"), Column("What it changes", align="left")
    rows = tuple(
        (f"{place}. {one.name}", choice_sentences(exercise, one))
        for place, one in enumerate(exercise.moments[number].choices, start=1)
    )
    return Table(columns, rows)


def _consequences(tree: Tree, number: int) -> Table:
    """Return what comes of every branch that begins at a decision, and what is seen at its end."""
    prefixes = dict.fromkeys(path[: number + 1] for path in tree.exercise.paths)
    branches = [tree.branch(prefix) for prefix in prefixes]
    limited = [
        name
        for name in BOARD[PARTS]
        if any((getattr(branch.seen, name) >= 0).any() for branch in branches)
    ]
    columns = (
        Column("Choices", align="left"),
        Column("came"),
        Column("late"),
        Column("of these: left the queue"),
        Column("urgent late"),
        Column("busy wearers"),
        Column("waiting at the end"),
        Column("kits clean"),
        Column("kits in cleaning"),
        Column("batteries on the shelf"),
        *(Column(BOARD[PARTS][name]) for name in limited),
    )
    return Table(columns, tuple(_consequence(branch, limited) for branch in branches))


def _consequence(branch: Branch, limited: Sequence[str]) -> tuple[str, ...]:
    found, end = branch.stretch, branch.seen.at(-1)
    in_cleaning = end["kits_waiting_for_wipe"] + end["kits_in_wipe_down"] + end["kits_drying"]
    return (
        path_named(branch.choices),
        f"{found.came:,}",
        f"{found.late:,}",
        f"{found.unserved:,}",
        f"{found.urgent_late:,}",
        about(found.delayed_s, longest="h"),
        f"{end['at_door']:,}",
        f"{end['kits_ready']:,}",
        f"{in_cleaning:,}",
        f"{end['batteries_on_shelf']:,}",
        *(f"{end[name]:,}" for name in limited),
    )


def players_sheet(tree: Tree) -> Document:
    """Return the sheet for the players: situation, stock, rules and a log of decisions."""
    exercise = tree.exercise
    settings = without_timeline(exercise.scenario.settings)
    log = tuple(
        (f"{place}. {when(exercise, one.at)}", "", "", "")
        for place, one in enumerate(exercise.moments, start=1)
    )
    heads = ("Decision", "We chose", "Because", "We expect")
    return document(
        Heading(f"Players: {exercise.file.title}", 1),
        Quote(exercise.file.situation) if exercise.file.situation else None,
        Heading("Objectives"),
        Sentences(exercise.file.objectives),
        Heading("What you have"),
        Rows((("Stock", stock_in_words(stock_in_hand(settings))), *_start(tree))),
        Heading("Rules"),
        Sentences(tuple(rules_words(settings))),
        Heading("Decision log"),
        Table(tuple(Column(head, align="left") for head in heads), log),
        Remark("caution", CAUTION),
    )


def _start(tree: Tree) -> tuple[tuple[str, str], ...]:
    """Return what is seen when the exercise begins."""
    rows = board_rows(tree.branch(()).seen.at(0))
    return tuple((f"{group} at the start", said) for group, said in rows if group != "At the door")


def evaluator_sheet(tree: Tree) -> Document:
    """Return the sheet for whoever watches: what to look for, and room to write."""
    exercise = tree.exercise
    blocks: list[Block] = []
    for number, moment in enumerate(exercise.moments):
        asks = " ".join(moment.questions)
        blocks += [
            Heading(decision_named(exercise, number)),
            Rows(
                (
                    ("Choices", "; ".join(one.name for one in moment.choices)),
                    ("Facilitator asks", asks or "no questions"),
                )
            ),
            _notes(
                "What did the group look at before it decided?",
                "Who decided, and how did all others hear of it?",
                "Which rule or instruction was looked up, and where?",
                "What was missing: information, equipment, a name, a telephone number?",
            ),
        ]
    return document(
        Heading(f"Evaluator: {exercise.file.title}", 1),
        Paragraph(
            "Write what was said and done, not how well anybody did. There are "
            f"{counted(len(exercise.moments), 'decision')}."
        ),
        Heading("Objectives"),
        Paragraph("For each: by which words or acts did it show?"),
        _notes(*exercise.file.objectives),
        *blocks,
        Heading("For the after-action report"),
        Table((Column("Strengths", align="left"),), (("",),) * 3),
        Table((Column("Areas to improve", align="left"),), (("",),) * 3),
        Remark("caution", CAUTION),
    )


def _notes(*asked: str) -> Table:
    heads = ("Look for", "Time", "Observed")
    # empty lines make room for handwriting
    return Table(
        tuple(Column(head, align="left") for head in heads),
        tuple((one, "", "") for one in asked),
    )


SHEETS = {
    "facilitator": facilitator_sheet,
    "players": players_sheet,
    "evaluator": evaluator_sheet,
}
