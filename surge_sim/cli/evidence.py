"""``surge-sim verify``, ``explain`` and ``sources``: why the numbers can be believed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from surge_sim.cautions import CAUTION
from surge_sim.cli.options import (
    Whole,
    chosen_stock,
    json_option,
    scenario_argument,
    seed_option,
    stock_options,
    surges_option,
)
from surge_sim.cli.screen import announce, page, progress_bar, show, tell
from surge_sim.scenario.limits import MOST_REQUESTS, MOST_SURGES


@click.command(name="verify")
@scenario_argument
@stock_options
@surges_option(5, "Number of simulated surges to compare.")
@seed_option
@click.pass_context
def verify(
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


if TYPE_CHECKING:
    from surge_sim.engine.story import Sort

_COUNT = Whole(0, MOST_REQUESTS)
#: from so many entries on, the reference engine takes its time
_MANY = 5_000


@click.command(name="explain")
@scenario_argument
@click.option("--entry", metavar="N", type=_COUNT, help="Which entry, from 0.")
@click.option("--kit", metavar="N", type=_COUNT, help="Which kit, from 0.")
@click.option("--battery", metavar="N", type=_COUNT, help="Which battery, from 0.")
@stock_options
@click.option(
    "--surge",
    type=Whole(0, MOST_SURGES),
    default=0,
    show_default=True,
    help="Which simulated surge, from 0.",
)
@seed_option
@click.option("--day", type=Whole(1), help="Only this day of the surge, from 1.")
@click.option(
    "--lines",
    type=Whole(1, MOST_REQUESTS),
    default=60,
    show_default=True,
    help="Show this many sentences at most.",
)
def explain(
    scenario_file: Path,
    entry: int | None,
    kit: int | None,
    battery: int | None,
    kits: int | None,
    batteries: int | None,
    bays: int | None,
    surge: int,
    seed: int,
    day: int | None,
    lines: int,
) -> None:
    """Tell what happened to one entry, kit or battery in one simulated surge.

    Without --entry, --kit or --battery: of the entry that waited longest. The surges are those
    of `run` with the same seed, and entries have the numbers that `run --entries-out` writes.
    """
    from surge_sim.engine.story import how_many, tell_story
    from surge_sim.equipment.situation import Conditions
    from surge_sim.randomness import Sample, Streams
    from surge_sim.report.explain_answer import explain_answer
    from surge_sim.scenario.load import load_scenario

    sort, number = _asked(entry, kit, battery)
    scenario = load_scenario(scenario_file)
    stock = chosen_stock(scenario, kits, batteries, bays)
    settings = scenario.settings_for(seed, surge=surge)
    situation = Conditions.of(settings).drawn(Streams(seed, Sample.RUN, surge), stock)
    demand = situation.demand
    _check_range(sort, number, how_many(sort, situation))
    days = -(-demand.closing_s // 86_400)
    if day is not None and day > days:
        raise click.BadParameter(
            f"the surge and its run-out period have the days 1 to {days}.", param_hint="'--day'"
        )
    if demand.entries > _MANY:
        announce(f"playing {demand.entries:,} entries in the reference engine")
    show(explain_answer(tell_story(settings, situation, sort, number), day=day, most=lines))


def _asked(entry: int | None, kit: int | None, battery: int | None) -> tuple[Sort, int | None]:
    """Return what the story is about; more than one thing is refused."""
    sorts: dict[Sort, int | None] = {"entry": entry, "kit": kit, "battery": battery}
    asked = [(sort, number) for sort, number in sorts.items() if number is not None]
    if len(asked) > 1:
        raise click.UsageError("Give one of --entry, --kit and --battery: one story at a time.")
    return asked[0] if asked else ("entry", None)


def _check_range(sort: Sort, number: int | None, there: int) -> None:
    many = {"entry": "entries", "kit": "kits", "battery": "batteries"}[sort]
    if not there:
        raise click.BadParameter(f"there are no {many} in this surge.", param_hint=f"'--{sort}'")
    if number is not None and number >= there:
        raise click.BadParameter(
            f"there is no {sort} {number}: the {many} of this surge are 0 to {there - 1}.",
            param_hint=f"'--{sort}'",
        )


@click.command(name="sources")
@click.argument("words", metavar="[WORD]...", nargs=-1)
@json_option
def sources(words: tuple[str, ...], as_json: bool) -> None:
    """Show the caution, and what the tool was checked against, with sources.

    Each line is a check: the published value, the value computed here, the source and how sure
    its value is; above it stands what it would not notice. WORDs narrow the list to the checks in
    which all of them stand: `erlang`, `42 CFR`, `from memory`, `Ciw`.
    """
    from surge_sim.report.sources import checks_text, checks_with

    table = checks_with(words)
    if as_json:
        tell({"checks": table, "caution": CAUTION})
    elif table:
        page(checks_text(table))
    else:
        click.echo(f"No check speaks of {' and '.join(words)}.")
