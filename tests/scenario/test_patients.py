"""Who comes and when: weights of hours and days, and stages of an epidemic, at their bounds."""

from __future__ import annotations

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from tests.scenario.base import changed


@pytest.mark.parametrize("day", ["monday", "sunday"])
def test_weights_of_days_are_refused_with_one_below_0(day: str) -> None:
    told = "arrivals.days_of_week has a weight below 0, or no weight above 0.\n  Weights are"
    with pytest.raises(ScenarioError, match=told):
        scenario_from_text(changed(("_census: 1", f"_census: 1, days_of_week: {{{day}: -0.1}}")))


def test_weights_of_days_are_refused_where_none_is_above_0() -> None:
    days = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
    none = ", ".join(f"{day}: 0" for day in days)
    text = changed(("_census: 1", f"_census: 1, days_of_week: {{{none}}}"))
    with pytest.raises(ScenarioError, match="days_of_week has a weight below 0, or no weight ab"):
        scenario_from_text(text)
    # somebody comes on one of them
    scenario_from_text(text.replace("sunday: 0", "sunday: 0.1"))


@pytest.mark.parametrize(
    ("old", "place"),
    [("_census: 1", "arrivals.hours_of_day"), ("room_time: 5 min", "roles.nurse.hours_of_day")],
)
def test_weights_of_hours_are_refused_with_one_below_0_or_none_above(old: str, place: str) -> None:
    def text(*weights: str) -> str:
        hours = ", ".join([*weights, *["0"] * (24 - len(weights))])
        return changed((old, f"{old}, hours_of_day: [{hours}]"))

    scenario_from_text(text("0", "0.1"))
    for weights in ((), ("1", "-0.1")):
        with pytest.raises(ScenarioError, match=f"{place} has a weight below 0, or no weight abov"):
            scenario_from_text(text(*weights))


EPIDEMIC = (
    "_census: 1, epidemic: {population: 9000, reproduction_number: 2, latent: LATENT, "
    "infectious: 5 d, admitted: 1 %}"
)


@pytest.mark.parametrize("latent", ["0 d", "1 h", "4 d"])
def test_there_is_no_latent_time_or_one_of_an_hour_at_least(latent: str) -> None:
    scenario_from_text(changed(("_census: 1", EPIDEMIC.replace("LATENT", latent))))


@pytest.mark.parametrize("latent", ["1 s", "59 min"])
def test_a_shorter_latent_time_is_refused(latent: str) -> None:
    with pytest.raises(ScenarioError, match=r"arrivals.epidemic.latent is shorter than an hour."):
        scenario_from_text(changed(("_census: 1", EPIDEMIC.replace("LATENT", latent))))
