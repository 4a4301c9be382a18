"""A ladder begins with what is owned and has one lot more on each rung."""

from __future__ import annotations

from itertools import pairwise

import pytest

from surge_sim import load_scenario, stock_in_hand
from surge_sim.engine.surges import workers
from surge_sim.equipment.stock import ITEMS, Stock, money, within
from surge_sim.randomness import Sample
from surge_sim.sizing.ladder import MOST, SURGES, ladder_of, thinned
from surge_sim.sizing.player import ScenarioPlayer
from tests.conftest import ROOT


@pytest.fixture(scope="module")
def unit():
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    return scenario.changed({"horizon": "3 d", "stock.kits": 3})


@pytest.fixture(scope="module")
def ladder(unit):
    with workers(1) as place:
        return ladder_of(unit, place)


def test_each_stock_has_one_lot_more_than_the_one_before(unit, ladder):
    assert ladder[0] == stock_in_hand(unit.settings)
    for less, more in pairwise(ladder):
        assert within(less, more)
        lots = [
            (item.of(more) - item.of(less)) / item.lot(unit.settings.prices)
            for item in ITEMS.values()
        ]
        assert sum(lots) == 1
    prices = [money(ladder[0], one, unit.settings.prices) for one in ladder]
    assert prices == sorted(prices)


def test_its_end_serves_every_surge_that_found_it(unit, ladder):
    player = ScenarioPlayer(unit, unit.settings.target, 1)
    surges = [player.surge(Sample.CHOOSE, number) for number in range(SURGES)]
    assert all(surge.kept(ladder[-1]) for surge in surges)
    assert not all(surge.kept(ladder[0]) for surge in surges)


def test_a_surge_that_no_stock_keeps_does_not_make_it_go_on_to_the_limits(unit):
    """A visit longer than a battery lasts ends by an alarm, and few alarms are allowed."""
    limits = {"kits": "200", "batteries": "400", "bays": "100"}
    often = unit.changed({"kit.levels.0.run_time": "90 min", "limits": limits})
    ladders = []
    with workers(1) as place:
        for most, hopeless in (("12", False), ("8", True)):
            asked = often.changed({"target.most_alarms_per_1000": most})
            player = ScenarioPlayer(asked, asked.settings.target, 1)
            surges = [player.surge(Sample.CHOOSE, number) for number in range(SURGES)]
            plenty = Stock(200, 400, 100)
            assert any(not surge.kept(plenty) for surge in surges) is hopeless
            ladders.append(ladder_of(asked, place))
    assert ladders[0] == ladders[1]


def test_a_long_ladder_keeps_its_ends():
    stocks = [Stock(kits, 10, 4) for kits in range(1_000)]
    found = thinned(stocks)
    assert len(found) == MOST
    assert (found[0], found[-1]) == (stocks[0], stocks[-1])
    assert list(found) == sorted(found)
