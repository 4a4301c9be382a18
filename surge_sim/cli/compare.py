"""``surge-sim compare``: alternatives side by side on the same simulated surges."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from surge_sim.cli.options import (
    Place,
    Shared,
    scenario_argument,
    shared_options,
    surges_option,
)
from surge_sim.cli.study import study_of

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.whatif.compare import Comparison
    from surge_sim.whatif.design import Alternative
    from surge_sim.whatif.parts import Parts


@click.command(name="compare")
@scenario_argument
@click.argument("other_files", metavar="[OTHER]...", nargs=-1, type=Place())
@click.option(
    "--with",
    "texts",
    metavar="'NAME: SETTING=VALUE'",
    multiple=True,
    help="An alternative: settings by dotted name as in the scenario file (lists count from 0), "
    "parted by semicolons; SETTING.+ adds an entry to a list. May be given often.",
)
@click.option(
    "--alternatives",
    "alternatives_file",
    metavar="FILE.yaml",
    type=Place(),
    help="A file of alternatives: below `alternatives:`, a name and settings for each.",
)
@click.option(
    "--usual",
    is_flag=True,
    help="Also try usual operating rules, small purchases and stress, where they make sense.",
)
@click.option(
    "--size", "with_size", is_flag=True, help="Also: what each has to add to meet the target."
)
@surges_option(200)
@shared_options
def command(
    scenario_file: Path,
    other_files: tuple[Path, ...],
    texts: tuple[str, ...],
    alternatives_file: Path | None,
    usual: bool,
    with_size: bool,
    surges: int,
    shared: Shared,
) -> None:
    """Simulate FILE and alternatives to it over the same simulated surges, and say how they differ.

    Alternatives are changes of settings (--with, --alternatives), whole scenarios (OTHER) or the
    usual ones. Random variation that they share cancels out; limits hold for all together. A
    comparison that is stopped goes on where it was when the same command is given again.
    """
    from dataclasses import replace

    from surge_sim.report.comparison import comparison_answer
    from surge_sim.report.comparison_folder import comparison_json, fill_comparison_folder
    from surge_sim.scenario.load import load_scenario
    from surge_sim.whatif.compare import compare
    from surge_sim.whatif.design import design_of

    scenario = load_scenario(scenario_file)
    alternatives, not_tried = _asked(scenario, other_files, texts, alternatives_file, usual)
    design = design_of(scenario, alternatives, shared.seed)
    surges = surges if design.replay is None else design.replay.plays(surges)
    facts = {
        "seed": shared.seed, "surges": surges, "usual": usual, "size": with_size,
        "alternatives": {one.name: one.key for one in alternatives},
    }  # fmt: skip
    with study_of(scenario, shared, facts) as here:
        with here.progress(design, surges) as advance:
            result = compare(
                scenario,
                alternatives,
                surges=surges,
                seed=shared.seed,
                **shared.place,
                progress=advance,
                parts=here.parts,
                not_tried=not_tried,
            )
        if with_size:
            result = replace(result, sized=_sized(result, here.parts, shared))
        fill_comparison_folder(here.folder, result)
    answer = comparison_answer(result, shared.full)
    here.tell(comparison_json(result) if shared.as_json else answer)


def _asked(
    scenario: Scenario,
    other_files: tuple[Path, ...],
    texts: tuple[str, ...],
    alternatives_file: Path | None,
    usual: bool,
) -> tuple[list[Alternative], tuple[tuple[str, str], ...]]:
    """Return what is to be compared, with every fault of it at once, and what is not tried."""
    from collections.abc import Callable
    from functools import partial

    from surge_sim.errors import Fault, ScenarioError, echo
    from surge_sim.whatif.asked import (
        alternative_from_text,
        alternatives_from_file,
        whole_scenarios,
    )
    from surge_sim.whatif.usual import usual_alternatives

    readers: list[Callable[[], list[Alternative]]] = [
        partial(whole_scenarios, other_files),
        *(partial(lambda text: [alternative_from_text(scenario, text)], text) for text in texts),
    ]
    if alternatives_file is not None:
        readers.append(partial(alternatives_from_file, scenario, alternatives_file))
    found, faults = list[Any](), list[Fault]()
    for read in readers:
        try:
            found += read()
        except ScenarioError as error:
            faults += error.faults
    if faults:
        raise ScenarioError(faults)
    tried, not_tried = usual_alternatives(scenario) if usual else ([], ())
    taken = {one.name for one in tried}
    if same := [one.name for one in found if one.name in taken]:
        right = "Give yours another name, or leave --usual out."
        raise ScenarioError(
            [Fault("--usual", 0, f"has an alternative '{echo(name)}' too.", right) for name in same]
        )
    if not found and not tried and not usual:
        right = (
            f"Name one, for example --with 'one kit more: stock.kits="
            f"{scenario.settings.stock.kits + 1}', or try the usual ones with --usual."
        )
        raise ScenarioError([Fault(str(scenario.path), 0, "has no alternative here.", right)])
    return [*found, *tried], not_tried


def _sized(result: Comparison, parts: Parts, shared: Shared) -> dict[str, dict[str, Any]]:
    """Size the scenario and each alternative; those sized before a stop are known."""
    from surge_sim.cli.screen import announce
    from surge_sim.errors import OutOfReach
    from surge_sim.report.comparison_tables import out_of_reach_in_short, sized_in_short
    from surge_sim.sizing.size import size

    found = dict[str, dict[str, Any]]()
    for number, one in enumerate(result.design.alternatives, 1):
        key = f"size_{result.design.key_of(one)}"
        known = parts.text(key)
        if known is None:
            announce(f"sizing {number} of {len(result.design.alternatives)}: {one.name}")
            try:
                known = sized_in_short(size(one.scenario, seed=shared.seed, **shared.place))
            except OutOfReach:
                known = out_of_reach_in_short()
            parts.keep_text(key, known)
        found[one.name] = known
    return found
