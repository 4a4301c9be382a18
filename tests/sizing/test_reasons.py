"""A target that no stock can keep is recognised, and its cause is said.

One invented ward, each time with one thing that no number of kits within the limits mends.
"""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.demand.table import Demand
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import Stock
from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.schema import Prices, SearchLimits
from surge_sim.sizing.ledger import NOT_MET, UNDECIDED, Entry
from surge_sim.sizing.player import SEEN, ScenarioPlayer, ScenarioSurge, Seen
from surge_sim.sizing.reasons import none_confirmed, reduced_by, waiting_table
from surge_sim.sizing.search import search_region
from surge_sim.sizing.size import size
from surge_sim.statistics.waits import ALL_CAUSES, BUSY, FAILED_CHECK

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
BATTERIES_FAIL = {
    "sources:": "failures: {battery_run_between_failures: 90 min, "
    "battery_replacement_time: 60 h}\nsources:"
}
CHARGERS_FAIL = {
    "sources:": "failures: {charger_time_between_failures: 1 d, charger_repair_time: 900 h}\n"
    "sources:",
    "horizon: 2 d": "horizon: 8 d",
    "bays: 6}\nlimits": "bays: 2}\nlimits",
}
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
        (BATTERIES_FAIL, "if nothing broke"),
        (CHARGERS_FAIL, "if nothing broke"),
        (NO_HOODS, "if parts did not run out"),
        (OLD, "if batteries had full capacity"),
        (FEW_KITS, "with four times as much: widen `limits`"),
        (NO_BAYS, r"with plenty of bays as well \(6, the limit .*name them in --only"),
    ],
    ids=["power outage", "crew hours", "held kits", "reserved kits", "clogged filters", "failures",
         "batteries that fail", "chargers that fail",
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
    whole: dict[str, object] = {
        "failures": settings.failures.model_copy(update={"hood_damage": 0.0})
    }

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


#: what mends each cause, where wearers wipe their own kits
MENDED: dict[int, str] = {
    Cause.KIT_IN_USE: "kits",
    Cause.KIT_HELD: "kits",
    Cause.KIT_WAITING_FOR_WIPE: "kits",
    Cause.KIT_IN_WIPE_DOWN: "kits",
    Cause.KIT_DRYING: "kits",
    Cause.KIT_LACKS_PREFILTER: "prefilters",
    Cause.KIT_LACKS_HE_FILTER: "he_filters",
    Cause.KIT_GETTING_FILTER: "kits",
    Cause.KIT_IN_REPAIR: "kits",
    Cause.KIT_AWAY: "kits",
    Cause.KIT_RESERVED: "kits",
    Cause.NO_KIT: "kits",
    Cause.HOOD_ON_ORDER: "hoods",
    Cause.NO_HOOD: "hoods",
    Cause.NO_LARGE_HOOD: "large_hoods",
    Cause.TUBE_ON_ORDER: "tubes",
    Cause.NO_TUBE: "tubes",
    Cause.BATTERY_IN_USE: "batteries",
    Cause.BATTERY_COOLING: "batteries",
    Cause.BATTERY_WAITING_FOR_BAY: "bays",
    Cause.BATTERY_CHARGING: "batteries",
    Cause.BATTERY_WITHOUT_POWER: "batteries",
    Cause.BATTERY_NOT_FULL: "batteries",
    Cause.BATTERY_TOO_WEAK: "",
    Cause.BATTERY_OUT: "batteries",
    Cause.BATTERY_AWAY: "batteries",
    Cause.BATTERY_RESERVED: "batteries",
    Cause.NO_BATTERY: "batteries",
    FAILED_CHECK: "",
    BUSY: "",
}


def test_a_cause_is_mended_by_the_item_that_is_short() -> None:
    """What waits for a bay is mended by a bay, and for a wipe by a cleaner, where a crew wipes."""
    assert len(MENDED) == ALL_CAUSES
    assert {state: reduced_by(state, by_crew=False) for state in MENDED} == MENDED
    by_crew = MENDED | {Cause.KIT_WAITING_FOR_WIPE: "cleaners"}
    assert {state: reduced_by(state, by_crew=True) for state in MENDED} == by_crew


def test_waiting_is_told_by_cause_the_longest_first() -> None:
    """Of three surges: 2 h, 3,599 s and a second for kits in use, 2 h for one that dries, and an
    hour each for a bay and for a charge, of which the name decides.
    """
    rows = np.zeros((3, SEEN), dtype=np.int64)
    for surge, state, seconds in (
        (0, Cause.KIT_IN_USE, 7_200), (1, Cause.KIT_IN_USE, 3_599), (2, Cause.KIT_IN_USE, 1),
        (2, Cause.KIT_DRYING, 7_200), (1, Cause.BATTERY_WAITING_FOR_BAY, 3_600),
        (0, Cause.BATTERY_CHARGING, 3_600),
    ):  # fmt: skip
        rows[surge, Seen.CAUSES + state] = seconds
    # what is no waiting is not looked at
    rows[:, Seen.WAIT_S], rows[:, Seen.LATE] = 99, 9
    table = waiting_table(rows, by_crew=False)
    assert table.drop(columns=["hours_per_surge", "share"]).to_dict("split")["data"] == [
        ["kit", "kit in use", "kits", 3],
        ["kit", "kit in contact or drying time", "kits", 1],
        ["battery", "battery charging", "batteries", 1],
        ["battery", "battery waiting for a bay", "bays", 1],
    ]
    assert list(table.columns) == [
        "missing", "cause_of_waiting", "reduced_by", "hours_per_surge", "share", "in_surges",
    ]  # fmt: skip
    assert list(table.index) == [0, 1, 2, 3]
    assert table["hours_per_surge"].tolist() == pytest.approx([1, 2 / 3, 1 / 3, 1 / 3])
    assert table["share"].tolist() == pytest.approx([3 / 7, 2 / 7, 1 / 7, 1 / 7])


def test_where_nobody_waits_there_is_a_table_without_rows() -> None:
    table = waiting_table(np.zeros((3, SEEN), dtype=np.int64), by_crew=True)
    assert table.empty and table.columns[-1] == "in_surges"


def test_no_limit_is_named_that_a_scenario_cannot_have() -> None:
    """Parts are searched up to a number that no field of `limits` moves."""
    region = search_region(Stock(2, 3, 4), ("kits", "hoods"), Prices(), SearchLimits(kits=9))
    top = Entry(region.ample, 300, 280, 0.88, 0.95, UNDECIDED, False, (), "candidate")
    said = str(none_confirmed([top], 0.9, 0.95, region)).splitlines()[-1]
    assert said == "It is at the limit of the search: widen limits.kits in the scenario."


@pytest.mark.parametrize(
    ("top", "said"),
    [
        (Stock(40, 49, 12), "Use more surges (--surges): with so few, only a clear margin can be"),
        (Stock(40, 49, 16), "It is at the limit of the search: widen limits.bays in the scenario."),
        (Stock(41, 50, 15), "It is at the limit of the search: widen limits.kits and "
         "limits.batteries in the scenario."),
    ],
)  # fmt: skip
def test_where_none_is_confirmed_it_is_said_whether_limits_or_surges_are_too_few(
    top: Stock, said: str
) -> None:
    """Kits up to 41, batteries up to 50, and bays up to 19, sold by the four: 16 are the most."""
    limits = SearchLimits(kits=41, batteries=50, bays=19)
    names = ("kits", "batteries", "bays")
    region = search_region(Stock(2, 3, 4), names, Prices(bays_per_charger=4), limits)
    poor = Entry(Stock(3, 3, 4), 300, 200, 0.6, 0.7, NOT_MET, False, (), "candidate")
    rich = Entry(top, 1_200, 1_080, 0.88, 0.92, UNDECIDED, False, (), "candidate")
    lines = str(none_confirmed([poor, poor, rich], 0.9, 0.95, region)).splitlines()
    assert lines[0] == "No stock could be confirmed."
    assert lines[1] == (
        f"The richest candidate ({top.kits} kits, {top.batteries} batteries, {top.bays} bays) met "
        "the target in 1,080 of 1,200 new simulated surges; 90 % could not be shown with 95 % "
        "confidence."
    )
    assert lines[2].startswith(said) and len(lines) == 3


def changed(change: dict[str, str]) -> str:
    text = WARD
    for old, new in change.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text
