"""Stories of a surge with a run-in, and what staff see when it begins."""

from __future__ import annotations

import re
from functools import cache

import numpy as np

from surge_sim.drill.seen import seen
from surge_sim.engine.log import Use
from surge_sim.engine.story import Story, tell_story
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.report.explain_answer import told
from surge_sim.scenario.load import load_scenario
from tests.conftest import ROOT


@cache
def story(kit: int) -> Story:
    """Tell of a kit of the unit with steady load: kits held, a day after three of run-in."""
    changes = {"run_in": "3 d", "horizon": "1 d", "policy.kit": "held for a shift"}
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml").changed(changes)
    case = situation_of(scenario, stock_in_hand(scenario.settings), 1, 0)
    return tell_story(scenario.settings, case, "kit", kit)


def test_nothing_is_told_of_the_run_in_and_its_people_have_no_number():
    sentences = [one for kit in range(7) for one in told(story(kit))]
    assert min(one.at_s for one in sentences) >= 0
    assert not any(re.search(r"-\d", one.said) for one in sentences)
    assert any("by a wearer from before the surge" in one.said for one in sentences)
    assert any("for an entry from before the surge" in one.said for one in sentences)


def test_what_staff_see_at_the_beginning_is_what_the_run_in_left():
    """Each kit and battery is in one place; the hours of use begin with these numbers."""
    one = story(0)
    here = seen(one.situation, one.log, [0, 3_600])
    kits = (
        here.kits_ready + here.kits_in_use + here.kits_waiting_for_wipe + here.kits_in_wipe_down
        + here.kits_drying + here.kits_out
    )  # fmt: skip
    assert kits.tolist() == [7, 7]
    batteries = (
        here.batteries_on_shelf + here.batteries_in_use + here.batteries_waiting_for_bay
        + here.batteries_in_bay
    )  # fmt: skip
    assert batteries.tolist() == [16, 16]
    assert here.kits_ready[0] < 7 and here.batteries_on_shelf[0] < 16
    in_bay = one.log.use_area[Use.BATTERIES_IN_BAY] / 3_600
    assert len(in_bay) == 24
    assert abs(in_bay[0] - here.batteries_in_bay.mean()) < 4
    assert np.isclose(one.log.use_area[: Use.KITS_AWAY + 1].sum(axis=0), 7 * 3_600).all()
