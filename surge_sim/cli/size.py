"""``surge-sim size``: what to add so that the target is met, in which order, for which money."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from surge_sim.cli.options import (
    Money,
    Shared,
    Whole,
    scenario_argument,
    shared_options,
)
from surge_sim.cli.screen import AnswerFirst, announce, progress_bar, tell
from surge_sim.errors import OutOfReach
from surge_sim.scenario.limits import MOST_SURGES


@click.command(name="size")
@scenario_argument
@click.option(
    "--only",
    metavar="ITEMS",
    help="Buy only these, of kits, batteries, bays, cleaners, hoods, tubes, prefilters, "
    "he_filters, large_hoods.  [default: kits, batteries, bays, the parts named in `supplies`, "
    "and cleaners of a crew that have a price]",
)
@click.option(
    "--new",
    is_flag=True,
    help="Start from zero of each item that may be bought (all, or --only), not from the stock in "
    "hand; spare parts in `supplies` stay.",
)
@click.option(
    "--spend", type=Money(), metavar="AMOUNT", help="Also: the best use of so much money."
)
@click.option(
    "--target", "target_text", metavar="PARTS", help="For example wait=10min,share_of_surges=80%."
)
@click.option("--prices", "prices_text", metavar="PRICES", help="For example kit=1400,battery=240.")
@click.option("--confidence", default="95%", show_default=True, help="Of every claim.")
@click.option(
    "--choose",
    type=Whole(1, MOST_SURGES),
    help="Simulated surges that choose the candidates.  [default: 200]",
)
@click.option(
    "--surges",
    type=Whole(1, MOST_SURGES),
    help="Most new surges that test them. Clear cases stop early; a larger number goes on with "
    "the same claim.  [default: 800]",
)
@click.option("--quick", is_flag=True, help="A quick look: 100 surges choose, 300 test.")
@shared_options
def command(
    scenario_file: Path,
    only: str | None,
    new: bool,
    spend: float | None,
    target_text: str | None,
    prices_text: str | None,
    confidence: str,
    choose: int | None,
    surges: int | None,
    quick: bool,
    shared: Shared,
) -> None:
    """Say what to add to the stock of FILE so that its target is met, and in which order.

    What is owned stays; the cost is what must be added. Some simulated surges choose candidates,
    new ones test them. A first look comes within seconds, marked as such. For a log of entries
    the answer is that of one recorded period. Ends with 1, and writes no results folder, when no
    stock within the limits meets the target. Stopped from the keyboard, it prints the best stock
    found so far, writes no results folder, and ends with 130.
    """
    from surge_sim.demand.replay import replay_of
    from surge_sim.report.folder import result_folder
    from surge_sim.report.phrases import NOT_COVERED
    from surge_sim.report.sizing_answer import size_document
    from surge_sim.report.sizing_folder import fill_size_folder, size_json, stopped_json
    from surge_sim.report.sizing_so_far import so_far_words, stopped_document
    from surge_sim.scenario.load import load_scenario
    from surge_sim.sizing.inputs import CHOOSE, SURGES, with_asked
    from surge_sim.sizing.player import SoFar, Watch
    from surge_sim.sizing.size import size

    # what is written into the folder is what was asked for
    scenario = with_asked(load_scenario(scenario_file), target_text, prices_text)
    plan = {
        "choose": choose or (100 if quick else CHOOSE),
        "surges": surges or (300 if quick else SURGES),
        "seed": shared.seed,
    }
    replay, currency = replay_of(scenario), scenario.settings.prices.currency
    if replay is not None:
        plan |= {name: replay.plays(plan[name]) for name in ("choose", "surges")}
    facts = {
        **plan, "only": only, "new": new, "spend": spend, "confidence": confidence,
        "target": target_text, "prices": prices_text,
    }  # fmt: skip
    found: list[SoFar] = []

    def best(so_far: SoFar) -> None:
        words = so_far_words(so_far, currency, replay)
        # of a recorded period the first look and the answer are often the same
        if not found or words != so_far_words(found[-1], currency, replay):
            announce(words)
        found.append(so_far)

    first, typed = AnswerFirst(), ["surge-sim", *sys.argv[1:]]
    # the place is tried before the work begins
    try:
        with first, result_folder(shared.out_folder, scenario, typed, facts) as folder:
            result = size(
                scenario,
                vary=only,
                new=new,
                spend=spend,
                confidence=confidence,
                **shared.place,
                watch=Watch(progress_bar, best),
                choose=plan["choose"],
                surges=plan["surges"],
                seed=shared.seed,
            )
            first.tell(size_json(result) if shared.as_json else size_document(result, shared.full))
            fill_size_folder(folder, result)
    except KeyboardInterrupt:
        if first.told:
            raise
        last = found[-1] if found else None
        tell(stopped_json(last) if shared.as_json else stopped_document(last, currency, replay))
        raise
    except OutOfReach as error:
        covers = "" if replay is None else f"\n{NOT_COVERED} Surges here are replications of it."
        raise OutOfReach(f"{error}{covers}\nNo results folder was written.") from error
    announce(folder.result_lines)
