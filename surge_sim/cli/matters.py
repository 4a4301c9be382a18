"""``surge-sim matters``: which input that is not known exactly moves the answer."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from surge_sim.cli.options import (
    Money,
    Whole,
    cluster_option,
    json_option,
    out_option,
    processes_option,
    scenario_argument,
    seed_option,
)
from surge_sim.cli.screen import announce, print_json, progress_bar, show


@click.command(name="matters")
@scenario_argument
@click.option(
    "--spread",
    "spread_text",
    metavar="SHARE",
    help="Also put a range of so much up and down, for example 25%, on every number of a section "
    "that is marked invented under `sources`.",
)
@click.option(
    "--no-stock",
    is_flag=True,
    help="Say nothing of the stock to add and of money: several times quicker.",
)
@click.option(
    "--missed-surge",
    type=Money(),
    metavar="MONEY",
    help="What a surge that misses the target costs.  [default: the least at which it pays to buy "
    "for the target]",
)
@click.option(
    "--surges",
    type=Whole(20, 10_000),
    default=200,
    show_default=True,
    help="Number of simulated surges.",
)
@seed_option
@out_option
@json_option
@processes_option
@cluster_option
def command(
    scenario_file: Path,
    spread_text: str | None,
    no_stock: bool,
    missed_surge: float | None,
    surges: int,
    seed: int,
    out_folder: Path | None,
    as_json: bool,
    processes: int | None,
    cluster: str | None,
) -> None:
    """Say which input of FILE that is not known exactly to measure first, and why.

    Inputs are those with a range in the file, and with --spread the numbers that are marked
    invented. Each is held at its low and high value on the same simulated surges: what service is,
    and what to add for the target. A study that is stopped goes on where it was when the same
    command is given again.
    """
    from surge_sim.report.folder import RESULTS, result_folder
    from surge_sim.report.matters import matters
    from surge_sim.report.matters_answer import matters_answer
    from surge_sim.report.matters_folder import fill_matters_folder, matters_json
    from surge_sim.scenario.load import load_scenario
    from surge_sim.whatif.input_design import design_for, inputs_of
    from surge_sim.whatif.inputs import read_spread, with_spread
    from surge_sim.whatif.parts import Parts, unfinished
    from surge_sim.whatif.play import plays_of

    scenario = load_scenario(scenario_file)
    spread = None if spread_text is None else read_spread(spread_text)
    ranged = scenario if spread is None else with_spread(scenario, spread).scenario
    inputs = inputs_of(ranged, surges)
    facts = {
        "seed": seed, "surges": surges, "spread": spread, "stock": not no_stock,
        "missed_surge": missed_surge,
    }  # fmt: skip
    parts = Parts(unfinished(out_folder.parent if out_folder else RESULTS, scenario.name))
    # the place is tried before the work begins
    with result_folder(out_folder, scenario, ["surge-sim", *sys.argv[1:]], facts) as folder:
        plays, _ = plays_of(design_for(ranged, inputs, seed=seed), surges)
        with progress_bar("replications", plays) as advance:
            result = matters(
                scenario,
                spread,
                surges=surges,
                seed=seed,
                stock=not no_stock,
                missed_surge=missed_surge,
                processes=processes,
                cluster=cluster,
                progress=advance,
                parts=parts,
            )
        fill_matters_folder(folder, result)
    parts.forget()
    if as_json:
        print_json(matters_json(result))
    else:
        show(matters_answer(result))
    announce(f"results: {folder.place}")
