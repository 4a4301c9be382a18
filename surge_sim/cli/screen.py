"""Answers on the terminal at hand: as wide as it is, and in colours where it shows them."""

from __future__ import annotations

import os
import shutil
import sys
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from surge_sim.report.document import Document


def show(answer: Document) -> None:
    """Print an answer."""
    from surge_sim.report.terminal import render

    columns = shutil.get_terminal_size((80, 24)).columns
    click.echo(render(answer, columns, has_colours()))


def has_colours() -> bool:
    """Say whether standard output is a terminal that shows colours, and nobody refused them."""
    refused = os.environ.get("NO_COLOR") or os.environ.get("TERM") in ("dumb", "unknown")
    return sys.stdout.isatty() and not refused
