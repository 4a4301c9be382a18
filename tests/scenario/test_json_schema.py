"""The JSON Schema says of a file what the loader says, as far as a schema can."""

from __future__ import annotations

import re
from pathlib import Path

import jsonschema
import pytest
import yaml

from surge_sim import units
from surge_sim.scenario.json_schema import PATTERNS, json_schema
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.yaml_text import read_tree
from tests.scenario.base import changed

ROOT = Path(__file__).parents[2]
SHIPPED = [*sorted((ROOT / "scenarios").glob("*.yaml")),
           ROOT / "surge_sim" / "scenario" / "starter.yaml"]  # fmt: skip
#: bad scenarios whose fault stands in one field, so that a schema can see it
VISIBLE = [
    "bare_number", "wrong_unit", "negative_time", "endless_time", "share_without_sign",
    "rate_without_unit", "unknown_key", "unknown_section", "missing_section", "missing_key",
    "spread_given_twice", "unknown_shape", "no_levels", "unknown_way_to_clean",
    "unknown_change", "range_where_decided", "half_a_kit", "section_is_text", "wrong_date",
    "time_zone", "wrong_clock", "weights_of_23_hours", "many_at_once",
]  # fmt: skip


class _Yaml12(yaml.SafeLoader):
    """Reads as editors do: whole numbers and yes/no words are no text for them."""


_Yaml12.yaml_implicit_resolvers = {}
_Yaml12.add_implicit_resolver("tag:yaml.org,2002:int", re.compile(r"^[-+]?\d+$"), None)
_Yaml12.add_implicit_resolver("tag:yaml.org,2002:float", re.compile(r"^[-+]?\d+\.\d+$"), None)
_Yaml12.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(true|false)$"), None)
_Yaml12.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(null|~|)$"), None)


@pytest.fixture(scope="module")
def validator():
    schema = json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_shipped_scenarios_fit_the_schema_as_text_and_as_editors_read_them(validator, path):
    text = path.read_text("utf-8")
    validator.validate(read_tree(text, path.name)[0].root)
    validator.validate(yaml.load(text, Loader=_Yaml12))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_full_forms_fit_the_schema(validator, path):
    full = scenario_from_text(path.read_text("utf-8")).full_form()
    validator.validate(yaml.load(full, Loader=_Yaml12))


@pytest.mark.parametrize("name", VISIBLE)
def test_bad_scenarios_do_not_fit(validator, name):
    text = (ROOT / "tests" / "bad_scenarios" / f"{name}.yaml").read_text("utf-8")
    assert list(validator.iter_errors(yaml.load(text, Loader=_Yaml12)))


def test_a_range_fits_where_the_loader_takes_one(validator):
    text = changed(("pre_use_check: 1 min", "pre_use_check: {low: 1 min, high: 2 min}"))
    validator.validate(read_tree(text, "x")[0].root)
    ranged = changed(("kits: 4", "kits: {low: 1, high: 2}"))
    assert list(validator.iter_errors(read_tree(ranged, "x")[0].root))


def test_what_the_loader_fills_in_is_no_key_of_a_file():
    schema = json_schema()["$defs"]
    assert "counts" not in schema["DailyCounts"]["properties"]
    assert "rows" not in schema["EntryLog"]["properties"]


@pytest.mark.parametrize(
    ("kind", "read"),
    [
        ("duration", units.parse_duration),
        ("share", units.parse_share),
        ("percent", units.parse_percent),
        ("per_day", units.parse_rate_per_day),
        ("per_hour", units.parse_rate_per_hour),
        ("flow", units.parse_flow),
        ("clock", units.parse_clock),
        ("moment", units.parse_moment),
        ("count", units.parse_count),
        ("number", units.parse_number),
    ],
)
@pytest.mark.parametrize(
    "text",
    [
        "25 min", "25min", "1 h 30 min", "2 d", ".5 h", "5", "5.5", "-5", "5 %", "5%", "4 per day",
        "4/day", "4 per min", "170 L/min", "170 l / min", "07:00", "7:5", "2031-01-06",
        "2031-01-06 07:00", "2031-01-06T07:00:30", "x", "", "5 km", "1,5 h",
    ],
)  # fmt: skip
def test_patterns_and_readers_agree(kind, read, text):
    try:
        read(text)
        taken = True
    except units.QuantityError:
        taken = False
    assert bool(re.search(PATTERNS[kind][0], text)) == taken


def test_fields_carry_their_comments_and_defaults_as_written():
    batteries = json_schema()["$defs"]["Batteries"]["properties"]
    assert batteries["constant_current_to"]["default"] == "80 %"
    assert "issued" in batteries["minimum_run_time"]["description"]
