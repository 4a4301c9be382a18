"""Which input matters, from Python: the study with a ladder of stocks that sizing finds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from surge_sim.equipment.average_load import all_warnings
from surge_sim.equipment.stock import Stock, money
from surge_sim.errors import whole_number
from surge_sim.report.html import html_of
from surge_sim.report.matters_answer import matters_answer
from surge_sim.report.terminal import render
from surge_sim.sizing.ladder import ladder_of
from surge_sim.whatif.design import base_of, design_of
from surge_sim.whatif.input_design import Ladder, inputs_of
from surge_sim.whatif.inputs import with_spread
from surge_sim.whatif.matters import Matters, study
from surge_sim.whatif.parts import Parts

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from surge_sim.engine.surges import Workers
    from surge_sim.scenario.load import Scenario
    from surge_sim.sizing.player import Watch


class ShownMatters(Matters):
    """A study of inputs that can be printed and drawn."""

    def __str__(self) -> str:
        """Return the answer as the command prints it."""
        return render(matters_answer(self))

    def _repr_html_(self) -> str:
        return html_of(matters_answer(self))

    def plot(self) -> Figure:
        """Return the figure of the study; ``figure.savefig("file.png")`` keeps it."""
        from surge_sim.report.matters_folder import matters_figure

        return matters_figure(self)


def matters(
    scenario: Scenario,
    spread: float | None = None,
    surges: int = 200,
    seed: int = 1,
    stock: bool = True,
    missed_surge: float | None = None,
    processes: int | None = None,
    engine: str = "compiled",
    progress: Callable[[int], object] | None = None,
    cluster: str | None = None,
    parts: Parts | None = None,
    watch: Watch | None = None,
) -> ShownMatters:
    """Say which input that is not known exactly matters, and what measuring it first is worth.

    Parameters
    ----------
    scenario : Scenario
        Inputs with a range in it are studied.
    spread : float, optional
        Also put a range on every number that is marked invented under `sources`: from
        (1 - spread) to (1 + spread) of it [0..1].
    surges : int
        Number of surges, 2 or more.
    seed : int
        Random seed.
    stock : bool
        Whether the stock to add, and what knowing an input is worth, are worked out.
    missed_surge : float, optional
        What a surge that misses the target costs, in the scenario's currency; by default the
        least at which it pays to buy for the target.
    processes : int, optional
        Processes to share the work; the result does not depend on it.
    engine : {"compiled", "reference"}
        Both give the same result.
    progress : callable, optional
        Called with a number of plays each time that so many more are done.
    cluster : str, optional
        Address of a Dask scheduler whose workers share the work instead.
    parts : Parts, optional
        ``Parts(Path("some_folder"))``: what was played is kept there, and a call that was stopped
        goes on from it.
    watch : Watch, optional
        Where the progress of the search for an order of buying goes.

    Returns
    -------
    ShownMatters
        Identical for any number of processes, stopped in between or not.

    Raises
    ------
    ScenarioError
        The scenario has no input with a range, or too many.
    """
    from surge_sim.engine.surges import workers

    surges, seed = whole_number("surges", surges, least=2), whole_number("seed", seed)
    found = None if spread is None else with_spread(scenario, spread)
    ranged = scenario if found is None else found.scenario
    inputs_of(ranged, surges)
    parts = Parts() if parts is None else parts
    with workers(processes, cluster) as place:
        ladder = _ladder(ranged, place, seed, engine, parts, watch) if stock else None
        result = study(ranged, place, ladder, surges, seed, engine, missed_surge, parts, progress)
    if found is not None and spread is not None:
        result = replace(result, spread=(spread, found.put), left=found.left, mixed=found.mixed)
    result = replace(result, notes=tuple(all_warnings(scenario)))
    return ShownMatters(**vars(result))


def _ladder(
    scenario: Scenario, place: Workers, seed: int, engine: str, parts: Parts, watch: Watch | None
) -> Ladder:
    """Find a ladder, or read the one that was found before a stop."""
    base = base_of(scenario)
    key = f"ladder_{design_of(scenario, [replace(base, name='ladder')], seed, engine).key_of(base)}"
    known = parts.text(key)
    if known is None:
        stocks = ladder_of(scenario, place, seed, engine, watch)
        parts.keep_text(key, {"stocks": [asdict(one) for one in stocks]})
    else:
        stocks = tuple(Stock(**one) for one in known["stocks"])
    prices = scenario.settings.prices
    return Ladder(stocks, tuple(money(stocks[0], one, prices) for one in stocks))
