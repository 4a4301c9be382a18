"""Parts of a target and prices that are asked for are judged like those of a file."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from surge_sim.sizing.betting import by_block, limits
from surge_sim.sizing.inputs import least_surges, read_prices, read_target
from surge_sim.sizing.size import size
from tests.sizing.test_size_command import UNIT

WARD = scenario_from_text(UNIT.replace("battery: 240", "battery: 0.1"))


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ("service_level=0%", "--target: target.service_level is '0%'.\n  It must be above 0."),
        ("share_of_surges=100%", "share_of_surges is '100%'.\n  It must be below 100 %."),
        ("most_stock_outs=-1", "most_stock_outs is '-1'.\n  It must be a whole number"),
        ("most_stock_outs=2.6", "most_stock_outs is '2.6'.\n  It must be a whole number"),
        ("most_alarms_per_1000=-5", "most_alarms_per_1000 is '-5'.\n  It must be at least 0."),
        ("wait=5", "wait is '5'.\n  It must be a length of time."),
        ({"wait": 600}, "wait is '600'.\n  It must be a length of time."),
        ("wait=5,service_level=0%", "service_level is '0%'"),
    ],
)
def test_a_target_that_no_file_may_have_is_refused(given: Any, told: str) -> None:
    with pytest.raises(ScenarioError) as found:
        read_target(given, WARD)
    assert told in str(found.value)


def test_parts_that_are_asked_for_stand_beside_the_others() -> None:
    found = read_target("wait=10 min,most_stock_outs=0", WARD)
    assert (found.wait, found.most_stock_outs) == (600, 0)
    assert (found.service_level, found.share_of_surges) == (0.9, 0.8)
    prices = read_prices({"kit": 1500, "bays_per_charger": "6"}, WARD)
    assert (prices.kit, prices.bays_per_charger, prices.battery) == (1500.0, 6, 0.1)


@pytest.mark.parametrize("given", ["kit=-1", "bays_per_charger=0", {"currency": "x" * 500}])
def test_prices_that_no_file_may_have_are_refused(given: Any) -> None:
    with pytest.raises(ScenarioError):
        read_prices(given, WARD)


def low(surges: int, share: float) -> float:
    """The limit that so many surges show, all on target."""
    return limits(by_block(np.ones(surges, dtype=bool)), share, 0.05)[0]


@pytest.mark.parametrize(
    ("share", "right"),
    [("90 %", "Use at least 84, better 300 or more."), ("99 %", "Use at least 397.")],
)
def test_no_fewer_surges_than_the_least_are_called_better(share: str, right: str) -> None:
    target = f"share_of_surges={share}"
    with pytest.raises(ScenarioError) as told:
        size(scenario_from_text(UNIT), target=target, surges=20, processes=1)
    assert [one.right for one in told.value.faults] == [right]


def test_the_least_number_of_surges_shows_the_share_and_one_less_does_not() -> None:
    """Of 80 %: sqrt(2 ln 20 / 500 x 4) = 0.2189 is at risk, so each surge on target multiplies the
    stake by 1 + 0.2189 / 4 = 1.0547; ln 20 / ln 1.0547 = 56.2. Of 50 %: 0.1095, 1.1095, 28.8.
    """
    assert (least_surges(0.8, 0.95), least_surges(0.5, 0.95)) == (57, 29)
    for share in (0.5, 0.8, 0.99, 0.9999, 0.999_999):
        found = least_surges(share, 0.95)
        assert low(found, share) >= share > low(found - 1, share)
