"""A scenario written in full: YAML with every default filled in, which reads back the same."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, get_args, get_origin

import yaml
from pydantic import BaseModel, BeforeValidator

from surge_sim.scenario.quantities import WRITERS
from surge_sim.scenario.ranges import is_range
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread, write_time_spread
from surge_sim.scenario.yaml_text import NONE_WORDS

#: filled in by the loader from other files
_FROM_FILES = {"counts", "rows"}


class _Flow(list[Any]):
    """A list that is written on one line."""


class _Plain(str):
    """The word none, which must not be put in quotes."""


class _Dumper(yaml.SafeDumper):
    """Writes lists of plain values on one line and indents the others."""

    def increase_indent(self, flow: bool = False, indentless: bool = False) -> None:
        super().increase_indent(flow, False)


_Dumper.add_representer(
    _Flow, lambda dumper, data: dumper.represent_sequence("tag:yaml.org,2002:seq", data, True)
)
_Dumper.add_representer(
    _Plain, lambda dumper, data: dumper.represent_scalar("tag:yaml.org,2002:str", "none")
)


def _text(dumper: yaml.SafeDumper, data: str) -> yaml.ScalarNode:
    # without quotes, these words and nothing at all would mean 'not there'
    style = "'" if data.strip().lower() in ("", *NONE_WORDS) else None
    return dumper.represent_scalar("tag:yaml.org,2002:str", data, style=style)


_Dumper.add_representer(str, _text)
# every scalar is read as text, so none needs quotes to say that it is text
_Dumper.yaml_implicit_resolvers = {}


def full_form(settings: Settings, raw: Any) -> str:
    """Write `settings` as YAML; ranges and references to files as they stand in `raw`."""
    return yaml.dump(
        _section(settings, raw), Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=96
    )


def _section(section: BaseModel, raw: Any) -> dict[str, Any]:
    written: dict[str, Any] = {}
    for name, field in type(section).model_fields.items():
        if name in _FROM_FILES:
            continue
        key = field.alias or name
        inner = raw.get(key, raw.get(name)) if isinstance(raw, dict) else None
        annotation: Any = field.annotation
        if field.metadata:
            annotation = Annotated[(annotation, *field.metadata)]
        written[key] = _value(getattr(section, name), annotation, inner)
    return written


def _value(value: Any, annotation: Any, raw: Any) -> Any:
    if is_range(raw):
        return dict(raw)
    if value is None:
        return _Plain("none")
    if isinstance(value, TimeSpread):
        return _spread(value, raw)
    if isinstance(value, BaseModel):
        return _section(value, raw)
    if isinstance(value, dict):
        inner = get_args(annotation)[1] if get_args(annotation) else str
        return {
            key: _value(one, inner, raw.get(key) if isinstance(raw, dict) else None)
            for key, one in value.items()
        }
    if isinstance(value, tuple):
        written = [
            _value(one, _member(annotation), _of_list(raw, number))
            for number, one in enumerate(value)
        ]
        short = all(isinstance(one, str) for one in written)
        return _Flow(written) if short else written
    writer = _writer(annotation)
    return writer(value) if writer else str(value)


def _spread(value: TimeSpread, raw: Any) -> Any:
    if isinstance(raw, dict) and ("file" in raw or _has_range(raw)):
        return dict(raw)
    return write_time_spread(value)


def _has_range(raw: dict[str, Any]) -> bool:
    return any(is_range(inner) for inner in raw.values())


def _of_list(raw: Any, number: int) -> Any:
    if isinstance(raw, list):
        return raw[number] if number < len(raw) else None
    return raw if number == 0 and is_range(raw) else None


def _member(annotation: Any) -> Any:
    """Annotation of the members of a tuple."""
    if get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is tuple:
            return get_args(part)[0]
        if get_origin(part) is Annotated:
            return _member(part)
    return str


def _writer(annotation: Any) -> Callable[[Any], str] | None:
    """Find how the type of a field is written; looks through alternatives such as None."""
    if get_origin(annotation) is Annotated:
        inner, *marks = get_args(annotation)
        for mark in marks:
            if isinstance(mark, BeforeValidator) and mark.func in WRITERS:
                return WRITERS[mark.func]
        return _writer(inner)
    for part in get_args(annotation):
        writer = _writer(part)
        if writer is not None:
            return writer
    return None
