"""``surge-sim check``: says whether a file is right, and reads it back in plain words."""

from __future__ import annotations

from pathlib import Path

import click

from surge_sim.cli.common import json_option, print_json, scenario_argument
from surge_sim.cli.screen import show


@click.command(name="check")
@scenario_argument
@click.option("--full", is_flag=True, help="Print the scenario with every default filled in.")
@json_option
def command(scenario_file: Path, full: bool, as_json: bool) -> None:
    """Check a scenario file and read it back in plain sentences.

    With the arithmetic at average rates: patients, entries per day, kits, batteries and bays
    that are busy at the peak. Every fault of the file is listed with its line.
    """
    from surge_sim.report.readback import read_back, read_back_json
    from surge_sim.scenario.load import load_scenario

    scenario = load_scenario(scenario_file)
    if as_json:
        answer = read_back_json(scenario)
        if full:
            answer["full_form"] = scenario.full_form()
        print_json(answer)
    elif full:
        click.echo(scenario.full_form(), nl=False)
    else:
        show(read_back(scenario))
