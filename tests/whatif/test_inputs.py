"""A spread goes on what is marked invented, and on nothing else."""

from __future__ import annotations

import pytest

from surge_sim import ScenarioError
from surge_sim.scenario.ranges import is_range
from surge_sim.scenario.yaml_text import value_at
from surge_sim.whatif.inputs import (
    is_invented,
    range_around,
    read_spread,
    source_of,
    used_inputs,
    with_spread,
)


def test_every_number_of_an_invented_section_gets_a_range_and_others_are_told(ward):
    found = with_spread(ward, 0.25)
    names = [one.name for one in found.scenario.ranges]
    assert names == list(found.put)
    assert "arrivals.baseline" in names
    cleaning = {name for name in names if name.startswith("cleaning.")}
    assert len(cleaning) == 4
    low_and_high = value_at(found.scenario.tree.root, ("arrivals", "baseline"))
    assert low_and_high == {"low": "1.05 per day", "likely": "1.4 per day", "high": "1.75 per day"}
    assert dict(found.left)["arrivals.days_of_week"] == "weights"
    assert "a count" in dict(found.left).values()
    # sources that cite a publication as well
    assert set(found.mixed) == {"rooms", "classes", "roles", "kit", "batteries"}
    # what is decided has none
    assert not {"stock", "prices", "target", "horizon"} & {name.split(".")[0] for name in names}


def test_the_most_exact_source_counts(ward):
    named = ward.changed({"sources": {**ward.settings.sources, "kit.don": "invented"}})
    found = with_spread(named, 0.1)
    assert "kit.don.mean" in found.put
    assert not any(name.startswith("kit.doff") for name in found.put)
    assert source_of(("kit", "don", "mean"), {"kit": "a", "kit.don": "b"}) == "b"


def test_ranges_of_the_file_stay(exposure):
    found = with_spread(exposure, 0.25).scenario
    ends = value_at(found.tree.root, ("batteries", "charge_time"))
    assert ends == value_at(exposure.tree.root, ("batteries", "charge_time"))
    assert set(used_inputs(exposure)) <= set(used_inputs(found))


def test_a_range_that_makes_the_scenario_impossible_is_left_out(ward):
    """Up to 100 % of the charge at a constant current: no such battery is accepted."""
    sources = {**ward.settings.sources, "batteries": "invented"}
    found = with_spread(
        ward.changed({"sources": sources, "batteries.constant_current_to": "80 %"}), 0.5
    )
    assert "batteries.constant_current_to" in dict(found.left)
    assert "batteries.charge_time" in found.put


@pytest.mark.parametrize(
    ("source", "invented"),
    [
        ("invented", True),
        ("all times invented; the label decides the contact time", True),
        ("invented, except the median, Somebody, A Journal 2012;38:560", False),
        ("A Journal 2012; the rest invented", False),
        ("measured on the ward", False),
    ],
)
def test_a_source_is_invented_when_it_says_so_first_and_cites_nothing(source, invented):
    assert is_invented(source) is invented


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("10 min", "7 min 30 s", "12 min 30 s"),
        ("1 h 20 min", "1 h", "1 h 40 min"),
        ("12 per h", "9 per h", "15 per h"),
        ("0.4 %", "0.3 %", "0.5 %"),
        ("90 %", "67.5 %", "100 %"),
        ("170 L/min", "127.5 L/min", "212.5 L/min"),
        ("8 d", "6 d", "10 d"),
    ],
)
def test_a_range_is_written_in_the_unit_of_the_number(text, low, high):
    found = range_around(text, 0.25)
    assert found == {"low": low, "likely": text, "high": high}
    assert is_range(found)


@pytest.mark.parametrize("text", ["0%", "100%", "25", "much", "-5%"])
def test_a_spread_that_is_no_share_is_refused(text):
    with pytest.raises(ScenarioError, match="--spread"):
        read_spread(text)
    assert read_spread("25%") == 0.25
