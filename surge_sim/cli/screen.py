"""What is printed: answers on standard output, and progress of long work on standard error.

An answer is as wide as the terminal, and in colours where it shows them. Progress is a bar on a
terminal, else a rare plain line.
"""

from __future__ import annotations

import os
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Protocol

import click

from surge_sim.plain import for_screen, json_text

if TYPE_CHECKING:
    from surge_sim.report.document import Document

#: lines of a heading, at most
_HEADING = 2


def show(answer: Document) -> None:
    """Print an answer."""
    from surge_sim.report.terminal import render

    columns = shutil.get_terminal_size((80, 24)).columns
    click.echo(render(answer, columns, has_colours()))


def show_by_screens(answer: Document) -> None:
    """Print an answer; on a terminal, a screen at a time, ending at empty lines where there are."""
    from surge_sim.report.terminal import render

    size = shutil.get_terminal_size((80, 24))
    lines = render(answer, size.columns, has_colours()).split("\n")
    if not sys.stdin.isatty() or not sys.stdout.isatty():
        click.echo("\n".join(lines))
        return
    room = max(size.lines - 1, 2)  # below them the line that asks for a key
    while len(lines) > room:
        empty = [place for place in range(room // 2, room) if not lines[place].strip()]
        # a heading stays with what it is the heading of
        if len(empty) > 1 and empty[-1] - empty[-2] <= _HEADING + 1:
            empty.pop()
        end = empty[-1] if empty else room
        click.echo("\n".join(lines[:end]))
        click.pause("-- press a key for more --")
        lines = lines[end + 1 :] if empty else lines[end:]
    click.echo("\n".join(lines))


def tell(answer: Document | dict[str, Any]) -> None:
    """Print an answer, as one JSON object and nothing else or for people."""
    if isinstance(answer, dict):
        click.echo(json_text(answer))
    else:
        show(answer)


def page(text: str) -> None:
    """Print a text; on a terminal that it does not fit on, page by page."""
    if sys.stdout.isatty() and text.count("\n") >= shutil.get_terminal_size((80, 24)).lines:
        click.echo_via_pager(text)
    else:
        click.echo(text)


class AnswerFirst:
    """An answer that stands before the results folder does.

    Tables and figures take longer than the answer, which is printed as soon as it is known. What
    happens after it is said once the folder is there, or once it is known that none will be.
    """

    def __init__(self) -> None:
        self.told = False
        self._gone: BrokenPipeError | None = None

    def __enter__(self) -> AnswerFirst:
        """Return it; nothing has been told."""
        return self

    def tell(self, answer: Document | dict[str, Any]) -> None:
        """Print the answer, as JSON or for people; a reader who has gone is told of at the end."""
        try:
            tell(answer)
            sys.stdout.flush()
        except BrokenPipeError as error:
            self._gone = error
        self.told = True

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """Say that no folder was written where that is so."""
        if kind is not None and self.told:
            announce("The answer above is whole; no results folder was written.")
        if kind is None and self._gone is not None:
            raise self._gone


def has_colours() -> bool:
    """Say whether standard output is a terminal that shows colours, and nobody refused them."""
    refused = os.environ.get("NO_COLOR") or os.environ.get("TERM") in ("dumb", "unknown")
    return sys.stdout.isatty() and not refused


#: between plain lines when standard error is no terminal [s]
QUIET_S = 30.0


class Advance(Protocol):
    """Called after each piece of work."""

    def __call__(self, steps: int = 1) -> None:
        """Count so many more steps as done."""


def announce(text: str) -> None:
    """Say one line about what happens now."""
    print(for_screen(text), file=sys.stderr, flush=True)


@contextmanager
def progress_bar(
    label: str, total: int, clock: Callable[[], float] = time.monotonic
) -> Iterator[Advance]:
    """Show how far the work has come while the block runs.

    Parameters
    ----------
    label : str
        What is being done, for example ``"surges"``.
    total : int
        Number of steps.
    clock : callable
        Gives the time [s]; tests pass their own.

    Yields
    ------
    callable
        ``advance(n)`` says that n more steps are done, ``advance()`` one more.
    """
    if sys.stderr.isatty():
        with _bar(label, total) as advance:
            yield advance
    else:
        yield _rare_lines(label, total, clock)


@contextmanager
def _bar(label: str, total: int) -> Iterator[Advance]:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeElapsedColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        # what moves while the engine is compiled, before the first step
        TextColumn("after"),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    # the bar goes away when the work is done, so that the answer stands alone
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task(label, total=total)

        def advance(steps: int = 1) -> None:
            progress.advance(task, steps)

        yield advance


def _rare_lines(label: str, total: int, clock: Callable[[], float]) -> Advance:
    done = 0
    said_at = clock()
    # the first step may have waited for compiling: the speed is that of the steps after it
    first: tuple[int, float] | None = None

    def advance(steps: int = 1) -> None:
        nonlocal done, said_at, first
        done += steps
        now = clock()
        first = first or (done, now)
        if now - said_at >= QUIET_S:
            said_at = now
            share = f" ({100 * done // total} %)" if total else ""
            if total and done > first[0]:
                a_step = (now - first[1]) / (done - first[0])
                share += f", {spoken(a_step * (total - done))} left"
            announce(f"{label}: {done} of {total}{share}")

    return advance


def spoken(seconds: float) -> str:
    """Return a time in words that promise no more than is known: ``40 s``, ``3 min``."""
    if seconds < 90:
        return f"{max(round(seconds, -1 if seconds > 15 else 0), 1):.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
