"""``surge-sim new``, ``check`` and ``schema``: help with writing a scenario file."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import click

from surge_sim.cli.options import Place, json_option, scenario_argument
from surge_sim.cli.screen import show, tell
from surge_sim.errors import Fault, ScenarioError
from surge_sim.plain import for_screen


@click.command(name="new")
@click.argument("file", metavar="[FILE]", type=Place(), required=False)
@click.option("--life", is_flag=True, help="Write one on the life of the equipment, for `case`.")
def new(file: Path | None, life: bool) -> None:
    """Write a commented scenario file to start from (scenario.yaml if no FILE is named).

    Every number has its source beside it, or the word invented. A file that is there already is
    never overwritten.
    """
    if life:
        name = write_new(file or Path("life.yaml"), "life_starter.yaml")
        click.echo(f"Wrote {name}. Put your numbers in, then: surge-sim case FOLDER --life {name}")
        return
    name = write_new(file or Path("scenario.yaml"), "starter.yaml")
    click.echo(f"Wrote {name}. Put your numbers in, then: surge-sim check {name}")


def write_new(path: Path, starter: str) -> str:
    """Write a file to start from, never over one that is there; return its name for a screen.

    Parameters
    ----------
    path : Path
        Where.
    starter : str
        Name of the text among those of the package's scenarios.
    """
    text = files("surge_sim.scenario").joinpath(starter).read_text("utf-8")
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            try:
                file.write(text)
                file.flush()
            except BaseException:
                # half a file would be taken for a whole one
                path.unlink()
                raise
    except FileExistsError:
        right = "It is left as it was; name another file."
        raise ScenarioError([Fault(str(path), 0, "is there already.", right)]) from None
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        found = f"cannot be written: {reason}."
        right = "Name a file in a folder that is there and can be written to."
        raise ScenarioError([Fault(str(path), 0, found, right)]) from None
    return for_screen(str(path))


@click.command(name="check")
@scenario_argument
@click.option("--full", is_flag=True, help="Also read the whole file back in plain sentences.")
@click.option("--sources", is_flag=True, help="Also say where the numbers come from.")
@click.option(
    "--defaults", is_flag=True, help="Print the file with every default filled in, and no more."
)
@json_option
def check(scenario_file: Path, full: bool, sources: bool, defaults: bool, as_json: bool) -> None:
    """Check a scenario file, and compare its average workload with the stock.

    Every fault of the file is listed with its line, then what is doubtful. The workload is
    arithmetic without queueing: entries per day, kits, batteries and bays that are busy.
    """
    from surge_sim.report.check_answer import check_answer, check_json
    from surge_sim.scenario.load import load_scenario

    scenario = load_scenario(scenario_file)
    if as_json:
        answer = check_json(scenario)
        if defaults:
            answer["full_form"] = scenario.full_form()
        tell(answer)
    elif defaults:
        click.echo(scenario.full_form(), nl=False)
    else:
        show(check_answer(scenario, full, sources))


@click.command(name="schema")
def schema() -> None:
    """Print the JSON Schema of scenario files, for editors that complete and check YAML.

    Save it once, then begin a scenario with the line that your editor's documentation gives.
    """
    from surge_sim.scenario.json_schema import json_schema

    tell(json_schema())
