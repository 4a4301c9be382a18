"""Sheets to print for an exercise: for the facilitator, the players and the evaluator."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import cycle

from surge_sim.cautions import CAUTION
from surge_sim.drill.compare import Comparison, column
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
from surge_sim.report.exercise_room import PACES
from surge_sim.report.exercise_rules import conditions_words, rules_words, without_timeline
from surge_sim.report.exercise_words import (
    BEFORE_NEWS,
    BOARD,
    MARKED,
    PARTS,
    board_rows,
    decision_named,
    inject_words,
    path_marked,
    surge_words,
    when,
)
from surge_sim.report.phrases import stock_in_words
from surge_sim.report.rounding import about, counted, interval_numbers, moment_words
from surge_sim.scenario.exercise import Exercise
from surge_sim.units import DAY_S, duration_text

#: minutes on the wall for the opening and for the hot wash (common practice, no source)
_OPENING_MIN, _HOT_WASH_MIN = 10, 25
#: buttons of the page, in the order of their use
_PAGE = (
    "Begin starts the clock; Speed says how fast it runs, and Play or Pause, or the space bar, "
    f"stops it. It stops by itself at each decision: each stretch takes about "
    f"{PACES['usual']} s at the usual speed, {PACES['slow']} s slow and {PACES['fast']} s fast, "
    "however long it is.",
    "What happens now shows what is read aloud, and the choices; the board shows the moment just "
    "before the news. Any choice that your rules forbid is struck out there, as long as one stays "
    "open: it is left out of the hot wash, too.",
    "Time looks back, for example to what was on the shelf a day earlier: arrow keys move it "
    "by a step, Page Up and Page Down by more; Now comes back.",
    "Decide cannot be taken back. At the end: Hot wash; Back to the board leads back from it.",
)
#: how to read the picture and the interval of a decision
_PICTURE = (
    "Each dot is one other surge, played twice: with the choice taken and with the other one.",
    "A dot left of “same” is a surge in which the choice taken had fewer late entries; a dot right "
    "of it, one in which it had more.",
    "The bar below the dots is their average with its 95 % interval. If the bar touches “same”, no "
    "clear difference was shown.",
    "The diamond is the surge that you played. If it lies far from the bar, "
    "most of this outcome was random variation; use the bar to discuss the decision.",
    "Dots on both sides of “same” mean: even the choice that is better on average comes out worse "
    "now and then.",
)


def sheets(tree: Tree, comparison: Comparison) -> dict[str, Document]:
    """Return the sheets by their names.

    Parameters
    ----------
    tree : Tree
        The played surge, every path.
    comparison : Comparison
        The same beside other surges; nothing of it is on the sheets of players and evaluator.
    """
    return {
        "facilitator": facilitator_sheet(tree, comparison),
        "players": players_sheet(tree),
        "evaluator": evaluator_sheet(tree),
    }


def facilitator_sheet(tree: Tree, comparison: Comparison) -> Document:
    """Return the sheet for whoever leads the exercise: with what follows every choice."""
    exercise = tree.exercise
    # any path will do as an example
    numbers = ",".join(
        str(min(number, len(one.choices)))
        for number, one in zip(cycle((2, 1, 3)), exercise.moments, strict=False)
    )
    made = f"{numbers} (these numbers stand for yours)" if numbers else '""'
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
        *(
            block
            for number in range(len(exercise.moments))
            for block in _moment(tree, comparison, number)
        ),
        Heading("Hot wash"),
        Paragraph(
            "Before you press Hot wash, go through the decision logs: did it come as expected? Ask "
            "each player for one thing that went well and one thing to improve. Then show the hot "
            "wash of the path that was taken, on the page for the room or by surge-sim exercise "
            f"hot-wash {exercise.path.name} --choices {made}: what each choice is worth on "
            "average, and what was random variation of this surge. Write owners and dates into the "
            "improvement plan before the group leaves."
        ),
        *_outcome_or_decision(comparison),
        Heading("How to read the picture of a decision"),
        Sentences(_PICTURE),
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


def _outcome_or_decision(comparison: Comparison) -> Iterator[Block]:
    """Yield the path whose outcome on the played surge flatters it most, if there is one.

    By its rank among all paths: here, and on average over the others.
    """
    exercise = comparison.exercise
    here = column(comparison.here, "late")
    average = column(comparison.others, "late").mean(axis=0)
    before_here, before = ((late[:, None] > late).sum(axis=1) for late in (here, average))
    place = int((before - before_here).argmax())
    if before[place] <= before_here[place]:
        return
    said, _ = interval_numbers(comparison.average_late(exercise.paths[place]))
    yield Heading("A good decision, or a good outcome?")
    yield Paragraph(
        f"Show path {path_marked(exercise, exercise.paths[place])} beside that of the group, in "
        f"the table of every path. On this surge {here[place]:,} entries are late with it, and "
        f"{before_here[place]} of the other {len(exercise.paths) - 1} paths have fewer; on average "
        f"{said} are late, and {before[place]} have fewer. Its outcome here is better than the "
        "decision: ask which of the two the group will remember, and which it should repeat."
    )


def _moment(tree: Tree, comparison: Comparison, number: int) -> Iterator[Block]:
    exercise = tree.exercise
    moment = exercise.moments[number]
    yield Heading(decision_named(exercise, number))
    happens = inject_words(exercise, number)
    yield Rows((("Inject", happens or "only told"), ("Discussion", duration_text(moment.discuss))))
    if number == 0:
        first = tree.branch(())
        yield Paragraph(BEFORE_NEWS)
        yield Rows((*board_rows(exercise, first, -1), *_a_day_before(tree)))
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
        "late. Wearer hours: of all wearers together, until a wearer was free, which is no wait "
        "for a kit. The columns from waiting at the end on are what the group sees then. "
        f"{MARKED}"
    )
    yield _consequences(tree, number, comparison)


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


def _consequences(tree: Tree, number: int, comparison: Comparison) -> Table:
    """Return what comes of every branch that begins at a decision, and what is seen at its end.

    Behind the last decision also what comes of the path on average over the other surges.
    """
    is_last = number + 1 == len(tree.exercise.moments)
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
        Column("wearer hours"),
        Column("waiting at the end"),
        Column("kits ready"),
        Column("kits in cleaning"),
        Column("batteries on the shelf"),
        *(Column(BOARD[PARTS][name]) for name in limited),
        *((Column("in all, late on average"),) if is_last else ()),
    )
    rows = []
    for branch in branches:
        cells = _consequence(tree.exercise, branch, limited)
        if is_last:
            cells = (*cells, interval_numbers(comparison.average_late(branch.choices))[0])
        rows.append(cells)
    return Table(columns, tuple(rows))


def _consequence(exercise: Exercise, branch: Branch, limited: Sequence[str]) -> tuple[str, ...]:
    found, end = branch.stretch, branch.seen.at(-1)
    in_cleaning = end["kits_waiting_for_wipe"] + end["kits_in_wipe_down"] + end["kits_drying"]
    return (
        path_marked(exercise, branch.choices),
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
    # no times: they would tell when something happens
    log = tuple((f"{place}.", "", "", "") for place in range(1, len(exercise.moments) + 1))
    heads = ("Decision", "We chose", "Because", "We expect")
    return document(
        Heading(f"Players: {exercise.file.title}", 1),
        Quote(exercise.file.situation) if exercise.file.situation else None,
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
    rows = board_rows(tree.exercise, tree.branch(()), 0)
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
                    *(("Permission", said) for said in conditions_words(moment.choices)),
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
