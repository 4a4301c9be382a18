"""What may be asked for: the README lists every limit, and what is beyond is refused by place."""

from __future__ import annotations

import math

import numpy as np
import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario import how_large, limits
from surge_sim.scenario.load import load_scenario, scenario_from_text
from surge_sim.scenario.patients import Epidemic
from surge_sim.scenario.spread import Quantile, TimeSpread, mean_at_most
from surge_sim.whatif import input_design
from tests.conftest import ROOT
from tests.robustness.extremes import EXTREMES, Extreme, scenario_of

#: those that the scenario alone decides, not an option or the play
JUDGED = [
    one
    for one in EXTREMES
    if one.place not in (None, "requests", "reference engine")
    and "--" not in f"{one.name} {one.place}"
]

#: what is limited, and to how much
LISTED: tuple[tuple[str, str], ...] = (
    (
        "requests for a kit in one simulated surge, with those after alarms and postponements",
        f"{limits.MOST_REQUESTS:,}",
    ),
    (
        "the same in the reference engine (`--engine reference`, `verify`, `explain`)",
        f"{limits.MOST_IN_REFERENCE:,}",
    ),
    ("patients in one simulated surge", f"{limits.MOST_PATIENTS:,}"),
    (
        "kits, batteries or bays, kits on loan included; search limits",
        f"{limits.MOST_OF_ANYTHING:,}",
    ),
    (
        "spare parts of one sort on the shelf; reorder point; order quantity",
        f"{limits.MOST_PARTS:,}",
    ),
    (
        "filters and faults of blowers, or faults of batteries, in one simulated surge",
        f"{limits.MOST_LIVES:,}",
    ),
    ("items of one list, or names in one section, of a scenario file", f"{limits.MOST_LISTED:,}"),
    ("classes of patients; roles", f"{limits.MOST_CLASSES}"),
    ("characters of a name: of a class, role, wearer or currency", f"{limits.MOST_NAME}"),
    ("latent and infectious time of an epidemic", "1 h or longer"),
    ("reproduction number of an epidemic", f"{limits.MOST_REPRODUCTION}"),
    (
        "simulated surges of one command; of `matters`, fewer the more inputs it has",
        f"{limits.MOST_SURGES:,}; {input_design.MOST_SURGES:,}",
    ),
    (
        "paths through an exercise; other surges that it is compared with",
        f"{limits.MOST_PATHS}; {limits.FEWEST_OTHERS} to {limits.MOST_OTHERS:,}",
    ),
    ("seed", "2^63 - 1"),
    ("characters of a scenario file", f"{limits.MOST_SCENARIO:,}"),
    ("bytes of another file that it names", f"{limits.MOST_FILE:,}"),
    (
        "processes",
        f"{limits.MOST_PROCESSES}, or {limits.MOST_PROCESSES_A_CORE} for each core where that is "
        "more",
    ),
)


def test_the_readme_lists_every_limit():
    section = (ROOT / "README.md").read_text(encoding="utf-8").split("\n## Limits\n")[1]
    table = section.split("\n## ")[0]
    rows = [line for line in table.splitlines() if line.startswith("| ")][2:]
    assert rows == [f"| {what} | {most} |" for what, most in LISTED]


@pytest.mark.parametrize("extreme", JUDGED, ids=[one.name for one in JUDGED])
def test_an_extreme_is_refused_with_its_place_when_it_is_read_or_may_be_played(extreme):
    try:
        scenario_from_text(scenario_of(extreme))
    except ScenarioError as error:
        assert extreme.place
        assert extreme.place in str(error)
    else:
        assert not extreme.place


def read_with(**settings):
    """Settings of the shipped unit with these, by dotted place with `__` for the dot."""
    places = {place.replace("__", "."): value for place, value in settings.items()}
    return scenario_from_text(scenario_of(Extreme("", places))).settings


def test_patients_of_every_source_are_expected():
    """1 a day for 20 d, 3 there, a cluster of 4, a wave 0.5 a day wide: 20 + 3 + 4 + 10 x 1.3."""
    settings = read_with(
        horizon="20 d",
        arrivals={
            "baseline": "1 per day",
            "initial_census": "3",
            "clusters": [{"patients": "4", "at": "1 d"}],
            "wave": {"extra_at_peak": "10 per day", "peak": "9 d", "width": "12 h"},
        },
    )
    found = how_large.expected_patients(settings)
    assert found == {
        ("arrivals", "baseline"): 20,
        ("arrivals", "initial_census"): 3,
        ("arrivals", "clusters", 0): 4,
        ("arrivals", "wave"): 13,
    }


def test_extra_patients_raise_the_baseline_while_they_last_and_where_two_overlap_both_do():
    """2 a day over 10 d: 6 d as usual, 3 d twice, 1 d six times as many: 2 x (6 + 6 + 6) = 36."""
    extra = {"what": "extra patients"}
    settings = read_with(
        horizon="10 d",
        arrivals={"baseline": "2 per day"},
        timeline=[
            {**extra, "arrivals": "200 %", "at": "1 d", "lasts": "4 d"},
            {**extra, "arrivals": "300 %", "at": "2 d", "lasts": "1 d"},
        ],
    )
    assert how_large.expected_patients(settings)["arrivals", "baseline"] == 36


#: 600,000 people, R 2, 3 d latent, 5 d infectious
EPIDEMIC = {
    "population": 600_000, "reproduction_number": 2, "latent": "3 d", "infectious": "5 d",
    "admitted": "5 %", "first_cases": 10,
}  # fmt: skip


def test_an_epidemic_is_as_large_as_it_can_become_within_the_horizon():
    """(r + 1/3) (r + 1/5) = 2 / 15: r = (sqrt(124) - 8) / 30 a day; 4 a day are infected first.

    So in 14 d at most 4 (exp(14 r) - 1) / r fall ill, of whom 5 % are admitted.
    """
    settings = read_with(horizon="14 d", arrivals={"epidemic": EPIDEMIC})
    rate = (math.sqrt(124) - 8) / 30
    most = 4 * (math.exp(14 * rate) - 1) / rate * 0.05
    found = how_large.expected_patients(settings)["arrivals", "epidemic"]
    assert found == pytest.approx(most)
    assert found < 7
    # in a year everybody who is not immune can have been ill
    year = {"epidemic": EPIDEMIC | {"immune": "40 %", "admitted": "1 %"}}
    settings = read_with(horizon="365 d", arrivals=year)
    assert how_large.expected_patients(settings)["arrivals", "epidemic"] == 600_000 * 0.6 * 0.01
    late = {"epidemic": EPIDEMIC | {"onset_to_admission": "14 d"}}
    settings = read_with(horizon="14 d", arrivals=late)
    assert how_large.expected_patients(settings)["arrivals", "epidemic"] == 0


@pytest.mark.parametrize("reproduction", [0.5, 1, 1.01, 2, 15])
@pytest.mark.parametrize("latent_d", [0, 3])
@pytest.mark.parametrize("immune", [0.0, 0.5])
@pytest.mark.parametrize("horizon_d", [3, 30, 300])
def test_an_epidemic_is_never_larger_than_its_bound(reproduction, latent_d, immune, horizon_d):
    from surge_sim.demand.curve import epidemic_admissions

    day_s = 86_400
    epidemic = Epidemic(
        population=10_000, reproduction_number=reproduction, latent=latent_d * day_s,
        infectious=5 * day_s, admitted=0.5, first_cases=10, immune=immune,
        onset_to_admission=day_s,
    )  # fmt: skip
    edges_s = np.array([0, horizon_d * day_s])
    ill = float(epidemic_admissions(epidemic, edges_s).sum()) / 0.5
    bound = how_large.most_ill(epidemic, (horizon_d - 1) * day_s)
    assert 0 < ill <= bound * (1 + 1e-6)


def test_days_past_the_horizon_bring_nobody(tmp_path):
    """A horizon of 25 h has days 1 and 2, of 24 h from the start."""
    (tmp_path / "counts.csv").write_text("day,patients\n1,3\n2,4\n3,900000\n")
    arrivals = {"daily_counts": {"file": "counts.csv", "share": "50 %"}}
    places = {"horizon": "25 h", "arrivals": arrivals}
    text = scenario_of(Extreme("", places))
    settings = scenario_from_text(text, folder=tmp_path).settings
    assert how_large.expected_patients(settings)["arrivals", "daily_counts"] == 3.5


def test_visits_are_expected_by_class_with_or_without_a_kit():
    """A stay of 2 d: 10 a day are 20; urgent 1 a day with a team of 4 are 8; kits do not matter."""
    settings = read_with(
        classes={
            "ward": {
                "share": "100 %",
                "length_of_isolation": "2 d",
                "entries": {"nurse": "10 per day"},
                "urgent": {"per_patient": "1 per day", "team": "4", "role": "nurse"},
            }
        },
        roles__nurse__kit_share="10 %",
    )
    assert how_large.expected_visits(settings) == {
        ("classes", "ward", "entries"): 20,
        ("classes", "ward", "urgent"): 8,
    }


def test_the_mean_of_a_spread_by_quantiles_is_that_of_a_lognormal_one():
    """Median 60 s and sigma 1 (84.13 % at 60 e): mean 60 x exp(1 / 2)."""
    below = 0.8413447460685429
    spread = TimeSpread.model_construct(
        shape="gamma",
        quantiles=(
            Quantile(p=0.5, time_s=60),
            Quantile(p=below, time_s=60 * math.e),
        ),
    )
    assert mean_at_most(spread) == pytest.approx(60 * math.exp(0.5))


@pytest.mark.parametrize("path", sorted((ROOT / "scenarios").glob("*.yaml")), ids=lambda p: p.stem)
def test_a_shipped_scenario_is_far_from_every_limit(path):
    settings = load_scenario(path).settings
    patients = sum(how_large.expected_patients(settings).values())
    visits = sum(how_large.expected_visits(settings).values())
    assert patients * visits < limits.MOST_REQUESTS / 10
    assert patients < limits.MOST_PATIENTS / 10


def test_an_estimate_is_not_below_the_entries_that_the_averages_expect():
    """Both take arrivals times stay times rate; the averages cut stays at the horizon."""
    from surge_sim.demand.expected import expected_course

    settings = load_scenario(ROOT / "scenarios" / "winter_wave.yaml").settings
    patients = sum(how_large.expected_patients(settings).values())
    visits = sum(how_large.expected_visits(settings).values())
    expected = float(expected_course(settings).entries.sum())
    assert expected <= patients * visits <= 3 * expected


def test_a_list_that_is_too_long_hides_no_other_fault():
    text = scenario_of(next(one for one in EXTREMES if one.name == "1,001 changes"))
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(text.replace("horizon: 14 d", "horizon: 14"))
    assert "timeline has 1,001 items." in str(error.value)
    assert "horizon is '14'" in str(error.value)


def test_a_list_of_sections_with_one_that_was_not_understood_is_a_fault():
    text = (ROOT / "scenarios" / "rule_out_unit.yaml").read_text(encoding="utf-8")
    cut = "{what: power outage, at: 1 d, lasts: 1 h}"
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(f"{text}\ntimeline: [&a {cut}, *a, {cut}]\n")
    assert "has the anchor '&a'" in str(error.value)
    assert "refers to '*a'" in str(error.value)


def test_a_range_that_is_wrong_in_the_place_of_a_word_is_a_fault():
    text = (ROOT / "scenarios" / "rule_out_unit.yaml").read_text(encoding="utf-8")
    event = "{what: {low: 2, high: 1}, at: 1 d, lasts: 1 h}"
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(f"{text}\ntimeline: [{event}]\n")
    assert "timeline[1].what" in str(error.value)
