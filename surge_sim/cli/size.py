"""``surge-sim size``: find the cheapest stock that keeps the target, with evidence."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from surge_sim.cli.common import (
    Money,
    Whole,
    cluster_option,
    json_option,
    out_option,
    print_json,
    processes_option,
    scenario_argument,
    seed_option,
)
from surge_sim.cli.screen import show
from surge_sim.errors import OutOfReach
from surge_sim.scenario.limits import MOST_SURGES


@click.command()
@scenario_argument
@click.option(
    "--vary",
    default="kits,batteries",
    show_default=True,
    metavar="ITEMS",
    help="Items that may change, of kits, batteries, bays, crew; the rest stays as in hand.",
)
@click.option(
    "--hold",
    default="",
    metavar="PARTS",
    help="Spare parts to leave as they are, of hoods, tubes, prefilters, main_filters; the others "
    "are searched.",
)
@click.option("--confidence", default="95%", show_default=True, help="Of every claim.")
@click.option(
    "--target", "target_text", metavar="PARTS", help="For example wait=10min,share_of_surges=80%."
)
@click.option("--prices", "prices_text", metavar="PRICES", help="For example kit=1400,battery=240.")
@click.option(
    "--budget",
    type=Money(),
    metavar="MONEY",
    help="Also find the best service for so much money: a whole stock, not what to add to the one "
    "in hand. Says so where it does not reach the target; that alone is no failure.",
)
@click.option(
    "--choose",
    type=Whole(1, MOST_SURGES),
    default=None,
    help="Surges that choose the candidates.  [default: 200]",
)
@click.option(
    "--surges",
    type=Whole(1, MOST_SURGES),
    default=None,
    help="Fresh surges that certify the answer.  [default: 800]",
)
@click.option("--quick", is_flag=True, help="A quick look: 100 surges choose, 300 certify.")
@click.option(
    "--more",
    type=Whole(1, MOST_SURGES),
    help="Look on at one item less, up to so many surges, until it is decided.",
)
@click.option("--anytime", is_flag=True, help="Stop as soon as the evidence is enough.")
@click.option("--within", metavar="TIME", help="With --anytime: stop looking after this time.")
@seed_option
@out_option
@json_option
@processes_option
@cluster_option
def command(
    scenario_file: Path,
    vary: str,
    hold: str,
    confidence: str,
    target_text: str | None,
    prices_text: str | None,
    budget: float | None,
    choose: int | None,
    surges: int | None,
    quick: bool,
    more: int | None,
    anytime: bool,
    within: str | None,
    seed: int,
    out_folder: Path | None,
    as_json: bool,
    processes: int | None,
    cluster: str | None,
) -> None:
    """Find the cheapest stock that keeps the target of FILE, and show how sure that is.

    Some surges choose candidates, fresh ones certify. For every single item less than the
    answer it says whether that fails. For a log of entries the answer is that of one recorded
    period, which is played once with each stock where nothing in it is random. Ends with 1, and
    writes no results folder, when no stock within the limits keeps the target. Stopped from the
    keyboard, it prints the best stock found so far, writes no results folder, and ends with 130.
    """
    from surge_sim.cli.progress import announce, progress_bar
    from surge_sim.cli.size_options import (
        read_duration,
        read_names,
        read_prices,
        read_share,
        read_target,
    )
    from surge_sim.demand.replay import replay_of
    from surge_sim.report.folder import result_folder
    from surge_sim.report.replay_words import NOT_COVERED
    from surge_sim.report.sizing_folder import fill_size_folder
    from surge_sim.report.sizing_json import size_json, stopped_json
    from surge_sim.report.sizing_text import size_text, stopped_text
    from surge_sim.scenario.load import load_scenario
    from surge_sim.sizing.size import size
    from surge_sim.sizing.watch import SoFar, Watch

    scenario = load_scenario(scenario_file)
    settings = scenario.settings
    target = read_target(target_text, settings.target) if target_text else None
    prices = read_prices(prices_text, settings.prices) if prices_text else None
    plan = {
        "choose": choose or (100 if quick else 200),
        "surges": surges or (300 if quick else 800),
        "seed": seed,
    }
    sure = read_share("--confidence", confidence)
    within_s = read_duration("--within", within) if within else None
    replay = replay_of(scenario)
    if replay is not None:
        plan |= {name: replay.plays(plan[name]) for name in ("choose", "surges")}
    facts = {**plan, "vary": read_names(vary), "confidence": sure}
    typed = ["surge-sim", *sys.argv[1:]]
    so_far: list[SoFar] = []
    # the place is tried before the work begins
    try:
        with result_folder(out_folder, scenario, typed, facts) as folder:
            result = size(
                scenario,
                vary=read_names(vary),
                hold=read_names(hold),
                target=target,
                prices=prices,
                confidence=sure,
                budget=budget,
                more=more,
                anytime=anytime,
                within_s=within_s,
                processes=processes,
                cluster=cluster,
                watch=Watch(announce, progress_bar, so_far.append),
                choose=plan["choose"],
                surges=plan["surges"],
                seed=seed,
            )
            fill_size_folder(folder, result)
    except KeyboardInterrupt:
        best = so_far[-1] if so_far else None
        if as_json:
            print_json(stopped_json(best))
        else:
            show(stopped_text(best, (prices or settings.prices).currency))
        raise
    except OutOfReach as error:
        covers = "" if replay is None else f"\n{NOT_COVERED} Surges here are plays of it."
        raise OutOfReach(f"{error}{covers}\nNo results folder was written.") from error
    if as_json:
        print_json(size_json(result))
    else:
        show(size_text(result))
    announce(f"results: {folder.place}")
