"""The table of a study tells of every item that its stocks have."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from surge_sim.equipment.stock import ITEMS, Stock
from surge_sim.report.case_matters import _adds
from surge_sim.report.whatif_columns import INPUTS
from surge_sim.statistics.intervals import Interval
from surge_sim.whatif.input_design import Ladder
from surge_sim.whatif.matters import Matters, PassingStock

#: hoods have no price
STOCKS = Stock(2, 3, 3), Stock(2, 3, 3, extra_hoods=6), Stock(3, 3, 3, extra_hoods=6)


def columns(place: int) -> dict[str, Any]:
    study: Any = SimpleNamespace(ladder=Ladder(STOCKS, (0.0, 0.0, 1400.0)))
    study.worth = lambda at: Matters.worth(study, at)
    return Matters._passing_columns(study, "low", PassingStock(Interval(place, None, None)))


def test_parts_of_the_stock_to_have_are_columns_with_words() -> None:
    found = columns(1)
    assert (found["extra_hoods_at_low"], found["kits_at_low"], found["cost_at_low"]) == (6, 2, 0)
    assert {f"{item.field}_at_low" for item in ITEMS.values()} <= found.keys() <= INPUTS.keys()


@pytest.mark.parametrize(("place", "adds"), [(0, False), (1, True), (2, True)])
def test_a_case_calls_a_stock_nothing_where_it_is_the_one_in_hand_whatever_it_costs(
    place: int, adds: bool
) -> None:
    stock = SimpleNamespace(kits=2, batteries=3, bays=3)
    case: Any = SimpleNamespace(scenario=SimpleNamespace(settings=SimpleNamespace(stock=stock)))
    study: Any = SimpleNamespace(tables={"inputs": pd.DataFrame([columns(place)])})
    assert _adds(case, study, 0, "low") is adds
