"""``surge-sim sources``: what the tool was checked against."""

from __future__ import annotations

import click

from surge_sim.cautions import CAUTION
from surge_sim.cli.common import json_option, print_json


@click.command(name="sources")
@click.argument("words", metavar="[WORD]...", nargs=-1)
@json_option
def command(words: tuple[str, ...], as_json: bool) -> None:
    """Show the caution, and what the tool was checked against, with sources.

    Each line is a check: the published value, the value computed here, the source and how sure
    its value is; above it stands what it would not notice. WORDs narrow the list to the checks in
    which all of them stand: `erlang`, `42 CFR`, `from memory`, `Ciw`.
    """
    from surge_sim.report.sources import checks_text, checks_with

    table = checks_with(words)
    if as_json:
        print_json({"checks": table, "caution": CAUTION})
    elif table:
        click.echo(checks_text(table))
    else:
        click.echo(f"No check speaks of {' and '.join(words)}.")
