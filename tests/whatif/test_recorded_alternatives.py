"""Recorded logs among alternatives: how often all are played, and what is said of it."""

from __future__ import annotations

from pathlib import Path

import pytest

import surge_sim
from surge_sim.scenario.load import Scenario, load_scenario, scenario_from_text
from surge_sim.scenario.yaml_text import yaml_of
from surge_sim.whatif.design import PATIENTS, alternative_of, design_of
from surge_sim.whatif.usual import usual_alternatives
from tests.engine.tiny import PLAIN, merged
from tests.sizing.test_size_command import UNIT

LOG = "requested,room_minutes,role\n" + "".join(f"{17 * n},20,nurse\n" for n in range(40))
BUNDLED = {"timeline.+": {"what": "care bundled", "at": "0 min", "dropped": "20 %"}}


@pytest.fixture
def logged(tmp_path: Path) -> Scenario:
    """A log in which nothing is random."""
    (tmp_path / "log.csv").write_text(LOG)
    text = yaml_of(merged(PLAIN, {"entries": {"from": "log.csv"}, "horizon": "12 h"}))
    (tmp_path / "logged.yaml").write_text(text)
    return load_scenario(tmp_path / "logged.yaml")


def test_where_an_alternative_draws_all_are_played_as_often_as_asked_for(logged: Scenario) -> None:
    kits = {"kits": {"stock.kits": 2}}
    alike = surge_sim.compare(logged, kits, surges=3, processes=1)
    assert alike.surges == 1 and alike.replay is not None and alike.replay.alike
    compared = surge_sim.compare(logged, {**kits, "b": BUNDLED}, surges=3, processes=1)
    assert compared.surges == 3
    assert compared.replay is not None
    assert compared.replay.drawn == ("the choice of entries that are bundled or postponed",)
    # the base is the same each time, the alternative is not
    entries = compared.by_surge.groupby("alternative", sort=False)["entries"].nunique()
    assert (entries["as it is"], entries["kits"]) == (1, 1) and entries["b"] > 1


def test_drawn_surges_beside_a_log_are_played_and_nothing_has_limits(
    logged: Scenario, ward: Scenario
) -> None:
    """Either may be the base."""
    for base, other in ((logged, ward), (ward, logged)):
        compared = surge_sim.compare(base, {"other": other}, surges=9, processes=1)
        assert compared.surges == 9
        assert compared.replay is not None
        assert compared.replay.drawn[0] == PATIENTS
        assert compared.replay.file == "log.csv"
        assert compared.differences[["low", "high"]].isna().all(axis=None)


def test_without_a_log_nothing_is_replayed(ward: Scenario) -> None:
    assert design_of(ward, [alternative_of(ward, "k", {"stock.kits": 3})]).replay is None


def test_a_warning_of_the_base_is_not_told_again_for_each_alternative() -> None:
    """The base names a line of its file, a changed scenario what was changed."""
    base = scenario_from_text(UNIT.replace(",\n  issued: fullest}", "}"))
    changes = {"equal": {"stock.kits": 2}, "kits": {"stock.kits": 9}}
    notes = surge_sim.compare(base, changes, surges=1, processes=1).notes
    (only,) = (note for note in notes if "batteries.issued is not set" in note)
    assert only.startswith("scenario.yaml:")


@pytest.mark.parametrize("horizon", ["1 s", "30 min", "90 min"])
def test_usual_alternatives_that_do_not_fit_a_short_surge_are_not_tried(
    ward: Scenario, horizon: str
) -> None:
    hoods = {"spare": 9, "reorder_point": 3, "lead_time": "1 d"}
    short = ward.changed(
        {"horizon": horizon, "timeline": [], "supplies.hoods": hoods, "stock.kits": 20}
    )
    tried, not_tried = usual_alternatives(short)
    fit = {"12 h power outage", "supplies 14 d late"}
    left = {name for name, reason in not_tried if reason == "the surge is shorter than an hour"}
    assert left == (set() if horizon == "90 min" else fit)
    assert {"tenth of kits gone", *(fit - left)} <= {one.name for one in tried}
