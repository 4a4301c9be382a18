"""What an alternative relaxes is said in plain words; stock and staff relax nothing."""

from __future__ import annotations

import pytest

from surge_sim.scenario.load import load_scenario
from surge_sim.whatif.relaxed import relaxed
from surge_sim.whatif.usual import STRESS_SORT, usual_alternatives
from tests.conftest import ROOT

KEPT = (
    "the wearer keeps the kit, only wiped for 2 min between visits; contact and drying time "
    "follow only after the shift"
)
FULL = "batteries are reissued before full, once they hold 45 min of run time"


def of(scenario, changes):
    return relaxed(scenario.settings, scenario.changed(changes).settings)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"policy.kit": "held for a shift"}, KEPT),
        ({"timeline": [{"what": "kit policy", "at": "1 d", "kit": "held for a shift"}]}, KEPT),
        ({"charging.partial_charge_at_reissue": "yes"}, FULL),
        (
            {"timeline": [{"what": "partial charge at reissue", "at": "1 d", "allowed": "yes"}]},
            FULL,
        ),
        (
            {"policy.bundled_care": {"entries": "80 %", "room_time": "125 %"}},
            "20 % of routine visits made within others, each visit 25 % longer",
        ),
        (
            {"timeline": [{"what": "care bundled", "at": "0 min", "dropped": "20 %"}]},
            "20 % of routine entries made within others",
        ),
        (
            {"policy.reserved_for_urgent": 4},
            "4 complete kits lie ready for urgent entries instead of 2, and routine entries may "
            "not take them",
        ),
        (
            {"policy.maximum_wait": "20 min"},
            "routine entries leave the queue unserved after 20 min",
        ),
        (
            {"timeline": [{"what": "routine entries postponed", "at": "0 min", "by": "2 h"}]},
            "100 % of the routine entries come 2 h later",
        ),
        (
            {"roles.other.kit_share": "50 %"},
            "50 % of the visits of other are made with a kit, instead of 80 %",
        ),
        (
            {"charging.charge_below": "60 %"},
            "a battery is charged only once it holds less than 60 %",
        ),
    ],
)  # fmt: skip
def test_what_is_relaxed_is_said(exposure, changes, said):
    assert of(exposure, changes) == (said,)


@pytest.mark.parametrize(
    "changes",
    [
        {"stock.kits": 40, "stock.bays": 40},
        {"cleaning.crew.0.cleaners": 5},
        {"charging.rounds_every": "2 h"},
        {"timeline": [{"what": "kits on loan", "at": "1 d", "kits": 3}]},
        {"roles.other.kit_share": "90 %"},
    ],
)
def test_stock_and_staff_relax_nothing(exposure, changes):
    assert of(exposure, changes) == ()


KEEP = {"what": "kit policy", "at": "1 d", "kit": "held for a shift"}
FULL_FIRST = {"what": "partial charge at reissue", "at": "1 d", "allowed": "no"}


@pytest.mark.parametrize(
    ("before", "added", "said"),
    [
        ({"policy.kit": "held for a shift"}, KEEP, ()),
        ({"charging.partial_charge_at_reissue": "yes"}, {**FULL_FIRST, "allowed": "yes"}, ()),
        ({}, {"what": "reserve for urgent entries", "at": "1 d", "kits": 2}, ()),
        # later than a decision of the scenario, the rule that it replaced holds again
        ({"policy.kit": "held for a shift", "timeline": [{**KEEP, "kit": "per entry"}]},
         {**KEEP, "at": "2 d"}, (KEPT,)),
    ],
)  # fmt: skip
def test_a_rule_that_is_in_force_already_is_not_relaxed_by_being_stated(
    exposure, before, added, said
):
    scenario = exposure.changed({"timeline": [], **before})
    changes = [*(scenario.tree.root.get("timeline") or ()), added]
    assert of(scenario, {"timeline": changes}) == said


def test_a_decision_that_is_not_taken_relaxes_what_it_held():
    scenario = load_scenario(ROOT / "scenarios" / "exposure_cluster.yaml").changed(
        {"charging.partial_charge_at_reissue": "yes", "timeline": [FULL_FIRST]}
    )
    assert of(scenario, {"timeline": []}) == (FULL,)


def test_of_the_usual_alternatives_the_rules_relax_something(exposure, ward):
    for scenario in (exposure, ward):
        tried, _ = usual_alternatives(scenario)
        named = {one.name for one in tried if relaxed(scenario.settings, one.scenario.settings)}
        rules = {one.name for one in tried if one.sort == "rule"}
        assert named == rules - {"rounds twice as often"}
        assert not named & {one.name for one in tried if one.sort == STRESS_SORT}
