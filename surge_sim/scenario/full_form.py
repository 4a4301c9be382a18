"""A scenario written in full: YAML with every default filled in, which reads back the same."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import yaml

from surge_sim.scenario.ranges import is_range
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.yaml_text import NONE_WORDS


class _Dumper(yaml.SafeDumper):
    """Writes lists of plain values on one line and indents the others."""

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        super().increase_indent(flow, False)


def _text(dumper: yaml.SafeDumper, data: str) -> yaml.ScalarNode:
    # without quotes, these words and nothing at all would mean 'not there'
    style = "'" if data.strip().lower() in ("", *NONE_WORDS) else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", data, style=style)


def _list(dumper: yaml.SafeDumper, data: list[Any]) -> yaml.SequenceNode:
    on_one_line = all(isinstance(one, str) for one in data)
    return dumper.represent_sequence("tag:yaml.org,2002:seq", data, on_one_line)


_Dumper.add_representer(str, _text)
_Dumper.add_representer(list, _list)
_Dumper.add_representer(
    type(None), lambda dumper, _: dumper.represent_scalar("tag:yaml.org,2002:str", "none")
)
# every scalar is read as text, so none needs quotes to say that it is text
_Dumper.yaml_implicit_resolvers = {}


def yaml_of(tree: Mapping[str, Any]) -> str:
    """Write nested texts as YAML that reads back the same."""
    return yaml.dump(dict(tree), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=96)


def in_full(settings: Settings, root: Mapping[str, Any]) -> dict[str, Any]:
    """Return every setting as it is written; ranges and names of files as they stand in `root`."""
    written: dict[str, Any] = _as_written(settings.model_dump(by_alias=True), root)
    return written


def _as_written(value: Any, raw: Any) -> Any:
    """Put ranges, and files of times, back in the place of their values."""
    if is_range(raw):
        return raw
    if isinstance(raw, dict):
        of_times = isinstance(value, str) or {"shape", "values"} & set(value)
        if of_times and ("file" in raw or any(is_range(one) for one in raw.values())):
            return raw
    if isinstance(value, dict):
        inner = raw if isinstance(raw, dict) else {}
        return {key: _as_written(one, inner.get(key)) for key, one in value.items()}
    if isinstance(value, list | tuple):
        listed = raw if isinstance(raw, list) and len(raw) == len(value) else [None] * len(value)
        return [_as_written(*pair) for pair in zip(value, listed, strict=True)]
    return value
