"""All that a play needs belongs to the surge that is asked for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from surge_sim.demand.draw import draw_demand
from surge_sim.equipment.chance import BLOCK, USUAL_LIVES, WorkDraws, usual_wipes
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import Stock
from surge_sim.randomness import Sample
from surge_sim.scenario.load import Scenario
from tests.demand.test_draw import contents
from tests.demand.ward import scenario
from tests.equipment.test_chance import EVERYTHING

STOCK = Stock(7, 9, 4, extra_hoods=2)


@pytest.fixture(scope="module")
def ward() -> Scenario:
    """A ward with chance in everything, with bays in chargers of three, and with an outage."""
    changes: dict[str, Any] = EVERYTHING | {
        "horizon": "3 d",
        "prices": {"bays_per_charger": 3},
        "timeline": [{"what": "power outage", "at": "5 h", "lasts": "2 h"}],
    }
    loaded: Scenario = scenario(**changes)
    return loaded


def test_demand_and_work_are_drawn_for_the_surge_that_is_asked_for(ward: Scenario) -> None:
    """Surge 7 of seed 5, of those that confirm: no two of the three numbers can be exchanged."""
    found = situation_of(ward, STOCK, seed=5, surge=7, sample=Sample.CONFIRM)
    demand = draw_demand(ward, 5, 7, Sample.CONFIRM)
    assert contents(found.demand) == contents(demand)
    work = WorkDraws.of(ward.settings, 5, Sample.CONFIRM, 7)
    wanted = (usual_wipes(demand.entries), 1, 1, 1)
    for mine, theirs in zip(found.unit.drawn, work.sized(*wanted), strict=True):
        both = tuple(slice(min(pair)) for pair in zip(mine.shape, theirs.shape, strict=True))
        assert mine[both].size > 0
        assert np.array_equal(mine[both], theirs[both])
    assert found.stock is STOCK
    assert found.start.filters_part_worn
    assert found.timeline.cut_from_s.tolist() == [5 * 3_600]
    assert found.unit.rules.bays_per_charger == 3


def test_the_first_surge_of_seed_1_is_meant_where_nothing_is_said(ward: Scenario) -> None:
    found, first = situation_of(ward, STOCK).demand, draw_demand(ward, 1, 0, Sample.RUN)
    assert contents(found) == contents(first)


def test_uncertain_inputs_are_those_of_the_surge_that_is_asked_for() -> None:
    """The charge time is drawn for each surge of each set of surges."""
    uncertain = scenario(horizon="1 h", batteries={"charge_time": {"low": "2 h", "high": "4 h"}})
    found = situation_of(uncertain, STOCK, seed=5, surge=7, sample=Sample.CONFIRM)
    theirs = uncertain.settings_for(5, Sample.CONFIRM, 7).batteries.charge_time
    assert found.unit.rules.fleet[0, 3] == theirs
    assert uncertain.settings_for(5, Sample.RUN, 7).batteries.charge_time != theirs


def test_work_that_is_drawn_already_serves_as_long_as_it_suffices(ward: Scenario) -> None:
    unit = situation_of(ward, STOCK).unit
    wipes, lives = len(unit.drawn.wipe_s), len(unit.drawn.failure_run_s)
    # some for each wipe-down of a play; for each of 64 blowers and batteries as many lives
    assert wipes == usual_wipes(situation_of(ward, STOCK).demand.entries)
    assert unit.drawn.failure_run_s.shape == unit.drawn.battery_run_s.shape == (lives, BLOCK)
    assert lives == USUAL_LIVES < BLOCK
    assert unit.draws(wipes, BLOCK, lives, BLOCK) is unit.drawn
    assert unit.draws(wipes, 1, lives + 1, 1) is not unit.drawn
    more = unit.draws(wipes + 5, 200, lives + 3, 300)
    assert len(more.wipe_s) == wipes + 5
    assert len(more.failure_run_s) == lives + 3
    assert more.failure_run_s.shape[1] >= 200 and more.battery_run_s.shape[1] >= 300
    assert np.array_equal(more.wipe_s[:wipes], unit.drawn.wipe_s)


def test_bays_fail_with_the_chargers_in_which_they_stand(ward: Scenario) -> None:
    """Eight bays: two chargers of three, and one of two."""
    changes = situation_of(ward, STOCK).unit.bay_failures(8, 3_000 * 86_400)
    assert set(np.abs(np.diff(changes[:, 2])).tolist()) >= {2, 3}
    assert changes[:, 2].max() <= 8
