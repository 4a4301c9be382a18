"""A ladder of stocks from the one in hand to plenty, each with one lot more than the one before.

It is the order of buying that the sizing's search finds for a stock which serves as many surges of
a small sample as plenty does: each next lot gains most for its price. Beyond that stock the ladder
goes on in the same proportions. How much of it is enough is for fresh surges to show; that it is a
good order is an estimate.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import money, stock_in_hand
from surge_sim.sizing.choosing import SampleA
from surge_sim.sizing.inputs import searched
from surge_sim.sizing.player import ScenarioPlayer, Watch, Work
from surge_sim.sizing.search import (
    SearchRegion,
    buying,
    find_cheap,
    find_rich,
    from_minimum_passing,
    lots_between,
    search_region,
)

if TYPE_CHECKING:
    from surge_sim.engine.surges import Workers
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.load import Scenario

#: surges that find it
SURGES = 40
#: stocks of a ladder, at most
MOST = 200
#: how much further it goes, in what was added up to the stock that serves the sample
_BEYOND = 1.0
#: the same in what is owned, where nothing has to be added
_OF_OWNED = 0.25


def ladder_of(
    scenario: Scenario,
    place: Workers,
    seed: int = 1,
    engine: str = "compiled",
    watch: Watch | None = None,
) -> tuple[Stock, ...]:
    """Find a ladder for a scenario: what may be bought is what a sizing would buy.

    Parameters
    ----------
    scenario : Scenario
        Its ranges are drawn for each surge.
    place : Workers
        Where surges are played; the result does not depend on it.
    seed, engine
        As in a sizing.
    watch : Watch, optional
        Where progress goes.

    Returns
    -------
    tuple of Stock
        The first is the stock in hand; at most `MOST`.
    """
    settings = scenario.settings
    player = ScenarioPlayer(scenario, settings.target, seed, engine)
    names = searched(settings, settings.prices)
    region = search_region(stock_in_hand(settings), names, settings.prices, settings.limits)
    work = Work(lambda task, numbers: place.over(task, numbers, engine), watch or Watch())
    sample = SampleA(player, SURGES, work)
    rich = find_rich(sample, region, {})
    # surges that miss the target with plenty miss it with any stock
    share = max(sample.passes(region.ample), 1) / SURGES
    goal = find_cheap(sample, region, from_minimum_passing(sample, region, rich, share), share)
    stages = [*buying(sample, region, goal), _beyond(region, goal)]
    found = [region.owned]
    for stock in stages[1:]:
        found += lots_between(region, found[-1], stock)
    return thinned(found)


def thinned(stocks: list[Stock]) -> tuple[Stock, ...]:
    """Return at most `MOST` of some stocks, the first and the last among them."""
    if len(stocks) <= MOST:
        return tuple(stocks)
    steps = (round(place * (len(stocks) - 1) / (MOST - 1)) for place in range(MOST))
    return tuple(stocks[step] for step in steps)


def _beyond(region: SearchRegion, goal: Stock) -> Stock:
    """Return what has so much more than a goal, in the proportions of what was added for it."""
    stock, nothing = goal, money(region.owned, goal, region.prices) == 0
    for axis in region.axes:
        lots = axis.lots(region.owned, goal)
        more = axis.item.of(region.owned) / axis.lot * _OF_OWNED if nothing else lots * _BEYOND
        stock = axis.more(stock, math.ceil(more))
    return stock
