"""Usual alternatives are tried where they make sense, and say what they assume."""

from __future__ import annotations

import pytest

from surge_sim import load_scenario
from surge_sim.whatif.compare import other_times
from surge_sim.whatif.usual import RULES, STRESS, usual_alternatives
from tests.conftest import ROOT
from tests.everything.test_every_feature import FILE

NAMES = [name for name, _, _ in (*RULES, *STRESS)]


@pytest.mark.parametrize(
    "path", [*sorted((ROOT / "scenarios").glob("*.yaml")), FILE], ids=lambda path: path.stem
)
def test_each_is_tried_or_left_out_with_a_reason(path):
    scenario = load_scenario(path)
    tried, left_out = usual_alternatives(scenario)
    assert sorted([one.name for one in tried] + [name for name, _ in left_out]) == sorted(NAMES)
    assert all(one.assumes.endswith(".") for one in tried)
    assert all(reason for _, reason in left_out)
    for one in tried:
        # none shortens a time of cleaning, a check or what must be left at issue
        assert other_times(scenario.settings, one.scenario.settings) == ()
        assert one.scenario.full_form() != scenario.full_form()


def changed(scenario, changes):
    tried, left_out = usual_alternatives(scenario.changed(changes))
    return {one.name: one for one in tried}, dict(left_out)


def test_rules_that_hold_already_are_not_tried(exposure):
    changes = {"charging.partial_charge_at_reissue": "yes", "policy.kit": "held for a shift"}
    tried, left_out = changed(exposure, changes)
    assert left_out["partial charge"] == left_out["kit per shift"] == "is the rule already"
    assert "partial charge" not in tried


def test_a_kit_is_held_only_by_named_wearers(exposure):
    _, left_out = changed(exposure, {"roles.nurse.patients_per_wearer": None})
    assert "patients_per_wearer" in left_out["kit per shift"]


def test_rounds_are_tried_where_nobody_watches(exposure):
    tried, _ = changed(exposure, {"charging.rounds_every": "4 h"})
    assert tried["rounds twice as often"].scenario.settings.charging.rounds_every == 7_200


def test_one_cleaner_more_comes_to_every_shift(exposure):
    tried, _ = changed(exposure, {})
    crew = tried["one cleaner more"].scenario.settings.cleaning.crew
    assert [shift.cleaners for shift in crew] == [4, 4]


def test_half_more_patients_come_by_every_way(exposure):
    settings = changed(exposure, {})[0]["half more patients"].scenario.settings
    assert settings.arrivals.clusters[0].patients == 18
    assert [(one.what, one.arrivals, one.lasts) for one in settings.timeline] == [
        ("extra patients", 1.5, 5 * 86_400)
    ]


def test_an_outage_falls_on_the_busiest_hours(exposure):
    roles = ("nurse", "physician", "other")
    at_night = {f"roles.{name}.hours_of_day": [1] * 4 + [0] * 20 for name in roles}
    (outage,) = changed(exposure, at_night)[0]["12 h power outage"].scenario.settings.timeline
    # routine visits come from 00:00 to 04:00 only, and the outage covers these hours
    begins_s = outage.at % 86_400
    assert begins_s == 0 or begins_s + 12 * 3_600 >= 28 * 3_600


def test_late_deliveries_need_an_order(exposure):
    part = {"spare": 5, "reorder_point": 3, "order_quantity": 5, "lead_time": "2 d"}
    tried, _ = changed(exposure, {"supplies.hoods": part})
    (late,) = tried["deliveries 14 d late"].scenario.settings.timeline
    # no longer than the surge
    assert late.lasts == 5 * 86_400
