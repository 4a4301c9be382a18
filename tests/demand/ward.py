"""A small ward for the tests, written as a user would; all numbers are invented."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import yaml

from surge_sim.demand.draw import draw_demand
from surge_sim.demand.table import Demand
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.schema import Settings

#: a Monday
MONDAY = "2031-03-03T00:00"

PLAIN: dict[str, Any] = {
    "title": "Test ward",
    "note": "Invented numbers in a place that does not exist.",
    "start": MONDAY,
    "horizon": "10 d",
    "arrivals": {"baseline": "4 per day"},
    "classes": {
        "ward": {
            "share": "100 %",
            "length_of_isolation": "3 d",
            "entries": {"nurse": "20 per day"},
        },
    },
    "roles": {"nurse": {"room_time": "6 min"}},
    "kit": {
        "pre_use_check": "1 min",
        "don": "2 min",
        "doff": "3 min",
        "levels": [{"flow": "180 L/min", "run_time": "8 h"}],
    },
    "batteries": {"charge_time": "3 h", "minimum_run_time": "1 h", "low_battery_alarm": "10 min"},
    "cleaning": {"by": "wearer", "wipe_down": "5 min"},
    "stock": {"kits": 5, "batteries": 8, "bays": 3},
    "target": {"wait": "5 min", "service_level": "95 %", "share_of_surges": "90 %"},
}


def changed(base: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    """Return a copy with the changes, section by section; None takes a field away."""
    result = copy.deepcopy(base)
    for key, value in changes.items():
        if isinstance(value, dict) and isinstance(result.get(key), dict):
            result[key] = changed(result[key], value)
        elif value is None:
            result.pop(key, None)
        else:
            result[key] = copy.deepcopy(value)
    return result


def scenario(folder: Path = Path("."), base: dict[str, Any] = PLAIN, **changes: Any) -> Any:
    """Load the test ward with changes."""
    text = yaml.safe_dump(changed(base, changes), sort_keys=False)
    return scenario_from_text(text, folder=folder)


def settings(**changes: Any) -> Settings:
    """Return the settings of the test ward with changes."""
    return scenario(**changes).settings


def draw(seed: int = 1, surge: int = 0, folder: Path = Path("."), **changes: Any) -> Demand:
    """Draw one surge of the test ward with changes."""
    return draw_demand(scenario(folder, **changes), seed=seed, surge=surge)
