"""How times vary: which spreads there are, and what the checks take from each."""

from __future__ import annotations

import math

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.spread import (
    Quantile,
    TimeSpread,
    least_of,
    mean_at_most,
    most_of,
    quantile_key,
    typical,
)
from tests.scenario.base import changed

FIXED = TimeSpread(shape="fixed", mean=120)
NONE = TimeSpread(shape="fixed", mean=0)
DRAWN = TimeSpread(shape="lognormal", mean=120, cv=0.6)
LISTED = TimeSpread(shape="empirical", values=(60, 300, 30, 90))
BETWEEN = TimeSpread(shape="gamma", quantiles=(Quantile(0.25, 60), Quantile(0.75, 180)))


@pytest.mark.parametrize(
    ("spread", "least", "most", "middle"),
    [
        (FIXED, 120, 120, 120),
        (NONE, 0, 0, 0),
        (DRAWN, 0, None, 120),
        (LISTED, 30, 300, 120),
        # the median of a lognormal with these quartiles
        (BETWEEN, 0, None, math.sqrt(60 * 180)),
    ],
    ids=["fixed", "none", "drawn", "listed", "quantiles"],
)
def test_the_shortest_the_longest_and_a_typical_time(
    spread: TimeSpread, least: int, most: int | None, middle: float
) -> None:
    """A drawn time may be as short as nothing, and has no longest."""
    assert least_of(spread) == least
    assert most_of(spread) == most
    assert typical(spread) == pytest.approx(middle)


def test_the_mean_of_a_spread_is_the_one_given_or_that_of_the_values() -> None:
    assert [mean_at_most(one) for one in (FIXED, DRAWN, LISTED)] == [120, 120, 120]


def test_the_mean_by_quantiles_is_that_of_the_long_tailed_reading() -> None:
    """Quartiles of a lognormal: median sqrt(60 x 180), sigma ln(3) / (2 x 0.67449), from memory."""
    sigma = math.log(3) / (2 * 0.67449)
    assert mean_at_most(BETWEEN) == pytest.approx(
        math.sqrt(60 * 180) * math.exp(sigma**2 / 2), rel=1e-4
    )


def test_quantiles_stand_in_rising_order_however_they_are_written() -> None:
    text = changed(("room_time: 5 min", "room_time: {shape: gamma, p90: 9 min, median: 4 min}"))
    spread = scenario_from_text(text).settings.roles["nurse"].room_time
    assert spread.quantiles == (Quantile(0.5, 240), Quantile(0.9, 540))


def test_a_spread_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="frozen"):
        FIXED.mean = 1


@pytest.mark.parametrize(
    ("p", "key"), [(0.5, "median"), (0.9, "p90"), (0.975, "p97.5"), (0.29, "p29")]
)
def test_a_quantile_is_written_by_its_per_cent(p: float, key: str) -> None:
    assert quantile_key(p) == key


@pytest.mark.parametrize(
    ("good", "bad", "told"),
    [
        # the quartiles of the normal are 1.34898 apart (from memory): e to the 3 x 1.34898 is 57.2
        ("{shape: gamma, p25: 1 min, p75: 57 min}", "{shape: gamma, p25: 1 min, p75: 58 min}",
         " has quantiles too far apart.\n  No spread of times is that wide; check both."),
        ("{shape: gamma, p25: 9 min, p75: 9.1 min}", "{shape: gamma, p25: 9 min, p75: 9 min}",
         " has a p75 of 9 min, not above its p25 of 9 min.\n  Quantiles must be above 0"),
        ("{shape: weibull, p90: 45 s, median: 1 s}", "{shape: weibull, p90: 45 s, median: 0 s}",
         " has a median of 0 min.\n  Quantiles must be above 0"),
        ("{shape: gamma, p10: 1 min, p90: 9 min}", "{shape: gamma}",
         " gives no numbers.\n  Give two quantiles, or mean and cv."),
        ("{shape: gamma, p10: 1 min, p90: 9 min}", "{shape: gamma, p90: 9 min}",
         " has one quantile only.\n  Give two quantiles, or mean and cv."),
        ("{shape: gamma, p10: 1 min, p90: 9 min}",
         "{shape: gamma, p10: 1 min, p90: 9 min, p95: 10 min}",
         " has more than two quantiles.\n  Give two quantiles, or mean and cv."),
        ("{shape: gamma, median: 3 min, p90: 9 min}",
         "{shape: gamma, median: 3 min, p50: 30 min, p90: 9 min}",
         " gives one quantile under two names.\n  Keep one of them: `median` is `p50`"),
        ("{shape: gamma, p5: 3 min, p90: 9 min}",
         "{shape: gamma, p5: 3 min, p05: 30 min, p90: 9 min}",
         " gives one quantile under two names.\n  Keep one of them: `median` is `p50`"),
        ("{shape: gamma, mean: 9 min, cv: 1000 %}", "{shape: gamma, mean: 9 min, cv: 1001 %}",
         ".cv is '1001 %'.\n  The coefficient of variation must be from 0.0001 % to 1000 %."),
        ("{shape: gamma, mean: 9 min, cv: 0.0001 %}", "{shape: gamma, mean: 9 min, cv: 0.00009 %}",
         ".cv is '0.00009 %'.\n  The coefficient of variation must be from 0.0001 % to 1000 %."),
        ("{shape: gamma, mean: 9 min, cv: 0.1 %}", "{shape: gamma, mean: 9 min, cv: 0 %}",
         ".cv is '0 %'.\n  The coefficient of variation must be from 0.0001 % to 1000 %."),
        ("{shape: gamma, mean: 1 s, cv: 9 %}", "{shape: gamma, mean: 0 s, cv: 9 %}",
         ".mean is '0 s'.\n  The mean must be above 0."),
        ("{shape: exponential, mean: 1 s}", "{shape: exponential, mean: 0 s}",
         ".mean is '0 s'.\n  The mean must be above 0."),
        ("{shape: exponential, mean: 9 min}", "{shape: exponential, mean: 9 min, cv: 50 %}",
         " is exponential, but not by its mean.\n  Give the mean and nothing else."),
        ("{shape: fixed, mean: 9 min}", "{shape: fixed, median: 9 min, p90: 10 min}",
         " is fixed, but not by its mean.\n  Give the mean and nothing else."),
        ("{shape: empirical, values: [9 min]}", "{shape: empirical, mean: 9 min}",
         " has no values.\n  Write them: `values: [3 min, 5 min]`"),
        ("{values: [9 min]}", "{shape: gamma, values: [9 min]}",
         ".shape is 'gamma'.\n  A list of values has the shape `empirical`."),
        ("{shape: gamma, mean: 9 min, cv: 9 %}", "{mean: 9 min, cv: 9 %}",
         " has no `shape`.\n  Write `12 min`"),
        ("{shape: gamma, mean: 9 min, cv: 9 %}",
         "{shape: gamma, mean: 9 min, cv: 9 %, median: 8 min}",
         " gives the spread in more than one way.\n  Give either mean and cv"),
        ("{shape: gamma, mean: 9 min, cv: 9 %}", "{shape: gamma, mean: 9 min, values: [9 min]}",
         " gives the spread in more than one way.\n  Give either mean and cv"),
        ("{shape: gamma, p1: 8 min, p99: 10 min}", "{shape: gamma, p1: 8 min, p100: 10 min}",
         ".p100 is not known here.\n  Known here: shape, mean, cv, median, p1 to p99"),
        ("9 min", "9", " is '9'.\n  It must be a length of time.\n  Write `12 min`, or `{shape"),
    ],
)  # fmt: skip
def test_a_spread_that_cannot_be_is_refused_and_one_at_the_bound_is_not(
    good: str, bad: str, told: str
) -> None:
    scenario_from_text(changed(("room_time: 5 min", f"room_time: {good}")))
    with pytest.raises(ScenarioError) as error:
        scenario_from_text(changed(("room_time: 5 min", f"room_time: {bad}")))
    assert str(error.value).startswith(f"scenario.yaml:12: roles.nurse.room_time{told}")
    assert len(error.value.faults) == 1


FILTERS = (
    "filters: {prefilter_life: LIFE, he_filter_life: 600 h, prefilter_change: 4 min, "
    "he_filter_turnaround: 2 h}\n"
)


@pytest.mark.parametrize(
    ("don", "life", "good"),
    [
        ("2 min", "121 s", True),
        ("2 min", "120 s", False),
        ("2 min", "{values: [1 s, 121 s]}", True),
        ("2 min", "{shape: exponential, mean: 1 s}", True),
        ("{values: [2 min, 3 min]}", "120 s", False),
        ("{values: [2 min, 3 min]}", "121 s", True),
        # putting it on may take no time at all
        ("0 min", "1 s", True),
        ("{shape: exponential, mean: 2 min}", "1 s", True),
    ],
)
def test_some_filter_lasts_longer_than_the_shortest_donning(
    don: str, life: str, good: bool
) -> None:
    text = changed(("don: 2 min", f"don: {don}")) + FILTERS.replace("LIFE", life)
    if good:
        scenario_from_text(text)
        return
    with pytest.raises(ScenarioError, match=r"filters.prefilter_life is 2 min at most, and all"):
        scenario_from_text(text)
