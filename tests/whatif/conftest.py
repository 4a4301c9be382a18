"""Small scenarios for comparisons."""

from __future__ import annotations

import pytest

from surge_sim import load_scenario
from surge_sim.scenario.load import Scenario
from tests.conftest import ROOT


@pytest.fixture(scope="session")
def exposure() -> Scenario:
    """The shipped scenario with uncertain inputs and a crew."""
    return load_scenario(ROOT / "scenarios" / "exposure_cluster.yaml")


@pytest.fixture(scope="session")
def ward() -> Scenario:
    """The smallest shipped scenario, cut to three days."""
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    return scenario.changed({"horizon": "3 d"})
