"""Checks between fields."""

from __future__ import annotations

from surge_sim.errors import Fault
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.yaml_text import Tree


def cross_faults(settings: Settings, tree: Tree, file: str) -> list[Fault]:
    """Find every fault between fields."""
    return []


def warnings_of(settings: Settings, tree: Tree, file: str) -> list[str]:
    """Say what a planner should look at."""
    return []
