"""``surge-sim verify``: both engines on some surges of one's own scenario."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import click

from surge_sim.cli.common import scenario_argument, seed_option, surges_option

_COUNT = click.IntRange(min=0)


@click.command(name="verify")
@scenario_argument
@click.option("--kits", type=_COUNT, help="Kits, instead of the scenario's.")
@click.option("--batteries", type=_COUNT, help="Batteries, spare ones included.")
@click.option("--bays", type=_COUNT, help="Charger bays.")
@surges_option(5, "Number of surges to compare.")
@seed_option
@click.pass_context
def command(
    ctx: click.Context,
    scenario_file: Path,
    kits: int | None,
    batteries: int | None,
    bays: int | None,
    surges: int,
    seed: int,
) -> None:
    """Play some surges of FILE in both engines and compare every entry.

    Every value of every entry, every count and every score must be the same to the last bit. A
    difference is shown as the first event where the engines part, and ends with 1.
    """
    from surge_sim.cli.progress import progress_bar
    from surge_sim.engine.verify import verify
    from surge_sim.equipment.stock import stock_in_hand
    from surge_sim.report.verify_text import verify_text
    from surge_sim.scenario.load import load_scenario

    scenario = load_scenario(scenario_file)
    chosen = {"kits": kits, "batteries": batteries, "bays": bays}
    stock = dataclasses.replace(
        stock_in_hand(scenario.settings),
        **{name: count for name, count in chosen.items() if count is not None},
    )
    with progress_bar("surges", surges) as advance:
        verdict = verify(scenario, stock, surges=surges, seed=seed, progress=advance)
    click.echo(verify_text(verdict))
    if not verdict.same:
        ctx.exit(1)
