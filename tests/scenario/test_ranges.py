"""Inputs that are not known exactly: once per surge, each from its own stream."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario, scenario_from_text
from surge_sim.scenario.ranges import Range, with_values
from surge_sim.scenario.schema import Settings
from tests.conftest import ROOT
from tests.scenario.base import changed

UNIFORM = ("pre_use_check: 1 min", "pre_use_check: {low: 1 min, high: 3 min}")
TRIANGLE = ("baseline: 1 per day", "baseline: {low: 1 per day, likely: 2 per day, high: 5 per day}")

#: chance that one of the four laws is refused although the draws are right
EACH = 1e-6
FALSE_ALARM = 4 * EACH


def test_central_values_are_the_middle_or_the_likely_value():
    settings = scenario_from_text(changed(UNIFORM, TRIANGLE)).settings
    assert settings.kit.pre_use_check == 120
    assert settings.arrivals.baseline == 2.0


def test_a_middle_has_no_digits_that_its_ends_do_not_give_it():
    """Half of 8 % and 14 % together is 11 %, in binary a little more."""
    one = Range(("kit",), "share", 0.08, 0.14)
    assert (0.08 + 0.14) / 2 != 0.11
    assert one.central == 0.11


def test_a_surge_draws_the_same_values_each_time_and_another_surge_others():
    scenario = scenario_from_text(changed(UNIFORM, TRIANGLE))
    first, again, other = (scenario.settings_for(1, 0, surge) for surge in (0, 0, 1))
    assert first == again
    assert first.kit.pre_use_check != other.kit.pre_use_check
    assert scenario.settings_for(2, 0, 0) != first
    assert scenario.settings_for(1, 1, 0) != first


def test_only_the_uncertain_fields_change():
    scenario = scenario_from_text(changed(UNIFORM))
    drawn = scenario.settings_for(1, 0, 0)
    back = drawn.model_copy(
        update={
            "kit": drawn.kit.model_copy(
                update={"pre_use_check": scenario.settings.kit.pre_use_check}
            )
        }
    )
    assert back == scenario.settings


def test_another_range_in_the_file_moves_no_draw():
    alone = scenario_from_text(changed(UNIFORM))
    both = scenario_from_text(changed(UNIFORM, TRIANGLE))
    for surge in range(5):
        assert (
            alone.settings_for(1, 0, surge).kit.pre_use_check
            == both.settings_for(1, 0, surge).kit.pre_use_check
        )


@pytest.mark.parametrize(
    ("one", "law"),
    [
        (Range(("kit", "pre_use_check"), "time", 2.0, 6.0), stats.uniform(2, 4)),
        (Range(("kit", "pre_use_check"), "time", 2.0, 6.0, 3.0), stats.triang(0.25, 2, 4)),
        (Range(("kit", "pre_use_check"), "time", 2.0, 6.0, 2.0), stats.triang(0.0, 2, 4)),
        (Range(("kit", "pre_use_check"), "time", 2.0, 6.0, 6.0), stats.triang(1.0, 2, 4)),
    ],
)
def test_draws_follow_the_law_and_its_quantiles(one, law):
    """Quantiles exactly; 2,000 draws by Kolmogorov-Smirnov, false alarm 1 in a million each."""
    shares = np.linspace(0, 1, 21)
    assert [one.at(share) for share in shares] == pytest.approx(law.ppf(shares))
    draws = [one.drawn(1, 0, surge) for surge in range(2_000)]
    assert stats.kstest(draws, law.cdf).pvalue > EACH


def test_a_range_where_a_spread_may_stand_is_one_fixed_time_for_the_surge():
    text = changed(("don: 2 min", "don: {low: 1 min, high: 3 min}"))
    spread = scenario_from_text(text).settings_for(1, 0, 0).kit.don
    assert spread.shape == "fixed"
    assert 60 <= spread.mean <= 180


def test_a_number_inside_a_spread_and_inside_a_list_may_be_a_range():
    text = changed(
        ("median: 68 h", "median: {low: 48 h, high: 90 h}"),
        ("charge_time: 3 h", "charge_time: 3 h, state_of_health: [100 %, {low: 60 %, high: 80 %}]"),
    )
    scenario = scenario_from_text(text)
    drawn = scenario.settings_for(1, 0, 3)
    assert drawn.classes["ward"].length_of_isolation.quantiles[0].time_s != 69 * 3_600
    assert drawn.batteries.state_of_health[0] == 1.0
    assert 0.6 <= drawn.batteries.state_of_health[1] <= 0.8
    assert {one.name for one in scenario.ranges} == {
        "classes.ward.length_of_isolation.median", "batteries.state_of_health[2]",
    }  # fmt: skip


def test_a_whole_number_from_a_range_is_whole():
    text = changed(("initial_census: 1", "initial_census: {low: 1, high: 9}"))
    drawn = {scenario_from_text(text).settings_for(1, 0, k).arrivals.initial_census
             for k in range(30)}  # fmt: skip
    assert drawn <= set(range(1, 10))
    assert len(drawn) > 3


def test_drawn_shares_of_classes_are_parts_of_one_whole():
    second = "  other: {share: 40 %, length_of_isolation: 2 d, entries: {nurse: 9 per day}}"
    text = changed(
        ("    share: 100 %", "    share: {low: 30 %, high: 90 %}"),
        ("roles:", f"{second}\nroles:"),
    )
    scenario = scenario_from_text(text)
    for surge in range(5):
        shares = [one.share for one in scenario.settings_for(1, 0, surge).classes.values()]
        assert sum(shares) == pytest.approx(1)


def test_what_is_read_anew_for_a_surge_is_as_if_all_were():
    scenario = load_scenario(ROOT / "tests" / "everything" / "every_feature.yaml")
    for surge in range(5):
        drawn = {one: one.drawn(1, 0, surge) for one in scenario.ranges}
        quick = scenario.settings_for(1, 0, surge)
        assert quick == Settings.model_validate(with_values(scenario.root, drawn))
        assert quick != scenario.settings
        assert quick.target is scenario.settings.target


def test_a_combination_that_cannot_be_is_told_when_it_is_drawn():
    """At both ends together all is well; one high and one low is not."""
    scenario = scenario_from_text(
        changed(("minimum_run_time: 30 min", "minimum_run_time: {low: 16 min, high: 40 min}"),
                ("don: 2 min", "don: {low: 2 min, high: 5.9 min}"))
    )  # fmt: skip
    least, don = (
        scenario.ranges if scenario.ranges[0].path[0] == "batteries" else (scenario.ranges[::-1])
    )
    scenario.settings_with({least: 1_000.0, don: 200.0})
    with pytest.raises(ScenarioError, match="narrow the ranges"):
        scenario.settings_with({least: 800.0, don: 354.0})


@pytest.mark.parametrize(
    "change",
    [
        ("kits: 4", "kits: {low: 2, high: 6}"),
        ("count: 2", "count: {low: 2, high: 6}"),
        ("horizon: 14 d", "horizon: {low: 7 d, high: 14 d}"),
        ("wait: 5 min", "wait: {low: 1 min, high: 5 min}"),
    ],
)
def test_what_is_decided_cannot_be_a_range(change):
    with pytest.raises(ScenarioError, match="decided, not uncertain"):
        scenario_from_text(changed(change))


@pytest.mark.parametrize(
    "change",
    [
        ("stock:", "charging: {cool_down: RANGE}\nstock:"),
        ("stock:", "carrying: {fetch: RANGE}\nstock:"),
        ("pre_use_check: 1 min", "pre_use_check: RANGE"),
        ("nurse: {room_time: 5 min}", "nurse: {room_time: 5 min, don: RANGE}"),
    ],
)
def test_a_range_of_times_may_begin_with_0(change):
    """What is drawn is rounded to whole seconds: some of so many draws are 0, some are not."""
    old, new = change
    scenario = scenario_from_text(changed((old, new.replace("RANGE", "{low: 0 min, high: 2 s}"))))
    (one,) = scenario.ranges
    for value, seconds in ((0.0, 0), (0.055, 0), (0.4, 0), (0.6, 1), (1.6, 2)):
        drawn = scenario.settings_with({one: value})
        times = (
            drawn.charging.cool_down, drawn.carrying.fetch, drawn.kit.pre_use_check,
            0 if drawn.roles["nurse"].don is None else drawn.roles["nurse"].don.mean,
        )  # fmt: skip
        usual = 60 if "pre_use_check: RANGE" not in new else 0
        assert sum(times) - usual == seconds


def test_a_time_that_must_be_above_0_is_so_in_a_range_too():
    ranged = changed(("run_time: 8 h", "run_time: {low: 0 min, high: 8 h}"))
    with pytest.raises(ScenarioError, match="must be above 0"):
        scenario_from_text(ranged)
