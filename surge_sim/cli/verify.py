"""``surge-sim verify``: both engines on some surges of one's own scenario."""

from __future__ import annotations

from pathlib import Path

import click

from surge_sim.cli.common import (
    chosen_stock,
    scenario_argument,
    seed_option,
    stock_options,
    surges_option,
)
from surge_sim.cli.screen import show


@click.command(name="verify")
@scenario_argument
@stock_options
@surges_option(5, "Number of simulated surges to compare.")
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
    """Simulate some surges of FILE in both engines and compare every entry.

    Every value of every entry, every count and every score must be the same to the last bit. A
    difference is shown as the first event where the engines part, and ends with 1.
    """
    from surge_sim.cli.progress import progress_bar
    from surge_sim.engine.verify import verify
    from surge_sim.report.verify_answer import verify_answer
    from surge_sim.scenario.load import load_scenario

    scenario = load_scenario(scenario_file)
    stock = chosen_stock(scenario, kits, batteries, bays)
    with progress_bar("surges", surges) as advance:
        verdict = verify(scenario, stock, surges=surges, seed=seed, progress=advance)
    show(verify_answer(verdict))
    if not verdict.same:
        ctx.exit(1)
