"""The JSON Schema of scenario files, so that editors complete and check the YAML."""

from __future__ import annotations

import ast
import inspect
import textwrap
from itertools import pairwise
from typing import Any, get_args

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import BY_QUANTILES, Shape

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


class _Generator(GenerateJsonSchema):
    """Says defaults as they are written."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        written, fields = super().model_schema(schema), schema["cls"].model_fields
        for name, said in _docstrings(schema["cls"]).items():
            # what the loader fills in is no part of the file
            shown = written["properties"].get(fields[name].alias or name, {})
            shown.setdefault("description", said)
        return written

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        inner: Any = schema["schema"]
        written, default = self.generate_inner(inner), schema.get("default")
        while "serialization" not in inner and "schema" in inner:
            inner = inner["schema"]
        if "quantity" in written and default is not None and "serialization" in inner:
            default = inner["serialization"]["function"](default)
        # defaults of whole sections and lists stand in the sections themselves
        return {**written, "default": default} if isinstance(default, str) else written


def _docstrings(section: type) -> dict[str, str]:
    """Return the docstrings below the fields of a section, by their names.

    Read here and not by pydantic, which would do it whenever a scenario is loaded.
    """
    said: dict[str, str] = {}
    for one in reversed(section.__mro__):
        if one.__module__.startswith("surge_sim."):
            defined = ast.parse(textwrap.dedent(inspect.getsource(one))).body[0]
            assert isinstance(defined, ast.ClassDef)
            for place, below in pairwise(defined.body):
                match place, below:
                    case (
                        ast.AnnAssign(target=ast.Name(name)),
                        ast.Expr(value=ast.Constant(value=str(text))),
                    ):
                        said[name] = inspect.cleandoc(text)
    return said


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a scenario file."""
    schema = Settings.model_json_schema(schema_generator=_Generator)
    sections: dict[str, Any] = schema.pop("$defs")
    kinds = {kind: _kind(kind) for kind in (*PATTERNS, "yes_no")}
    ranged = {f"{kind}_or_range": _or_range(kind) for kind in kinds if kind not in _NO_RANGES}
    written: dict[str, Any] = _with_kinds(
        {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            **schema,
            "title": "surge_sim scenario",
            "description": "A surge in airborne isolation: patients, care, equipment, target.",
            "$defs": sections,
        }
    )
    written["$defs"] |= {**kinds, **ranged, "times": _times()}
    return written


def _with_kinds(node: Any, decided: bool = False) -> Any:
    """Replace the marks of quantities by where their patterns stand."""
    if isinstance(node, list):
        return [_with_kinds(one, decided) for one in node]
    if not isinstance(node, dict):
        return node
    if node == {"type": "null"}:
        return {"enum": [None, "none"]}
    decided = decided or node.get("decided", False)
    if "description" in node:
        node["description"] = " ".join(node["description"].split())
    if "quantity" in node:
        kind = node["quantity"]
        ranged = not decided and kind not in (*_NO_RANGES, "times")
        kept = {key: node[key] for key in ("default", "description") if key in node}
        return {"$ref": f"#/$defs/{kind}_or_range" if ranged else f"#/$defs/{kind}", **kept}
    return {key: _with_kinds(one, decided) for key, one in node.items() if key != "decided"}


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
        "properties": {"shape": {"enum": list(BY_QUANTILES)}, "median": time},
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
