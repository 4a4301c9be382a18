"""Both engines play every hand-made timeline, and agree on it in all that they tell."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from surge_sim.engine.log import RunLog
from surge_sim.engine.play import play
from surge_sim.engine.verify import compare_engines
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import HandMade

Player = Callable[..., RunLog]


@pytest.fixture(params=["reference", "compiled"])
def played(request: pytest.FixtureRequest) -> Player:
    """Play a trace with the stock that is named: kits, batteries, bays."""

    def play_it(trace: HandMade, kits: int = 1, batteries: int = 9, bays: int = 9) -> RunLog:
        case = trace.situation(Stock(kits, batteries, bays))
        log = play(*case, engine=request.param)
        if request.param == "compiled":
            assert compare_engines(case).differing == ()
        return log

    return play_it
