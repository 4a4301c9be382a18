"""The JSON Schema of scenario files, so that editors complete and check the YAML."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from typing import Any, get_args

from pydantic import BaseModel

from surge_sim import units
from surge_sim.scenario.faults import models_in
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import Shape

_NUMBER = r"[+]?(?:\d+(?:\.\d*)?|\.\d+)"
_TIME = rf"{_NUMBER} *(?:s|sec|seconds?|min|minutes?|h|hours?|d|days?|weeks?)"
#: pattern and examples of each sort of quantity
PATTERNS: dict[str, tuple[str, list[str]]] = {
    "duration": (rf"^ *{_TIME}(?: +{_TIME})* *$", ["25 min", "1 h 30 min", "2 d"]),
    "when": (
        rf"^ *(?:{_TIME}(?: +{_TIME})*|\d{{4}}-\d{{1,2}}-\d{{1,2}}(?:[ T]+\d{{1,2}}:\d{{2}})?"
        r"|[Dd]ay +\d{1,4}(?:(?:,| at)? *\d{1,2}:\d{2})?) *$",
        ["5 d", "day 6, 18:00", "2031-01-11 18:00"],
    ),
    "share": (rf"^ *{_NUMBER[4:]} *% *$", ["95 %"]),
    "percent": (rf"^ *{_NUMBER[4:]} *% *$", ["60 %", "150 %"]),
    "factor": (rf"^ *[+-]?{_NUMBER[4:]} *% *$", ["150 %", "+50 %"]),
    "per_day": (
        rf"^ *{_NUMBER} *(?:per|/) *(?:h|hours?|d|days?|weeks?) *$",
        ["4 per day", "0.5 per h", "3 per week"],
    ),
    "per_hour": (rf"^ *{_NUMBER} *(?:per|/) *(?:h|hours?|d|days?|weeks?) *$", ["12 per h"]),
    "flow": (rf"^ *{_NUMBER} *[Ll] *(?:/|per) *min *$", ["170 L/min"]),
    "clock": (r"^ *\d{1,2}:[0-5]\d *$", ["07:00", "19:30"]),
    "moment": (r"^ *\d{4}-\d{2}-\d{2}([ T]\d{2}:\d{2}(:\d{2})?)? *$", ["2031-01-06 07:00"]),
    "count": (r"^(?! *[1-9]\d{0,2}(?:\.\d{3})+ *$) *[+]?\d+(?:\.0*)? *$", ["14"]),
    "number": (rf"^ *[+-]?{_NUMBER[4:]} *$", ["2.5"]),
    # 1.400 is 1400 or 1.4: asked about
    "money": (rf"^(?! *[1-9]\d{{0,2}}(?:\.\d{{3}})+ *$) *{_NUMBER} *$", ["1400"]),
}
_NO_RANGES = ("clock", "moment", "yes_no")
#: sections whose numbers are decided, not uncertain
_DECIDED = ("StockInHand", "Prices", "SearchLimits", "Target", "UrgentTarget")
_DECIDED_FIELDS = {("Settings", "horizon"), ("Settings", "run_off"), ("Rooms", "count")}
_FROM_FILES = ("counts", "rows")
#: lists of which a single one may be written without brackets
_ONE_OR_MORE = {("Batteries", "health"), ("AgeFade", "ages")}
_WRITERS = {
    "duration": units.duration_text,
    "share": units.share_text,
    "percent": units.share_text,
    "factor": units.share_text,
    "per_day": units.rate_text,
    "per_hour": units.hourly_rate_text,
    "flow": units.flow_text,
    "clock": units.clock_text,
    "yes_no": units.yes_no_text,
}


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a scenario file."""
    schema = Settings.model_json_schema(by_alias=True)
    sections: dict[str, Any] = schema.pop("$defs")
    comments = {model.__name__: _comments(model) for model in _all_models(Settings)}
    for name, section in {**sections, "Settings": schema}.items():
        _rewrite_section(section, name, comments.get(name, {}))
    kinds = {kind: _kind(kind) for kind in (*PATTERNS, "yes_no")}
    ranged = {f"{kind}_or_range": _or_range(kind) for kind in kinds if kind not in _NO_RANGES}
    used = {name: one for name, one in sections.items() if name not in ("TimeSpread", "Quantile")}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "surge_sim scenario",
        **{key: value for key, value in schema.items() if key != "title"},
        "description": "A surge in airborne isolation: patients, care, equipment, target.",
        "$defs": {**used, **kinds, **ranged, "times": _times()},
    }


def _kind(kind: str) -> dict[str, Any]:
    if kind == "yes_no":
        return {"anyOf": [{"type": "boolean"}, {"enum": ["yes", "no", "true", "false"]}]}
    pattern, examples = PATTERNS[kind]
    text = {"type": "string", "pattern": pattern, "examples": examples}
    if kind == "count":
        return {"anyOf": [{"type": "integer", "minimum": 0}, text]}
    if kind in ("number", "money"):
        return {"anyOf": [{"type": "number"}, text]}
    return text


def _or_range(kind: str) -> dict[str, Any]:
    one = {"$ref": f"#/$defs/{kind}"}
    ends = {"low": one, "likely": one, "high": one}
    return {
        "anyOf": [
            one,
            {
                "type": "object",
                "description": "Not known exactly: drawn once per surge.",
                "properties": ends,
                "required": ["low", "high"],
                "additionalProperties": False,
            },
        ]
    }


def _times() -> dict[str, Any]:
    """Return the schema of every written form of a spread of times."""
    time, share = {"$ref": "#/$defs/duration_or_range"}, {"$ref": "#/$defs/percent_or_range"}
    shapes = [shape for shape in get_args(Shape) if shape != "empirical"]
    by_mean = {
        "type": "object",
        "properties": {"shape": {"enum": shapes}, "mean": time, "cv": share},
        "required": ["shape", "mean"],
        "additionalProperties": False,
        "examples": [{"shape": "gamma", "mean": "6 min", "cv": "30 %"}],
    }
    by_quantiles = {
        "type": "object",
        "properties": {"shape": {"enum": ["lognormal", "gamma", "weibull"]}, "median": time},
        "patternProperties": {r"^p\d{1,2}(\.\d+)?$": time},
        "required": ["shape"],
        "minProperties": 3,
        "maxProperties": 3,
        "additionalProperties": False,
        "examples": [{"shape": "lognormal", "median": "10 min", "p90": "25 min"}],
    }
    values = {
        "type": "object",
        "properties": {
            "shape": {"const": "empirical"},
            "values": {"type": "array", "items": time, "minItems": 1},
        },
        "required": ["values"],
        "additionalProperties": False,
    }
    file = {
        "type": "object",
        "properties": {
            "file": {"type": "string"},
            "column": {"type": "string"},
            "unit": {"enum": ["s", "min", "h", "d", "weeks"]},
        },
        "required": ["file", "unit"],
        "additionalProperties": False,
    }
    return {
        "description": "How a time varies: fixed, a shape, the values, or a column of a file.",
        "anyOf": [time, by_mean, by_quantiles, values, file],
    }


def _rewrite_section(section: dict[str, Any], name: str, comments: dict[str, str]) -> None:
    for field in _FROM_FILES:
        section.get("properties", {}).pop(field, None)
    for field, value in section.get("properties", {}).items():
        decided = name in _DECIDED or (name, field) in _DECIDED_FIELDS
        written = _rewrite(value, decided)
        if (name, field) in _ONE_OR_MORE:
            written = {"anyOf": [written["items"], written]}
        if field in comments:
            written["description"] = comments[field]
        section["properties"][field] = written


def _rewrite(node: Any, decided: bool) -> Any:
    """Replace the marks of quantities; say defaults as they are written."""
    if isinstance(node, list):
        return [_rewrite(one, decided) for one in node]
    if not isinstance(node, dict):
        return node
    if "quantity" in node:
        kind = node["quantity"]
        fixed = decided or kind in _NO_RANGES or kind == "times"
        written: dict[str, Any] = {"$ref": f"#/$defs/{kind if fixed else f'{kind}_or_range'}"}
        if "default" in node and node["default"] is not None and kind in _WRITERS:
            written["default"] = _WRITERS[kind](node["default"])
        return written
    if node == {"type": "null"}:
        return {"enum": [None, "none"]}
    # defaults of whole sections and lists stand in the sections themselves
    return {
        key: _rewrite(value, decided)
        for key, value in node.items()
        if key != "title" and (key != "default" or isinstance(value, str))
    }


def _all_models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for field in model.model_fields.values():
        for inner in models_in(field.annotation):
            yield from _all_models(inner)


def _comments(model: type[BaseModel]) -> dict[str, str]:
    """Collect the ``#:`` comments above the fields of a section, its parents' included."""
    found: dict[str, str] = {}
    for part in reversed(model.__mro__):
        if not issubclass(part, BaseModel) or part is BaseModel:
            continue
        lines: list[str] = []
        for line in inspect.getsource(part).splitlines():
            if comment := re.fullmatch(r"    #: (.*)", line):
                lines.append(comment[1])
            elif field := re.match(r"    (\w+): ", line):
                if lines:
                    found[field[1]] = " ".join(lines)
                lines = []
    return found
