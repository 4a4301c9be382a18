"""Numbers that are possible but likely slips are warned about, in the same words everywhere."""

import json

import pytest

from surge_sim.equipment.average_load import all_warnings
from surge_sim.scenario.load import load_scenario, scenario_from_text
from tests.scenario.base import BASE, changed

PRICES = "prices: {kit: KIT, battery: 240}\nstock: {kits"


#: one kit for three patients with 20 entries a day each: 9 min bound, wipe-down and drying too
CROWDED = changed(
    ("{baseline: 1 per day, initial_census: 1}", "{baseline: 4 per day, initial_census: 12}"),
    ("rooms: {count: 2", "rooms: {count: 20"),
    ("stock: {kits: 4, batteries: 6, bays: 2}", "stock: {kits: 2, batteries: 9, bays: 9}"),
)


def test_a_line_that_grows_all_day_is_warned_about_where_nobody_has_a_maximum_wait():
    """Some 12 patients x 20 entries x 26 min: more than 4 kits busy, 2 in stock."""
    (warning,) = all_warnings(scenario_from_text(CROWDED))
    assert (
        "policy.maximum_wait is not set" in warning and "kits are busy on average with 2" in warning
    )
    for enough in (
        CROWDED + "policy: {maximum_wait: 45 min}\n",
        CROWDED.replace("{room_time: 5 min}", "{room_time: 5 min, maximum_wait: 45 min}"),
    ):
        assert all_warnings(scenario_from_text(enough)) == ()
    # the stock that is played counts, not the one in hand
    assert all_warnings(scenario_from_text(CROWDED), kits=9) == ()
    assert all_warnings(scenario_from_text(BASE)) == ()


@pytest.mark.slow
def test_check_run_and_size_warn_in_the_same_words(tmp_path):
    from surge_sim.report.check_answer import check_json
    from surge_sim.sizing.size import size
    from surge_sim.statistics.run import run

    path = tmp_path / "unit.yaml"
    slips = CROWDED.replace("run_time: 8 h", "run_time: 300 h").replace(
        "stock: {kits", PRICES.replace("KIT", "140")
    )
    path.write_text(slips, encoding="utf-8")
    scenario = load_scenario(path)
    warned = list(all_warnings(scenario))
    assert len(warned) == 3
    checked = json.loads(json.dumps(check_json(scenario)))["warnings"]
    assert checked[:3] == warned
    played = run(scenario, surges=2, processes=1)
    assert list(played.notes[:3]) == warned
    assert played.wait_minutes["mean"].estimate > 1_440
    assert "The mean wait is" in played.warnings[3] and " d:" in played.warnings[3]
    sized = size(scenario, choose=20, surges=100, seed=1, processes=1)
    assert [note for note in sized.notes if note in warned] == warned


def test_a_price_that_is_not_given_is_no_price_of_0():
    written = changed(("stock:", "prices: {kit: 5}\nstock:"))
    assert not any("is 0" in one for one in scenario_from_text(written).warnings)


@pytest.mark.parametrize(
    ("quantiles", "about"),
    [
        # the median of a lognormal one is the square root of the product: 53.7 h, and 6 h
        ("p10: 10 h, p90: 12 d", ""),
        ("p10: 2 h, p90: 18 h", "is about 6 h, less than half a day"),
    ],
)
def test_a_stay_by_quantiles_is_judged_by_its_middle(quantiles, about):
    text = changed(("median: 68 h, p75: 97.5 h", quantiles))
    warnings = scenario_from_text(text).warnings
    assert [about in one for one in warnings] == ([True] if about else [])


@pytest.mark.parametrize(
    ("section", "said"),
    [
        ("batteries: {charge_time: 8 min, minimum_run_time: 45 min}", "is 8 min, less than 30 min"),
        ("batteries: {charge_time: 80 h, minimum_run_time: 45 min}", "more than 2 d"),
        ("batteries: {charge_time: 30 min, minimum_run_time: 45 min}", ""),
        ("target: {wait: 5 h, service_level: 95 %, share_of_surges: 90 %}", "more than 2 h"),
        ("target: {wait: 5 min, service_level: 5 %, share_of_surges: 90 %}", "less than 50 %"),
        ("failures: {hood_damage: 40 %}", "is 40 %, more than 10 %"),
        ("failures: {hood_damage: 10 %}", ""),
        ("policy: {maximum_wait: 60 h}", "is 60 h, more than 12 h"),
        ("policy: {maximum_wait: 0 min}", ""),
        ("carrying: {fetch: 2 h}", "is 2 h, more than 30 min"),
        ("cleaning: {by: wearer, wipe_down: 4 min, drying_time: 59 s}", "is 59 s, less than 1 min"),
        # nobody shall be asked to shorten these
        ("cleaning: {by: wearer, wipe_down: 4 min, contact_time: 9 h, drying_time: 20 h}", ""),
        ("kit: {pre_use_check: 3 h, don: 2 min, doff: 2 min, levels: [{run_time: 8 h}]}", ""),
    ],
)
def test_a_number_far_from_what_units_have_is_asked_about(section: str, said: str) -> None:
    name = section.split(":")[0]
    others = [line for line in BASE.splitlines() if not line.startswith(f"{name}:")]
    told = scenario_from_text("\n".join([*others, section])).warnings
    found = [one for one in told if "check the number and its unit" in one]
    assert [said in one for one in found] == ([True] if said else [])
