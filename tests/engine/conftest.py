"""Both engines play every hand-made timeline."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from surge_sim.engine.log import RunLog
from surge_sim.engine.play import play
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import HandMade

Player = Callable[..., RunLog]


@pytest.fixture(params=["reference", "compiled"])
def played(request: pytest.FixtureRequest) -> Player:
    """Play a trace with the stock that is named: kits, batteries, bays."""

    def play_it(trace: HandMade, kits: int = 1, batteries: int = 9, bays: int = 9) -> RunLog:
        return play(*trace.case(Stock(kits, batteries, bays)), engine=request.param)

    return play_it
