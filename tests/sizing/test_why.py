"""What people wait for with the stock in hand, as a sizing tells it."""

from __future__ import annotations

import pandas as pd
import pytest

from surge_sim import case_of, load_scenario, play
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.randomness import Sample
from surge_sim.sizing.why import waiting_with
from surge_sim.statistics.causes import cause_name
from tests.conftest import ROOT

SCENARIO = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")


def test_shares_are_those_of_all_seconds_waited_in_the_first_surges_that_choose():
    stock = stock_in_hand(SCENARIO.settings)
    table = waiting_with(SCENARIO, stock, seed=3, surges=4, engine="compiled")
    cases = [case_of(SCENARIO, stock, seed=3, surge=n, sample=Sample.CHOOSE) for n in range(4)]
    waited = sum(play(*case).waited_s.sum(axis=0) for case in cases)
    by_name = {cause_name(c): s for c, s in enumerate(waited.tolist()) if s}
    found = dict(zip(table["waiting_for"], table["share"], strict=True))
    assert found == pytest.approx({name: s / waited.sum() for name, s in by_name.items()})
    hours = table["hours_per_surge"].sum()
    assert hours == pytest.approx(waited.sum() / 4 / 3_600)


def test_both_engines_tell_the_same():
    stock = stock_in_hand(SCENARIO.settings)
    tables = [waiting_with(SCENARIO, stock, 1, 2, engine) for engine in ("compiled", "reference")]
    pd.testing.assert_frame_equal(*tables)
