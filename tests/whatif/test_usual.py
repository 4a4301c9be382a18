"""Usual alternatives are tried where they make sense, and say what they assume."""

from __future__ import annotations

import pytest

from surge_sim import load_scenario
from surge_sim.whatif.compare import other_times
from surge_sim.whatif.costs import cost_of
from surge_sim.whatif.design import base_of
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
    assert left_out["reissued before full"] == left_out["kit per shift"] == "is the rule already"
    assert "reissued before full" not in tried


def test_a_kit_is_held_only_by_named_wearers(exposure):
    _, left_out = changed(exposure, {"roles.nurse.patients_per_wearer": None})
    assert "patients_per_wearer" in left_out["kit per shift"]


def test_rounds_are_tried_where_nobody_watches(exposure):
    tried, _ = changed(exposure, {"charging.rounds_every": "4 h"})
    rounds = tried["rounds twice as often"]
    assert rounds.scenario.settings.charging.rounds_every == 7_200
    # it takes somebody's time, so it is not free
    base = base_of(exposure.changed({"charging.rounds_every": "4 h"}))
    assert cost_of(base, rounds).unpriced == ("more rounds of the chargers",)


def test_one_cleaner_more_comes_to_every_shift(exposure):
    tried, _ = changed(exposure, {})
    crew = tried["one cleaner more"].scenario.settings.cleaning.crew
    assert [shift.cleaners for shift in crew] == [4, 4]


CREW = "cleaning.crew"


def shift(start, end, cleaners=2):
    return {"start": start, "end": end, "cleaners": cleaners}


@pytest.mark.parametrize(
    ("crew", "gaps"),
    [
        ([shift("05:00", "14:30"), shift("14:30", "24:00")], [(0, 5)]),
        ([shift("07:00", "19:00")], [(19, 7)]),
        ([shift("22:00", "06:00"), shift("08:00", "12:00")], [(6, 8), (12, 22)]),
        # somebody is there, and somebody is not
        ([shift("07:00", "19:00"), shift("18:00", "08:00", 0)], [(19, 7)]),
        ([shift("00:00", "24:00", 0)], [(0, 24)]),
    ],
)
def test_one_cleaner_comes_in_the_hours_without_any(exposure, crew, gaps):
    one = changed(exposure, {CREW: crew})[0]["cleaner at all hours"]
    cleaning = one.scenario.settings.cleaning
    assert [(each.start, each.end) for each in cleaning.crew[len(crew) :]] == [
        (start * 3_600, end * 3_600) for start, end in gaps
    ]
    assert {each.cleaners for each in cleaning.crew[len(crew) :]} == {1}
    assert [each.cleaners for each in cleaning.crew[: len(crew)]] == [
        each["cleaners"] for each in crew
    ]


def test_no_cleaner_comes_where_somebody_is_there_or_the_gap_is_short(exposure):
    crew = [shift("05:00", "17:00"), shift("17:30", "05:00")]
    _, left_out = changed(exposure, {CREW: crew})
    assert left_out["cleaner at all hours"] == "the crew has somebody at all hours"
    _, left_out = changed(exposure, {"cleaning.by": "wearer", CREW: []})
    assert left_out["cleaner at all hours"] == "kits are not cleaned by a crew"


def test_a_cleaner_in_the_gap_is_paid_for_its_hours(exposure):
    """1,100 for one on all 19 hours of the shifts: 5 h cost 1,100 x 5 / 19."""
    base = base_of(exposure)
    one = changed(exposure, {})[0]["cleaner at all hours"]
    cost = cost_of(base, one)
    assert cost.per_surge == pytest.approx(1_100 * 5 / 19)
    assert cost.purchase == 0 and not cost.unpriced


def test_half_more_patients_come_by_every_way(exposure):
    settings = changed(exposure, {})[0]["50 % more patients"].scenario.settings
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
    (late,) = tried["supplies 14 d late"].scenario.settings.timeline
    # no longer than the surge
    assert late.lasts == 5 * 86_400
