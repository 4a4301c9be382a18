"""What a good file says is what the later stages see."""

from __future__ import annotations

import dataclasses
import hashlib
import pickle

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.advice import invented_prices
from surge_sim.scenario.load import load_scenario, scenario_from_text
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import Quantile
from tests.scenario.base import BASE, changed


def test_quantities_are_plain_numbers_inside():
    settings = scenario_from_text(BASE).settings
    assert settings.horizon == 14 * 86_400
    assert settings.arrivals.baseline == 1.0
    assert settings.rooms.air_changes == 12.0
    assert settings.target.service_level == 0.95
    assert settings.classes["ward"].length_of_isolation.quantiles == (
        Quantile(p=0.5, time_s=68 * 3_600),
        Quantile(p=0.75, time_s=351_000),
    )
    assert settings.roles["nurse"].room_time.mean == 300


def test_a_file_is_known_by_its_name_and_its_bytes(tmp_path):
    path = tmp_path / "small_ward.yaml"
    path.write_bytes(BASE.encode())
    scenario = load_scenario(path)
    assert scenario.name == "small_ward"
    assert scenario.path == path
    assert scenario.data.decode() == BASE
    assert scenario.sha256 == hashlib.sha256(BASE.encode()).hexdigest()


@pytest.mark.parametrize("named", ["monday", "sunday"])
def test_a_day_that_is_not_named_weighs_one(named):
    text = changed(("initial_census: 1", "initial_census: 1, days_of_week: {" + named + ": 0.5}"))
    weights = dict(scenario_from_text(text).settings.arrivals.days_of_week)
    assert weights.pop(named) == 0.5
    assert list(weights.values()) == [1.0] * 6


def test_a_kit_may_be_kept_for_rounds_of_two_rooms():
    nurse = "nurse: {room_time: 5 min, patients_per_wearer: 2, rooms_per_round: 2}"
    text = changed(("nurse: {room_time: 5 min}", nurse)) + "policy: {kit: per round}\n"
    assert scenario_from_text(text).settings.policy.kit == "per round"


def test_settings_cannot_be_changed():
    settings = scenario_from_text(BASE).settings
    with pytest.raises(ValueError, match="frozen"):
        settings.horizon = 1


def test_without_ranges_every_surge_has_the_same_settings():
    scenario = scenario_from_text(BASE)
    assert not scenario.has_ranges
    assert scenario.settings_for(seed=3, sample=1, surge=7) is scenario.settings


def test_a_scenario_survives_the_way_to_another_process():
    scenario = scenario_from_text(
        changed(("pre_use_check: 1 min", "pre_use_check: {low: 1 min, high: 2 min}"))
    )
    copy = pickle.loads(pickle.dumps(scenario))
    assert copy.settings == scenario.settings
    assert copy.settings_for(1, 0, 5) == scenario.settings_for(1, 0, 5)
    assert dataclasses.replace(copy, name="other").name == "other"


def test_the_full_form_holds_every_field_of_every_section():
    full = scenario_from_text(BASE).full_form()
    for name in Settings.model_fields:
        assert f"\n{name}:" in f"\n{full}"
    assert "constant_current_to: 80 %" in full
    assert "maximum_wait: none" in full


def test_none_stands_for_a_value_that_is_not_there():
    text = changed(("{room_time: 5 min}", "{room_time: 5 min, don: none, maximum_wait: null}"))
    assert scenario_from_text(text).settings == scenario_from_text(BASE).settings


def test_none_in_quotes_is_text_and_stays_so_in_the_full_form():
    text = changed(("title: Two rooms (invented)", "title: 'none'"))
    full = scenario_from_text(text).full_form()
    assert scenario_from_text(full).settings.title == "none"


def test_a_single_value_stands_for_a_list_of_one():
    text = changed(("charge_time: 3 h", "charge_time: 3 h, state_of_health: 90 %"))
    assert scenario_from_text(text).settings.batteries.state_of_health == (0.9,)


@pytest.mark.parametrize(
    ("spread", "shape"),
    [
        ("12 min", "fixed"),
        ("0 min", "fixed"),
        ("{shape: fixed, mean: 12 min}", "fixed"),
        ("{shape: exponential, mean: 12 min}", "exponential"),
        ("{shape: weibull, mean: 12 min, cv: 60 %}", "weibull"),
        ("{shape: gamma, p10: 2 min, p97.5: 25 min}", "gamma"),
        ("{values: [3 min, 5 min]}", "empirical"),
        ("{shape: empirical, values: [3 min, 5 min]}", "empirical"),
    ],
)
def test_a_time_may_be_given_in_several_ways_and_is_written_back(spread, shape):
    scenario = scenario_from_text(changed(("room_time: 5 min", f"room_time: {spread}")))
    assert scenario.settings.roles["nurse"].room_time.shape == shape
    assert scenario_from_text(scenario.full_form()).settings == scenario.settings


WITHDRAWN = """
timeline:
  - {what: kits recalled, kits: KITS, at: 3 d, lasts: 1 d}
  - {what: kits recalled, kits: 2, at: 1 d, lasts: 1 d}
  - {what: kits recalled, kits: 3, at: 36 h, lasts: 12 h}
  - {what: kits on loan, kits: 9, at: 1 d, lasts: 1 d}
"""


def test_withdrawals_beyond_the_stock_are_told_where_the_stock_is_exceeded():
    """Two and three meet at 36 h and make five of four; what does not overlap adds nothing."""
    text = changed() + WITHDRAWN
    (together,) = scenario_from_text(text.replace("KITS", "4"), name="ward").warnings
    line = 1 + next(n for n, one in enumerate(text.splitlines()) if "kits: 3" in one)
    assert together == (
        f"ward.yaml:{line}: timeline[3].kits recalls 5 kits with others at that time; "
        "the stock in hand has 4: all of them leave, and no more."
    )
    alone, _ = sorted(scenario_from_text(text.replace("KITS", "20"), name="ward").warnings)
    assert f"ward.yaml:{line - 2}: timeline[1].kits recalls 20 kits; the stock" in alone


def test_prices_that_nobody_wrote_are_told_where_they_matter():
    none, some = scenario_from_text(BASE), scenario_from_text(BASE + "prices: {kit: 9, charger: 2}")
    assert invented_prices(none.settings).endswith(
        "kit 1, battery 0.2, charger 0.3. Write yours under `prices`."
    )
    assert invented_prices(some.settings).endswith(": battery 0.2. Write yours under `prices`.")
    assert invented_prices(some.settings, ["kit", "hood"]).endswith(
        ": hood 0. Write yours under `prices`."
    )
    assert invented_prices(some.settings, ["kit"]) == ""


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "stock: {",
            "timeline:\n"
            "  - {what: power cut, at: 5 d, lasts: 4 h}\n"
            "  - {what: charger failure, at: 5 d, lasts: 4 h}\n"
            "stock: {",
            ["timeline[1].what is 'power cut'", "timeline[2] does not say how many bays"],
        ),
        (
            "{nurse: 20 per day}",
            "{nurse: 20, doctor: 9 per day}",
            ["classes.ward.entries.doctor names the role", "classes.ward.entries.nurse is '20'"],
        ),
    ],
    ids=["a list", "named values"],
)
def test_a_member_that_cannot_be_read_hides_no_fault_of_another(old, new, told):
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(changed((old, new)))
    assert [
        fault.found[: len(words)] for fault, words in zip(error.value.faults, told, strict=True)
    ] == told


def test_faults_come_in_the_order_of_the_lines():
    text = changed(("wait: 5 min", "wait: 5"), ("horizon: 14 d", "horizon: 14"))
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(text)
    assert [fault.line for fault in error.value.faults] == [3, 17]


@pytest.mark.parametrize("name", ["foo", "p0", "p100", "P90", "p-5"])
def test_a_name_that_no_spread_has_is_refused_with_those_that_it_may_have(name):
    text = changed(("p75: 97.5 h", f"p75: 97.5 h, {name}: 3 d"))
    with pytest.raises(
        ScenarioError, match=f"length_of_isolation.{name} is not known here."
    ) as error:
        scenario_from_text(text)
    assert "Known here: shape, mean, cv, median, p1 to p99" in str(error.value)


@pytest.mark.parametrize(("given", "name"), [("mean: 3 d", "mean"), ("cv: 60 %", "cv")])
def test_of_a_mean_and_a_cv_that_stand_alone_is_told_which_is_there(given, name):
    with pytest.raises(ScenarioError, match=f"length_of_isolation has {name} only."):
        scenario_from_text(changed(("median: 68 h, p75: 97.5 h", given)))


def test_of_very_many_faults_the_number_left_out_is_told_before_them():
    """900 power outages with two faults each; the first thousand are told."""
    cut = "- {what: power outage, at: 1, lasts: 2}\n"
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(f"{changed()}timeline:\n{cut * 900}", name="many")
    first = "many.yaml: has 800 more faults.\n  Put these right first.\n"
    assert str(error.value).startswith(first)
    assert str(error.value).count("499 more like this") == 2


def test_the_same_fault_is_found_wherever_a_quantity_stands():
    """The path in the message leads through lists, names and alternatives."""
    text = changed(
        (
            "stock:",
            "timeline:\n  - {what: kits on loan, kits: many, at: 1 d, lasts: 1 d}\nstock:",
        )
    )
    with pytest.raises(ScenarioError, match=r"scenario.yaml:17: timeline\[1\].kits is 'many'"):
        scenario_from_text(text)


@pytest.mark.parametrize(
    ("old", "new", "line"),
    [
        ("Two rooms (invented)", '"Two\\nrooms"', 1),
        ("Two rooms (invented)", "x" * 201, 1),
        ("Two rooms (invented)", '" "', 1),
        ("  nurse: {room_time", "  " + "n" * 101 + ": {room_time: 5 min}\n  nurse: {room_time", 12),
        ("stock:", 'prices: {currency: "a\\nb"}\nstock:', 16),
    ],
    ids=range(5),
)
def test_names_and_the_title_are_one_line_each(old, new, line):
    with pytest.raises(ScenarioError, match="is no text of one line with") as error:
        scenario_from_text(changed((old, new)))
    assert [fault.line for fault in error.value.faults] == [line]
