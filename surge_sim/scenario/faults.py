"""pydantic's errors in the house form: where, what was found, what would be right."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any, NamedTuple, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from surge_sim import units
from surge_sim.errors import LONGEST_ECHO, Fault, echo
from surge_sim.scenario.former_names import FORMER_NAMES
from surge_sim.scenario.quantities import UNKNOWN, FieldError, NotUnderstoodError, Section
from surge_sim.scenario.ranges import is_decided
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.yaml_text import Path, Tree, value_at

_LIMITS = {
    "greater_than": ("gt", "above"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "below"),
    "less_than_equal": ("le", "at most"),
}
_SECTION = "section: indented lines `name: value`, or `{name: value}`"
_LIST = "list: lines that begin with `-`, or `[one, two]`"
_SORTS = {
    **dict.fromkeys(("model_type", "model_attributes_type", "dict_type"), _SECTION),
    **dict.fromkeys(("tuple_type", "list_type"), _LIST),
}
#: examples that suit the field better than those of its sort of quantity
_EXAMPLES = {
    "horizon": "28 d", "run_out": "1 d", "run_in": "7 d", "run_time": "8 h", "charge_time": "4 h",
    "wait": "5 min", "minimum_run_time": "45 min", "low_battery_alarm": "15 min",
    "pre_use_check": "1 min", "contact_time": "2 min", "drying_time": "10 min", "at": "5 d",
    "lasts": "4 h", "within": "6 h", "peak": "12 d", "width": "6 d", "latent": "3 d",
    "infectious": "5 d", "turnaround": "4 h", "lead_time": "5 d", "rounds_every": "4 h",
    "maximum_wait": "45 min", "urgent_maximum_wait": "10 min", "end": "15:00",
    "share_of_surges": "90 %", "extra_at_peak": "3 per day", "bays": "6",
    "mixing_factor": "1.5", "further_life": "25 %", "state_of_health": "90 %", "share": "60 %",
    "shifts": "19:00", "hood_damage": "0.4 %", "tube_damage": "0.1 %", "fade_per_year": "5 %",
    "count": "8", "large_hood_share": "30 %",
}  # fmt: skip
_WRITERS: dict[str, Callable[[float], str]] = {
    "time": lambda seconds: units.duration_text(round(seconds)),
    "share": units.share_text,
    "factor": units.share_text,
    "rate": units.rate_text,
    "flow": units.flow_text,
    "number": units.number_text,
}
#: so many faults of one reading are told
_MOST_ERRORS = 1_000
#: two numbers with a dash or a word between them
_SPAN = re.compile(r"([\d.]+)\s*(?:-|–|—|to|\.\.+)\s*([\d.]+)\s*([A-Za-z%][A-Za-z %/]*|)")
#: words that pydantic lists
_LISTED = re.compile(r"'([^']*)'")
#: a comma inside a number
_COMMA = re.compile(r"\d,\d")


#: around a check that meets a field that is wrong in itself: it ends there, the next one goes on
known = suppress(NotUnderstoodError)


class Found(NamedTuple):
    """What is wrong between fields: where, what was found, what would be right."""

    path: Path
    found: str
    right: str


def real_path(loc: tuple[Any, ...], root: Any) -> Path:
    """Take out of an error's place what is no key of the file (tags of alternatives)."""
    path: list[str | int] = []
    value = root
    loc = loc[:-1] if loc[-1:] == ("[key]",) else loc
    for number, step in enumerate(loc):
        last = number == len(loc) - 1
        if isinstance(value, dict) and step not in value and _is_tag(step, value):
            continue
        inner = value_at(value, (step,))
        if inner is not None or (isinstance(value, dict) and step in value):
            value = inner
        elif not last:
            continue
        else:
            value = None
            if isinstance(step, int):
                continue  # a single value that stands for a list of one
        path.append(step)
    return tuple(path)


def _is_tag(step: Any, value: dict[str, Any]) -> bool:
    return any(isinstance(one, str) and one == step for one in value.values())


def shown(value: Any) -> str:
    """Say what was found, short."""
    if value is None:
        return "is none"
    if isinstance(value, dict):
        return "is a section"
    if isinstance(value, list | tuple) and not isinstance(value, units.Quantity):
        return "is a list"
    if isinstance(value, units.Quantity):
        return f"can be drawn as {_WRITERS[value.kind](round(value.value, 6))}"
    return f"is '{echo(value)}'"


def nearest(word: str, known: list[str]) -> str:
    """Suggest the known names that a word may stand for."""
    if FORMER_NAMES.get(word) in known:
        return f"It is called `{FORMER_NAMES[word]}` now."
    close = _close(word, known)
    suggestion = f"Did you mean `{close[0]}`?" if close else ""
    if suggestion and len(known) > 8:
        return suggestion
    return f"{suggestion} Known here: {', '.join(known)}.".strip()


def models_in(annotation: Any) -> list[type[BaseModel]]:
    """List the sections that an annotation may hold."""
    if isinstance(annotation, type):
        return [annotation] if issubclass(annotation, BaseModel) else []
    return [model for part in get_args(annotation) for model in models_in(part)]


def _keys(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The fields of a section by their names in a file."""
    fields = model.model_fields.items()
    return {field.alias or name: field for name, field in fields if not field.exclude}


def section_at(path: Path, root: Any, model: type[BaseModel] = Settings) -> type[BaseModel] | None:
    """Find the section that stands, or would stand, at a path of a file."""
    steps = iter(enumerate(path, start=1))
    for length, step in steps:
        if isinstance(step, int):
            continue
        field = _keys(model).get(step)
        if field is None or not (inner := models_in(field.annotation)):
            return None
        if get_origin(field.annotation) is dict and length < len(path):
            next(steps)  # a name
        what = value_at(root, (*path[: length + 1], "what"))
        tagged = [one for one in inner if what and what in _words(one.model_fields.get("what"))]
        model = tagged[0] if tagged else inner[0]
    return model


def _words(field: FieldInfo | None) -> tuple[Any, ...]:
    return get_args(field.annotation) if field else ()


def faults_of(
    error: ValidationError, tree: Tree, root: dict[str, Any], model: type[Section] = Settings
) -> list[Fault]:
    """Translate every error.

    Parameters
    ----------
    error : pydantic.ValidationError
        What validation of `root` said.
    tree : Tree
        The file as read, for the lines.
    root : dict
        What was validated: the tree's root with values in the place of ranges and files.
    model : type of Section
        What the file is.
    """
    faults: list[Fault] = []
    errors = error.errors(include_url=False)
    wrong_inside = {one["loc"][:length] for one in errors for length in range(len(one["loc"]))}
    unknown: dict[Any, list[str]] = {}
    for one in errors:
        if one["type"] == "extra_forbidden":
            unknown.setdefault(one["loc"][:-1], []).append(str(one["loc"][-1]).lower())
    for one in errors[:_MOST_ERRORS]:
        inside, cause = one["loc"], (one.get("ctx") or {}).get("error")
        if one["input"] is UNKNOWN or isinstance(cause, NotUnderstoodError):
            continue  # told already
        if inside in wrong_inside and (one["type"] == "too_short" or inside[-1:] != ("[key]",)):
            continue  # what is wrong inside is told itself
        if one["type"] == "missing":
            if len(inside) == 1 and _indented(str(inside[0]), unknown):
                continue  # it is there, indented: told where it stands
            names = unknown.get(inside[:-1], [])[:20]
            if _close(str(inside[-1]), names) or str(inside[-1]) in [
                FORMER_NAMES.get(name) for name in names
            ]:
                continue  # it is there under a name that is nearly right, or that it had
        with known:
            faults += _told(dict(one), real_path(inside, root), tree, root, model)
    if len(errors) > _MOST_ERRORS:
        more = f"has {len(errors) - _MOST_ERRORS:,} more faults."
        faults.append(Fault(tree.file, 0, more, "Put these right first."))
    return faults


def _indented(name: str, unknown: Mapping[Any, list[str]]) -> bool:
    """Whether a section of the file stands inside another one, which does not know it."""
    return any(inside and name in names for inside, names in unknown.items())


def _told(
    one: dict[str, Any], path: Path, tree: Tree, root: Any, model: type[Section]
) -> list[Fault]:
    """Say what one error means at its place in the file."""
    cause = (one.get("ctx") or {}).get("error")
    if isinstance(cause, FieldError):
        path = (*path, cause.key) if cause.key else path
        value = value_at(root, path)
        right = cause.right + _hint(path, value)
        told = [] if value is UNKNOWN else [(cause.found or shown(value), right, "")]
    else:
        if one["type"].startswith("union_tag") and isinstance(value_at(root, path), dict):
            path = (*path, "what")
            if value_at(root, path) is UNKNOWN:
                return []
        told = [_found_and_right(one, path, root, model)]
    return [tree.fault(path, *one) for one in told]


def _close(word: str, known: list[str]) -> list[str]:
    return difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)


def _hint(path: Path, value: Any) -> str:
    """Say how what was probably meant is written."""
    if not isinstance(value, str) or len(value) > LONGEST_ECHO:
        return ""
    if ends := _SPAN.fullmatch(value.strip()):
        low, high, unit = ends.groups()
        if is_decided(path):
            return "\n  This number is decided, not uncertain: write one value."
        low, high = f"{low} {unit}".strip(), f"{high} {unit}".strip()
        return f"\n  A range is written `{{low: {low}, high: {high}}}`."
    if _COMMA.search(value):
        return "\n  The decimal sign is a point; thousands have no comma."
    return ""


def _bound(bound: float, value: Any) -> str:
    """Write a bound in the unit of what is beyond it."""
    if bound == 0:
        return "0"
    if isinstance(value, str):
        value = units.parse_quantity(value)
    kind = value.kind if isinstance(value, units.Quantity) else "number"
    return f"{bound:,.0f}" if kind == "number" and bound >= 1 else _WRITERS[kind](bound)


def _found_and_right(
    one: dict[str, Any], path: Path, root: Any, model: type[Section]
) -> tuple[str, str, str]:
    """Say what was found, what would be right, and what is alike for many such faults."""
    kind, context = one["type"], one.get("ctx") or {}
    value = value_at(root, path)
    names = [step for step in path if isinstance(step, str)]
    key = names[-1] if names else ""
    cause = context.get("error")
    if isinstance(cause, units.QuantityError):
        in_list = isinstance(path[-1], int)
        right = cause.right("" if in_list else key, _EXAMPLES.get(key, ""))
        hint = _hint(path, value)
        return shown(value), right + hint, f"{cause.must} {hint and hint[:9]}"
    if kind == "missing":
        right = f"Write `{key}: ...` here; `{model.starter}` shows how."
        return "is missing", right, kind
    if kind == "extra_forbidden":
        section = section_at(path[:-1], root, model)
        right = nearest(key, list(_keys(section)) if section else [])
        if len(names) > 1 and key in _keys(model) and key not in root:
            right = f"If the section `{key}` is meant, begin its line in the first column. {right}"
        if key == "file":
            right = f"A file may stand where times vary, and for daily counts. {right}"
        return "is not known", right, ""
    if kind in _LIMITS:
        name, word = _LIMITS[kind]
        example = f"\n  Write for example `{key}: {_EXAMPLES[key]}`." if key in _EXAMPLES else ""
        return shown(value), f"It must be {word} {_bound(context[name], value)}.{example}", ""
    if kind == "literal_error":
        return shown(value), nearest(str(value), _LISTED.findall(context["expected"])), ""
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        found = "is missing" if value is None else shown(value)
        if path[-1] != "what":
            return found, "Write what happens, for example `{what: power outage, ...}`.", ""
        return found, f"Write what happens. {nearest(str(value), _tags())}", ""
    if kind in ("too_short", "too_long"):
        least, most = context.get("min_length"), context.get("max_length")
        wanted = f"at least {least}" if kind == "too_short" else f"at most {most}"
        if key == "hours_of_day":
            wanted = "24, one an hour from midnight"
        return f"has {context.get('actual_length')} values", f"Give {wanted}.", ""
    if kind in _SORTS:
        section = section_at(path, root, model) if kind.startswith("model") else None
        fields = list(_keys(section)) if section else []
        there = f" Known there: {', '.join(fields)}." if 0 < len(fields) <= 8 else ""
        return shown(value), f"It must be a {_SORTS[kind]}.{there}", ""
    if kind == "string_type":
        is_drawn = isinstance(value, units.Quantity)
        return "is a range" if is_drawn else shown(value), "It must be text.", ""
    return shown(value), f"Something else belongs here; `{model.starter}` shows what.", ""


def _tags() -> list[str]:
    models = models_in(Settings.model_fields["timeline"].annotation)
    return [_words(model.model_fields["what"])[0] for model in models]
