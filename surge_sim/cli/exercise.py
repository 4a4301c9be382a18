"""``surge-sim exercise``: a group manages a surge and sees what each decision leads to."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from surge_sim.cli.options import Place, processes_option
from surge_sim.cli.scenario_file import write_new
from surge_sim.cli.screen import announce, progress_bar, show, show_by_screens

if TYPE_CHECKING:
    from surge_sim.drill.compare import Comparison
    from surge_sim.drill.tree import Tree
    from surge_sim.scenario.exercise import Choices, Exercise

_exercise_argument: Any = click.argument("exercise_file", metavar="FILE", type=Place())


class _Choices(click.ParamType):
    """Numbers of choices, one a decision, and of those struck out: ``2,1x3,3`` or ``2-1x3-3``."""

    name = "choices"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return both counted from 0, in pairs; whether each is there is judged later."""
        made = []
        # an exercise without decisions has no choices
        parts = str(value).replace("-", ",").split(",") if str(value).strip() else []
        for part in parts:
            numbers = [one.strip() for one in part.lower().split("x")]
            if not all(one.isdecimal() and int(one) for one in numbers):
                said = (
                    "Write the number of each choice in order, for example 2,1,3; behind one the "
                    "numbers of those that your rules forbid: 2,1x3,3."
                )
                self.fail(f"{value!r} cannot be used. {said}", param, ctx)
            chosen, *struck = (int(one) - 1 for one in numbers)
            made.append((chosen, frozenset(struck)))
        return tuple(made)


_out_option: Any = click.option(
    "--out", "out_file", metavar="FILE.html", type=Place(), help="Write it as a page, too."
)


class _InOrder(click.Group):
    """Lists its commands in the order of the work."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@click.group(name="exercise", cls=_InOrder)
def command() -> None:
    """Hold a tabletop exercise in which every choice is computed.

    A group manages one simulated surge: at each decision point the surge stops, something is told,
    and it goes on with what the group decides. At the end each choice is compared with the others
    on the same surge and on many more, which tells its worth from random variation.
    """


@command.command(short_help="Write a commented exercise to start from.")
@click.argument("exercise_file", metavar="[FILE]", type=Place(), default="exercise.yaml")
def new(exercise_file: Path) -> None:
    """Write a commented exercise to start from (exercise.yaml if no FILE is named).

    It names scenario.yaml beside it, which `surge-sim new` writes. A file that is there already
    is never overwritten.
    """
    name = write_new(exercise_file, "exercise_starter.yaml")
    click.echo(
        f"Wrote {name}. It needs scenario.yaml beside it; `surge-sim new` writes one. "
        f"Then: surge-sim exercise check {name}"
    )


@command.command()
@_exercise_argument
@processes_option
def check(exercise_file: Path, processes: int | None) -> None:
    """Check an exercise, and play every choice on some surges.

    Every fault of the two files is listed with its line. Choices that never differ are refused:
    no group could learn from them.
    """
    from surge_sim.drill.compare import LOOKED_AT, faults_of_choices
    from surge_sim.errors import ScenarioError
    from surge_sim.report.exercise_check import exercise_answer

    exercise = _loaded(exercise_file)
    number = _chosen(exercise, processes)
    comparison = _compared(exercise, number, processes, LOOKED_AT, in_full=True)
    if faults := faults_of_choices(exercise, comparison):
        raise ScenarioError(faults)
    show(exercise_answer(comparison))


@command.command()
@_exercise_argument
@click.option(
    "--log",
    "log_file",
    metavar="FILE.json",
    type=Place(),
    help="Where the choices are kept.  [default: a new file here]",
)
@processes_option
def play(exercise_file: Path, log_file: Path | None, processes: int | None) -> None:
    """Play an exercise on the terminal, for one learner.

    Asks for each choice, why, and what you expect; Enter leaves the last two empty. Nothing of
    the future is shown before the end; then the hot wash compares what was chosen with every
    other path. If the input ends before the last choice, the choices so far are kept.
    """
    from surge_sim.errors import Fault, ScenarioError
    from surge_sim.plain import json_text
    from surge_sim.report.exercise_hot_wash import hot_wash, ran_out_words
    from surge_sim.report.exercise_log import exercise_log
    from surge_sim.report.exercise_play import at_decision, at_end, expectations, opening
    from surge_sim.report.files import whole_text_file

    exercise = _loaded(exercise_file)
    place = log_file or Path(f"{exercise.path.stem}_{datetime.now():%Y%m%d_%H%M%S}.json")
    with whole_text_file(place, _inputs(exercise)) as log:
        tree = _tree(exercise, _chosen(exercise, processes))
        show_by_screens(opening(tree))
        click.pause("Press a key to begin. ")
        choices: Choices = ()
        struck: list[frozenset[int]] = []
        reasons: list[dict[str, str]] = []
        for moment in exercise.moments:
            click.echo()
            show_by_screens(at_decision(tree, choices))
            click.echo()
            forbidden: set[int] = set()
            chosen = _choice([one.name for one in moment.choices], forbidden)
            if chosen is None:
                break
            choices, reasons = (*choices, chosen), [*reasons, _reasons()]
            struck.append(frozenset(forbidden))
        left = len(exercise.moments) - len(choices)
        if left and not choices:
            right = "Type the number of a choice; no log was written."
            raise ScenarioError([Fault("input", 0, "ended before the first choice.", right)])
        click.echo()
        if not left:
            show_by_screens(at_end(tree, choices))
            click.echo()
            if expected := expectations(tree, choices, reasons):
                show_by_screens(expected)
                click.echo()
            if exercise.moments:
                click.pause("Press a key for the hot wash. ")
            comparison = _compared(exercise, tree.surge.number, processes)
            told, _ = hot_wash(
                comparison, choices, struck=struck, ran_out=ran_out_words(tree, choices)
            )
            show_by_screens(told)
        log.write(json_text(exercise_log(tree, choices, reasons, struck)))
    if left:
        found = f"ended before decision {len(choices) + 1}."
        raise ScenarioError([Fault("input", 0, found, f"The choices so far are in {place}.")])
    announce(f"choices: {place}")


@command.command(short_help="Write sheets to print: facilitator, players, evaluator.")
@_exercise_argument
@click.option(
    "--out",
    "out_folder",
    metavar="DIR",
    type=Place(),
    required=True,
    help="Folder for the sheets; it may be there already.",
)
@processes_option
def sheets(exercise_file: Path, out_folder: Path, processes: int | None) -> None:
    """Write the sheets to print: for the facilitator, the players and the evaluator.

    Each is one page of HTML that needs no network. The facilitator's sheet shows what follows
    each choice.
    """
    from surge_sim.report.exercise_sheets import sheets as sheets_of
    from surge_sim.report.page import page

    exercise = _loaded(exercise_file)
    number = _chosen(exercise, processes)
    comparison = _compared(exercise, number, processes)
    for name, sheet in sheets_of(_tree(exercise, number), comparison).items():
        _write(out_folder / f"{name}.html", exercise, page(sheet))


@command.command(name="page", short_help="Write the page for the room's screen.")
@_exercise_argument
@click.option(
    "--out",
    "out_file",
    metavar="FILE.html",
    type=Place(),
    help="Where to.  [default: FILE with .html]",
)
@processes_option
def page_command(exercise_file: Path, out_file: Path | None, processes: int | None) -> None:
    """Write one page for the room's screen, which needs no network.

    It has a clock and what staff could see, stops at each decision point, and shows nothing of
    the future before the hot wash. All it shows is inside the file, so do not let players read
    its source.
    """
    from surge_sim.report.exercise_room import room_page

    exercise = _loaded(exercise_file)
    number = _chosen(exercise, processes)
    comparison = _compared(exercise, number, processes)
    place = out_file or exercise.path.with_suffix(".html")
    _write(place, exercise, room_page(_tree(exercise, number), comparison))


@command.command(name="hot-wash", short_help="Compare choices with every other path.")
@_exercise_argument
@click.option(
    "--choices",
    "made",
    metavar="CHOICES",
    type=_Choices(),
    required=True,
    help="Numbers of the choices that were made, in order: 2,1,3. Where your rules forbid choice "
    "3 of the second decision, it is left out with 2,1x3,3.",
)
@_out_option
@processes_option
def hot_wash_command(
    exercise_file: Path,
    made: tuple[tuple[int, frozenset[int]], ...],
    out_file: Path | None,
    processes: int | None,
) -> None:
    """Compare the choices that were made with every other path, here and on other surges.

    Says how hard the surge was, what each choice is worth on average, and what was random
    variation. The page also has the pictures, and the form for the after-action report and the
    improvement plan.
    """
    from surge_sim.report.exercise_hot_wash import hot_wash, ran_out_words
    from surge_sim.report.page import page

    exercise = _loaded(exercise_file)
    choices, struck = tuple(one for one, _ in made), [gone for _, gone in made]
    if choices not in exercise.paths:
        counts = ", ".join(f"1 to {len(one.choices)}" for one in exercise.moments)
        raise click.BadParameter(
            f"{','.join(str(one + 1) for one in choices)} cannot be used. Give one number for each "
            f"of the {len(exercise.moments)} decisions, in order: {counts or 'none'}.",
            param_hint="'--choices'",
        )
    for number_of, (moment, (chosen, gone)) in enumerate(zip(exercise.moments, made, strict=True)):
        if chosen in gone or not gone <= set(range(len(moment.choices))):
            raise click.BadParameter(
                f"Decision {number_of + 1}: only choices that exist and were not chosen can be "
                "struck out.",
                param_hint="'--choices'",
            )
    number = _chosen(exercise, processes)
    comparison = _compared(exercise, number, processes)
    ran_out = ran_out_words(_tree(exercise, number), choices)
    show_by_screens(hot_wash(comparison, choices, struck=struck, ran_out=ran_out)[0])
    if out_file is not None:
        told = hot_wash(comparison, choices, to_print=True, struck=struck, ran_out=ran_out)
        _write(out_file, exercise, page(*told))


def _loaded(exercise_file: Path) -> Exercise:
    from surge_sim.scenario.exercise import load_exercise

    return load_exercise(exercise_file)


def _chosen(exercise: Exercise, processes: int | None) -> int:
    """Find the surge that is played."""
    from surge_sim.drill.compare import chosen_surge

    return chosen_surge(exercise, processes)


def _tree(exercise: Exercise, number: int) -> Tree:
    from surge_sim.drill.branches import Surges
    from surge_sim.drill.tree import Tree

    return Tree(Surges(exercise).surge(number))


def _compared(
    exercise: Exercise,
    number: int,
    processes: int | None,
    count: int | None = None,
    in_full: bool = False,
) -> Comparison:
    from surge_sim.drill.compare import compare

    total = 1 + (count or exercise.file.other_surges)
    with progress_bar("surges, each with every choice", total) as advance:
        return compare(exercise, number, count, processes, advance, in_full)


def _choice(names: list[str], struck: set[int]) -> int | None:
    """Ask for a choice, counted from 0; None where the input has ended.

    ``struck`` takes in those that are struck out; they cannot be chosen, and one stays open.
    """
    count = len(names)
    while True:
        typed = _typed(f"Your choice (1 to {count})", type=str)
        if typed is None:
            return None
        is_struck, number = typed.lower().startswith("x"), typed.lower().removeprefix("x").strip()
        place = int(number) - 1 if number.isdecimal() else -1
        if not 0 <= place < count:
            click.echo(
                f"Error: Write a whole number from 1 to {count}; with an x before it the choice is "
                "struck out."
            )
        elif is_struck and place in struck:
            struck.remove(place)
            click.echo(f"Open again: {names[place]}.")
        elif is_struck and len(struck) + 1 == count:
            click.echo("One choice must stay open.")
        elif is_struck:
            struck.add(place)
            click.echo(
                f"Struck out by your own rules: {names[place]}. x{place + 1} opens it again."
            )
        elif place in struck:
            click.echo(f"Choice {place + 1} is struck out; x{place + 1} opens it again.")
        else:
            return place


def _reasons() -> dict[str, str]:
    """Ask why, and what is expected; both may be left empty."""
    asked = {"because": "Because (Enter: nothing)", "expected": "I expect (Enter: nothing)"}
    return {
        name: _typed(words, default="", show_default=False) or "" for name, words in asked.items()
    }


def _typed(words: str, **how: Any) -> Any:
    """Ask for a line; None where the input has ended, which is no stop from the keyboard."""
    try:
        return click.prompt(words, **how)
    except click.Abort as ending:
        if isinstance(ending.__context__, EOFError):
            return None
        raise


def _inputs(exercise: Exercise) -> list[Path]:
    """Name the files that were read, which no output may replace."""
    scenario = exercise.scenario
    others = (scenario.path.parent / name for name in scenario.inputs)
    return [exercise.path, scenario.path, *others]


def _write(place: Path, exercise: Exercise, text: str) -> None:
    from surge_sim.report.files import whole_text_file

    with _made(place.parent), whole_text_file(place, _inputs(exercise)) as stream:
        stream.write(text)
    announce(f"written: {place}")


@contextmanager
def _made(folder: Path) -> Iterator[None]:
    """Make a folder where there is none."""
    from surge_sim.report.files import refused

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise refused(folder, error, "Name a folder that can be made.") from None
    yield
