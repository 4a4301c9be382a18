"""pydantic's errors in the house form: where, what was found, what would be right."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Literal, NamedTuple, get_args, get_origin

from pydantic import BaseModel, ValidationError

from surge_sim import units
from surge_sim.errors import LONGEST_ECHO, Fault, echo
from surge_sim.scenario.quantities import UNKNOWN, NotUnderstoodError
from surge_sim.scenario.ranges import is_decided
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import SpreadError
from surge_sim.scenario.yaml_text import Path, Tree, dotted

_LIMITS = {
    "greater_than": ("gt", "above"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "below"),
    "less_than_equal": ("le", "at most"),
}


#: examples that suit the field better than those of its sort of quantity
_EXAMPLES = {
    "horizon": "28 d", "run_off": "1 d", "run_time": "8 h", "charge_time": "4 h", "wait": "5 min",
    "least_run": "45 min", "alarm_reserve": "15 min", "check": "1 min", "wet": "2 min",
    "dry": "10 min", "at": "5 d", "lasts": "4 h", "within": "6 h", "peak": "12 d", "width": "6 d",
    "latent": "3 d", "infectious": "5 d", "turnaround": "4 h", "lead_time": "5 d",
    "rounds_every": "4 h", "patience": "45 min", "urgent_patience": "10 min", "end": "15:00",
    "share_of_surges": "90 %", "extra_at_peak": "3 per day", "bays": "6", "mixing_factor": "1.5",
    "further_life": "25 %", "health": "90 %", "share": "60 %", "shifts": "19:00",
    "hood_damage": "0.4 %", "tube_damage": "0.1 %", "fade_per_year": "5 %", "count": "8",
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


def value_at(root: Any, path: Path) -> Any:
    """Look up what stands at a place, or None."""
    for step in path:
        if isinstance(root, dict):
            root = root.get(step)
        elif type(root) in (list, tuple) and isinstance(step, int) and step < len(root):
            root = root[step]
        else:
            return None
    return root


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


def _names(model: type[BaseModel]) -> list[str]:
    hidden = {"counts", "rows"}  # filled in by the loader
    return [field.alias or name for name, field in model.model_fields.items() if name not in hidden]


def model_at(path: Path, root: Any) -> type[BaseModel] | None:
    """Find the model of the section at a path."""
    models = models_in(_annotation_at(path, root))
    return _variant(models, value_at(root, path)) if models else None


def _annotation_at(path: Path, root: Any) -> Any:
    """Find the type of what stands at a path, by walking types and values side by side."""
    annotation: Any = Settings
    value = root
    for step in path:
        if isinstance(step, int):
            annotation = _part_of(annotation, tuple, 0)
        elif mapped := _part_of(annotation, dict, 1):
            annotation = mapped
        else:
            models = models_in(annotation)
            fields = _variant(models, value).model_fields if models else {}
            named = [info for name, info in fields.items() if step in (name, info.alias)]
            annotation = named[0].annotation if named else None
        value = value_at(value, (step,))
    return annotation


def _part_of(annotation: Any, wanted: type, number: int) -> Any:
    """Find a generic such as ``dict[str, Role]`` inside an annotation; return one argument."""
    if get_origin(annotation) is wanted:
        return get_args(annotation)[number]
    found = (_part_of(part, wanted, number) for part in get_args(annotation))
    return next((part for part in found if part is not None), None)


def _variant(models: list[type[BaseModel]], value: Any) -> type[BaseModel]:
    """Choose between alternatives that tell themselves apart by `what`."""
    what = value.get("what") if isinstance(value, dict) else None
    for model in models:
        field = model.model_fields.get("what")
        if field is not None and what in get_args(field.annotation):
            return model
    return models[0]


def faults_of(error: ValidationError, tree: Tree, root: dict[str, Any], file: str) -> list[Fault]:
    """Translate every error.

    Parameters
    ----------
    error : pydantic.ValidationError
        What validation of `root` said.
    tree : Tree
        The file as read, for the lines.
    root : dict
        What was validated: the tree's root with values in the place of ranges and files.
    file : str
        Name of the file in messages.
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
        if one["type"] == "too_short" and inside in wrong_inside:
            continue  # members that are wrong are not counted: they are told themselves
        if one["type"] == "missing":
            names = unknown.get(inside[:-1], [])[:20]
            if str(inside[-1]) in tree.lost or _close(str(inside[-1]), names):
                continue  # it is there under a name that is nearly right, or on a broken line
        with known:
            faults += _told(dict(one), real_path(inside, root), tree, root, file)
    if len(errors) > _MOST_ERRORS:
        more = f"has {len(errors) - _MOST_ERRORS:,} more faults."
        faults.append(Fault(file, 0, more, "Put these right first."))
    return faults


def _told(one: dict[str, Any], path: Path, tree: Tree, root: Any, file: str) -> list[Fault]:
    """Say what one error means at its place in the file."""
    cause = (one.get("ctx") or {}).get("error")
    if isinstance(cause, SpreadError):
        told = [
            (place, problem.found or shown(value), problem.right + _hint(place, value), "")
            for problem in cause.problems
            for place in [(*path, problem.key) if problem.key else path]
            for value in [value_at(root, place)]
            if value is not UNKNOWN
        ]
    else:
        if one["type"].startswith("union_tag") and isinstance(value_at(root, path), dict):
            path = (*path, "what")
            if value_at(root, path) is UNKNOWN:
                return []
        told = [(path, *_found_and_right(one, path, root))]
    return [
        Fault(file, tree.line(place), f"{dotted(place)} {found}.", right, kind)
        for place, found, right, kind in told
    ]


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


def _found_and_right(one: dict[str, Any], path: Path, root: Any) -> tuple[str, str, str]:
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
        right = f"Write `{key}: ...` here; `surge-sim new FILE` shows how."
        return "is missing", right, kind
    if kind == "extra_forbidden":
        model = model_at(path[:-1], root)
        right = nearest(key, _names(model) if model else [])
        if key == "file":
            right = f"A file may stand where times vary, and for daily counts. {right}"
        return "is not known", right, ""
    if kind in _LIMITS:
        name, word = _LIMITS[kind]
        bound = float(context[name])
        written = f"{bound:,.0f}" if bound.is_integer() else units.number_text(bound)
        return shown(value), f"It must be {word} {written}.", ""
    if kind == "literal_error":
        return shown(value), nearest(str(value), _words(_annotation_at(path, root))), ""
    if kind in ("union_tag_invalid", "union_tag_not_found"):
        found = "is missing" if value is None else shown(value)
        if path[-1] != "what":
            return found, "Write what happens, for example `{what: power cut, ...}`.", ""
        return found, f"Write what happens. {nearest(str(value), _tags())}", ""
    if kind in ("too_short", "too_long"):
        least, most = context.get("min_length"), context.get("max_length")
        wanted = f"at least {least}" if kind == "too_short" else f"at most {most}"
        if key == "hours_of_day":
            wanted = "24, one an hour from midnight"
        return f"has {context.get('actual_length')} values", f"Give {wanted}.", ""
    if kind in ("model_type", "model_attributes_type", "dict_type"):
        right = "It must be a section: indented lines `name: value`, or `{name: value}`."
        return shown(value), right, ""
    if kind in ("tuple_type", "list_type"):
        right = "It must be a list: lines that begin with `-`, or `[one, two]`."
        return shown(value), right, ""
    if kind == "string_type":
        return shown(value), "It must be text.", ""
    return shown(value), "Something else belongs here; `surge-sim new FILE` shows what.", ""


def _words(annotation: Any) -> list[str]:
    """List the words that an annotation allows."""
    if get_origin(annotation) is Literal:
        return list(get_args(annotation))
    return [word for part in get_args(annotation) for word in _words(part)]


def _tags() -> list[str]:
    models = models_in(Settings.model_fields["disruptions"].annotation)
    return [get_args(model.model_fields["what"].annotation)[0] for model in models]
