"""``surge-sim run``: simulate one stock over many surges."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path

import click

from surge_sim.cli.options import (
    Place,
    Shared,
    chosen_stock,
    scenario_argument,
    shared_options,
    stock_options,
    surges_option,
)
from surge_sim.cli.screen import AnswerFirst, announce, progress_bar


@click.command(name="run")
@scenario_argument
@stock_options
@surges_option(200)
@shared_options
@click.option(
    "--entries-out",
    metavar="FILE.csv",
    type=Place(),
    help="Also write every request for a kit, one row each.",
)
@click.option(
    "--engine",
    type=click.Choice(["compiled", "reference"]),
    default="compiled",
    show_default=True,
    help="Both give the same answer; the reference engine is slow and readable.",
)
def command(
    scenario_file: Path,
    kits: int | None,
    batteries: int | None,
    bays: int | None,
    surges: int,
    shared: Shared,
    entries_out: Path | None,
    engine: str,
) -> None:
    """Simulate a stock over many surges and say whether it meets the service target.

    The stock is the scenario's unless an option says otherwise. A log of entries is one recorded
    period, and is simulated once where nothing in it is random. Tables and figures follow the
    answer, in a folder of their own, results/<scenario>_<time>_<hash> or the one named by --out.
    """
    from surge_sim.demand.replay import replay_of
    from surge_sim.report.files import whole_text_file
    from surge_sim.report.folder import result_folder
    from surge_sim.report.run_answer import run_answer
    from surge_sim.report.run_folder import fill_run_folder, run_json, stock_json
    from surge_sim.scenario.load import load_scenario
    from surge_sim.statistics.run import run

    scenario = load_scenario(scenario_file)
    stock = chosen_stock(scenario, kits, batteries, bays)
    replay = replay_of(scenario)
    surges = surges if replay is None else replay.plays(surges)
    facts = {"seed": shared.seed, "surges": surges, "engine": engine, "stock": stock_json(stock)}
    typed = ["surge-sim", *sys.argv[1:]]
    inputs = [scenario.path, *(scenario.path.parent / name for name in scenario.inputs)]
    # both places are tried before the work begins
    with (
        AnswerFirst() as first,
        result_folder(shared.out_folder, scenario, typed, facts) as folder,
        whole_text_file(entries_out, inputs, folder.place)
        if entries_out
        else nullcontext() as rows,
    ):
        with progress_bar("surges" if replay is None else "replications", surges) as advance:
            result = run(
                scenario,
                stock,
                surges=surges,
                seed=shared.seed,
                **shared.place,
                engine=engine,  # type: ignore[arg-type]
                progress=advance,
                write_entries=rows.write if rows else None,
            )
        first.tell(run_json(result) if shared.as_json else run_answer(result, shared.full))
        fill_run_folder(folder, result)
    announce(folder.result_lines)
