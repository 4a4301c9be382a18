"""Whatever stands in a file, it is a scenario or a list of faults, and never a traceback."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.yaml_text import read_tree
from tests.report.test_check_answer import EVERYTHING

STARTER = Path(__file__).parents[2] / "surge_sim" / "scenario" / "starter.yaml"
TREES = [read_tree(text, "x")[0].root for text in (STARTER.read_text("utf-8"), EVERYTHING)]
JUNK = [
    "0", "1", "-1", "1e9", "0 min", "5 min", "0 %", "50 %", "100 %", "3 per day", "170 L/min",
    "07:00", "24:00", "x", "none", "yes", "3650 d", "nurse", "2031-01-06", [], {}, ["5 min"],
    [[]], [{}], {"low": "1 min", "high": "2 min"}, {"low": "2", "high": "1"},
    {"low": "10 %", "likely": "20 %", "high": "90 %"}, {"low": "0", "high": "9"},
    {"low": [], "high": {}}, {"file": "no.csv"}, {"file": []}, {"shape": "gamma"},
    {"shape": []}, {"mean": "5 min", "cv": "5 %"}, {"what": "power outage"}, {"what": []},
    {"values": "x"}, {"shape": "lognormal", "median": "1 s", "p51": "3650 d"},
    {"p1": "1 min", "p2": "2 min"}, {"quantiles": "x"}, {"quantiles": [{}], "shape": "gamma"},
]  # fmt: skip


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """List the paths of everything inside a tree."""
    inner = value.items() if isinstance(value, dict) else (
        enumerate(value) if isinstance(value, list) else ()
    )  # fmt: skip
    return [found for key, one in inner for found in ((*path, key), *places(one, (*path, key)))]


PLACES = [(number, path) for number, tree in enumerate(TREES) for path in places(tree)]


def changed_at(tree: dict[str, Any], path: tuple[Any, ...], junk: Any, how: str) -> dict[str, Any]:
    tree = copy.deepcopy(tree)
    holder: Any = tree
    for step in path[:-1]:
        holder = holder[step]
    if how == "drop":
        del holder[path[-1]]
    elif how == "rename" and isinstance(holder, dict):
        holder[f"{path[-1]}_"] = holder.pop(path[-1])
    else:
        holder[path[-1]] = junk
    return tree


@pytest.mark.slow
@settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.sampled_from(PLACES), st.sampled_from(JUNK), st.sampled_from(["set", "set", "drop",
                                                                       "rename"]))  # fmt: skip
def test_one_thing_put_wrong_is_a_fault_or_another_good_scenario(place, junk, how):
    number, path = place
    text = yaml.safe_dump(changed_at(TREES[number], path, junk, how), sort_keys=False)
    try:
        scenario = scenario_from_text(text)
    except ScenarioError as error:
        for fault in error.faults:
            assert fault.line >= 1
            assert fault.found and fault.right
    else:
        again = scenario_from_text(scenario.full_form())
        assert again.settings == scenario.settings
        scenario.settings_for(1, 0, 0)


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet="abc:-[]{}#'\"\\n \t&*!|>%@`,?01", max_size=60))
def test_any_text_is_a_fault(text):
    try:
        scenario_from_text(text)
    except ScenarioError:
        return
    raise AssertionError("a few characters cannot be a scenario")
