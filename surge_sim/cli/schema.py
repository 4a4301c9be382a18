"""``surge-sim schema``: the JSON Schema of scenario files."""

from __future__ import annotations

import click

from surge_sim.cli.common import print_json


@click.command(name="schema")
def command() -> None:
    """Print the JSON Schema of scenario files, for editors that complete and check YAML.

    Save it once, then begin a scenario with the line that your editor's documentation gives.
    """
    from surge_sim.scenario.json_schema import json_schema

    print_json(json_schema())
