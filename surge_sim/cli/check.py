"""``surge-sim check``: says what is wrong or doubtful in a file, and its average workload."""

from __future__ import annotations

from pathlib import Path

import click

from surge_sim.cli.common import json_option, print_json, scenario_argument
from surge_sim.cli.screen import show


@click.command(name="check")
@scenario_argument
@click.option("--full", is_flag=True, help="Also read the whole file back in plain sentences.")
@click.option("--sources", is_flag=True, help="Also say where the numbers come from.")
@click.option(
    "--defaults", is_flag=True, help="Print the file with every default filled in, and no more."
)
@json_option
def command(scenario_file: Path, full: bool, sources: bool, defaults: bool, as_json: bool) -> None:
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
        print_json(answer)
    elif defaults:
        click.echo(scenario.full_form(), nl=False)
    else:
        show(check_answer(scenario, full, sources))
