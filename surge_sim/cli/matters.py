"""``surge-sim matters``: which input that is not known exactly moves the answer."""

from __future__ import annotations

from pathlib import Path

import click

from surge_sim.cli.options import (
    Money,
    Shared,
    Whole,
    scenario_argument,
    shared_options,
)
from surge_sim.cli.study import study_of


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
    metavar="AMOUNT",
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
@shared_options
def command(
    scenario_file: Path,
    spread_text: str | None,
    no_stock: bool,
    missed_surge: float | None,
    surges: int,
    shared: Shared,
) -> None:
    """Say which input of FILE that is not known exactly to measure first, and why.

    Inputs are those with a range in the file, and with --spread the numbers that are marked
    invented. Each is held at its low and high value on the same simulated surges: what service is,
    and what to add for the target. A study that is stopped goes on where it was when the same
    command is given again.
    """
    from surge_sim.report.matters import matters
    from surge_sim.report.matters_answer import matters_answer
    from surge_sim.report.matters_folder import fill_matters_folder, matters_json
    from surge_sim.report.matters_screen import matters_screen
    from surge_sim.scenario.load import load_scenario
    from surge_sim.whatif.input_design import design_for, inputs_of
    from surge_sim.whatif.inputs import read_spread, with_spread

    scenario = load_scenario(scenario_file)
    spread = None if spread_text is None else read_spread(spread_text)
    ranged = scenario if spread is None else with_spread(scenario, spread).scenario
    inputs = inputs_of(ranged, surges)
    facts = {
        "seed": shared.seed, "surges": surges, "spread": spread, "stock": not no_stock,
        "missed_surge": missed_surge,
    }  # fmt: skip
    with study_of(scenario, shared, facts) as here:
        with here.progress(design_for(ranged, inputs, seed=shared.seed), surges) as advance:
            result = matters(
                scenario,
                spread,
                surges=surges,
                seed=shared.seed,
                stock=not no_stock,
                missed_surge=missed_surge,
                **shared.place,
                progress=advance,
                parts=here.parts,
            )
        fill_matters_folder(here.folder, result)
    answer = matters_answer(result) if shared.full else matters_screen(result)
    here.tell(matters_json(result) if shared.as_json else answer)
