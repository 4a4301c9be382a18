"""``surge-sim new``: a commented scenario file to start from."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import click

from surge_sim.cli.common import Place
from surge_sim.errors import Fault, ScenarioError
from surge_sim.plain import for_screen


@click.command(name="new")
@click.argument("scenario_file", metavar="[FILE]", type=Place(), default="scenario.yaml")
def command(scenario_file: Path) -> None:
    """Write a commented scenario file to start from (scenario.yaml if no FILE is named).

    Every number has its source beside it, or the word invented. A file that is there already is
    never overwritten.
    """
    starter = files("surge_sim.scenario").joinpath("starter.yaml").read_text("utf-8")
    try:
        with scenario_file.open("x", encoding="utf-8", newline="\n") as file:
            try:
                file.write(starter)
                file.flush()
            except BaseException:
                # half a file would be taken for a whole one
                scenario_file.unlink()
                raise
    except FileExistsError:
        right = "It is left as it was; name another file."
        raise ScenarioError([Fault(str(scenario_file), 0, "is there already.", right)]) from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        found = f"cannot be written: {reason}."
        right = "Name a file in a folder that is there and can be written to."
        raise ScenarioError([Fault(str(scenario_file), 0, found, right)]) from None
    name = for_screen(str(scenario_file))
    click.echo(f"Wrote {name}. Put your numbers in, then: surge-sim check {name}")
