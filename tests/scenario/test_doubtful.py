"""Numbers that are possible but likely slips are warned about, in the same words everywhere."""

import json

import pytest

from surge_sim.equipment.average_load import all_warnings
from surge_sim.scenario.load import load_scenario, scenario_from_text
from tests.scenario.base import BASE, changed

STAY = "length_of_isolation: {shape: lognormal, median: 68 h, p75: 97.5 h}"
WAVE = "wave: {extra_at_peak: 1 per day, peak: 5 d, width: WIDTH}, initial_census: 1"
PRICES = "prices: {kit: KIT, battery: 240}\nstock: {kits"


@pytest.mark.parametrize(
    ("old", "slip", "right", "said"),
    [
        ("run_time: 8 h", "run_time: 300 h", "run_time: 24 h",
         "kit.levels[1].run_time is 300 h, longer than"),
        ("run_time: 8 h", "run_time: 100000 s", "run_time: 86400 s",
         "kit.levels[1].run_time is 27.778 h, longer than"),
        (STAY, "length_of_isolation: 5 h", "length_of_isolation: 12 h",
         "length_of_isolation is about 5 h, less than half a day"),
        ("initial_census: 1", WAVE.replace("WIDTH", "9 h"), WAVE.replace("WIDTH", "2 d"),
         "wave.width is 9 h, so most of the wave comes within 36 h"),
        ("stock: {kits", PRICES.replace("KIT", "140"), PRICES.replace("KIT", "240"),
         "prices.kit is 140, less than a battery (240)"),
    ],
    ids=["run time", "run time in seconds", "stay", "wave", "prices"],
)  # fmt: skip
def test_a_likely_slip_is_warned_about_and_a_number_at_its_bound_is_not(old, slip, right, said):
    (warning,) = scenario_from_text(changed((old, slip))).warnings
    assert said in warning
    assert warning.startswith("scenario.yaml:")
    assert scenario_from_text(changed((old, right))).warnings == ()


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


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("count: 2,", "count: 0,", "rooms.count is 0: every patient boards elsewhere."),
        ("count: 2,", "count: 0, when_full: divert,", "rooms.count is 0: every patient is div"),
        ("kits: 4", "kits: 0", "stock.kits is 0: nobody gets a kit"),
        ("stock:", "prices: {kit: 0, battery: 2}\nstock:", "prices.kit is 0: it costs nothing"),
        ("stock:", "prices: {hood: 0}\nstock:", "prices.hood is 0: it costs nothing"),
        ("stock:", "prices: {cleaner: 0}\nstock:", "prices.cleaner is 0: a sizing then adds no"),
    ],
)
def test_a_0_that_is_possible_is_warned_about(old, new, said):
    assert [said in one for one in scenario_from_text(changed((old, new))).warnings].count(
        True
    ) == 1


def test_a_price_that_is_not_given_is_no_price_of_0():
    written = changed(("stock:", "prices: {kit: 5}\nstock:"))
    assert not any("is 0" in one for one in scenario_from_text(written).warnings)
