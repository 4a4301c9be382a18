"""A target that no stock can keep is recognised, and its cause is said.

One invented ward, each time with one thing that no number of kits within the limits mends.
"""

from __future__ import annotations

import pytest

from surge_sim.demand.table import Demand
from surge_sim.equipment.causes import Cause
from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.scenario.load import scenario_from_text
from surge_sim.sizing.player import ScenarioPlayer, ScenarioSurge
from surge_sim.sizing.reasons import reduced_by
from surge_sim.sizing.size import size
from surge_sim.statistics.waits import FAILED_CHECK

WARD = """
title: Two days of a small unit (invented)
question: How many kits and batteries does it need?
note: An invented unit in a place that does not exist.
start: 2031-03-03 07:00
horizon: 2 d
arrivals: {baseline: 4 per day, initial_census: 4}
classes:
  ward: {share: 100 %, length_of_isolation: {shape: exponential, mean: 1 d}, entries: {nurse: 12 per day}}
roles:
  nurse: {room_time: {shape: gamma, mean: 15 min, cv: 60 %}, patients_per_wearer: 2, shifts: [07:00, 19:00]}
kit:
  pre_use_check: 1 min
  don: 3 min
  doff: 3 min
  levels: [{flow: 180 L/min, run_time: 4 h}]
batteries: {charge_time: 2 h, minimum_run_time: 40 min, low_battery_alarm: 5 min, end_of_charge: straight,
  issued: fullest}
cleaning: {by: wearer, wipe_down: 5 min, contact_time: 2 min, drying_time: 10 min}
stock: {kits: 2, batteries: 3, bays: 6}
limits: {kits: 8, batteries: 10, bays: 6, cleaners: 2}
target: {wait: 5 min, service_level: 90 %, share_of_surges: 80 %}
sources: {arrivals: invented}
"""  # noqa: E501

LONG_DRY = {"drying_time: 10 min": "drying_time: 20 h"}
POWER_CUT = {
    "batteries: 10": "batteries: 4",
    "sources:": "timeline: [{what: power outage, at: 4 h, lasts: 40 h}]\nsources:",
}
FEW_HOURS = {
    "cleaning: {by: wearer,": "cleaning: {by: crew, "
    "crew: [{start: 07:00, end: 07:30, cleaners: 3}], "
}
HELD = {
    "cleaning:": "policy: {kit: held for a shift}\ncleaning:",
    "patients_per_wearer: 2": "patients_per_wearer: 1",
    "kits: 8": "kits: 4",
}
RESERVED = {"cleaning:": "policy: {reserved_for_urgent: 8}\ncleaning:"}
CLOGGED = {
    "sources:": "filters: {he_filter_life: {shape: weibull, mean: 3 h, cv: 20 %}, "
    "he_filter_turnaround: 20 h, prefilter_life: {shape: weibull, mean: 80 h, cv: 35 %}, "
    "prefilter_change: 4 min}\nsources:"
}
FAULTS = {"sources:": "failures: {blower_run_between_failures: 2 h, repair_time: 40 h}\nsources:"}
NO_HOODS = {"sources:": "failures: {hood_damage: 50 %}\nsupplies: {hoods: {spare: 0}}\nsources:"}
OLD = {"batteries: {": "batteries: {state_of_health: [10 %], "}
FEW_KITS = {"kits: 8": "kits: 1"}
NO_BAYS = {"batteries: 10": "batteries: 5", "bays: 6}\nlimits": "bays: 0}\nlimits"}


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (POWER_CUT, "without the timeline in the file"),
        (FEW_HOURS, "if the full crew of cleaners worked at all hours"),
        (HELD, "if kits were not held for a shift"),
        (RESERVED, "without the reserve for urgent entries"),
        (CLOGGED, "if filters did not clog"),
        (FAULTS, "if nothing broke"),
        (NO_HOODS, "if parts did not run out"),
        (OLD, "if batteries had full capacity"),
        (FEW_KITS, "with four times as much: widen `limits`"),
        (NO_BAYS, r"with plenty of bays as well \(6, the limit .*name them with --only"),
    ],
    ids=["power outage", "crew hours", "held kits", "reserved kits", "clogged filters", "failures",
         "spare parts", "old batteries", "limits", "bays"],
)  # fmt: skip
def test_what_makes_a_target_unreachable_is_said(change: dict[str, str], reason: str) -> None:
    text = changed(change)
    with pytest.raises(OutOfReach, match=f"(?s)no stock within the limits.*{reason}"):
        size(scenario_from_text(text), vary="kits,batteries", choose=40, surges=60, processes=1)


def test_worlds_are_tried_with_the_surges_that_the_search_plays(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    samples, drawn = set(), ScenarioPlayer.surge

    def noted(player: ScenarioPlayer, sample: int, number: int) -> ScenarioSurge:
        samples.add(sample)
        return drawn(player, sample, number)

    monkeypatch.setattr(ScenarioPlayer, "surge", noted)
    ward = scenario_from_text(changed(POWER_CUT))
    with pytest.raises(OutOfReach, match="In a short trial it was met"):
        size(ward, vary="kits,batteries", choose=40, surges=60, processes=1)
    assert samples == {Sample.CHOOSE}


def test_a_world_without_a_cause_is_without_it_in_its_demand_too() -> None:
    """Extra patients come with the timeline, torn hoods with the faults: both are drawn."""
    extra = "timeline: [{what: extra patients, at: 4 h, lasts: 30 h, arrivals: 300 %}]\n"
    scenario = scenario_from_text(changed(NO_HOODS).replace("sources:", f"{extra}sources:"))
    settings = scenario.settings
    whole = {"failures": settings.failures.model_copy(update={"hood_damage": 0.0})}

    def demand(sections: dict[str, object]) -> Demand:
        player = ScenarioPlayer(scenario, settings.target, 1, sections=sections)
        return player.surge(Sample.CHOOSE, 0).situation.demand

    usual = demand({})
    assert usual.hood_torn.any() and not demand(whole).hood_torn.any()
    assert demand({"timeline": ()}).entries < usual.entries == demand(whole).entries


def test_a_drying_time_that_is_too_long_is_named_as_cause_and_never_said_to_be_cut() -> None:
    with pytest.raises(OutOfReach) as found:
        size(scenario_from_text(changed(LONG_DRY)), choose=40, surges=60, processes=1)
    said = str(found.value)
    assert (
        "With plenty, people still wait for: " in said and "kit in contact or drying time (" in said
    )
    for word in ("without wet", "without dry", "shorter", "check", "skip"):
        assert word not in said


@pytest.mark.parametrize(
    ("state", "by_crew", "item"),
    [
        (Cause.BATTERY_WAITING_FOR_BAY, False, "bays"),
        (Cause.BATTERY_CHARGING, False, "batteries"),
        (Cause.KIT_DRYING, False, "kits"),
        (Cause.KIT_WAITING_FOR_WIPE, True, "cleaners"),
        (Cause.KIT_WAITING_FOR_WIPE, False, "kits"),
        (Cause.KIT_LACKS_PREFILTER, False, "prefilters"),
        (Cause.TUBE_ON_ORDER, False, "tubes"),
        (Cause.BATTERY_TOO_WEAK, False, ""),
        (FAILED_CHECK, False, ""),
    ],
)
def test_a_cause_is_mended_by_the_item_that_is_short(state: int, by_crew: bool, item: str) -> None:
    """What waits for a bay is mended by a bay, not by a battery."""
    assert reduced_by(state, by_crew) == item


def changed(change: dict[str, str]) -> str:
    text = WARD
    for old, new in change.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text
