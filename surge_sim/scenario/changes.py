"""Changes of single values by dotted names, as if they had been made in the file."""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping
from numbers import Integral, Real
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.faults import nearest, shown
from surge_sim.scenario.quantities import FieldError
from surge_sim.scenario.text_file import hidden_character, hidden_in
from surge_sim.scenario.yaml_text import MOST_DEPTH, NONE_WORDS, value_at


def with_changes(
    root: Mapping[str, Any], full: Mapping[str, Any], changes: Mapping[str, Any]
) -> tuple[dict[str, Any], list[Fault]]:
    """Return what is written with some values changed; what a name leads to is judged later.

    Parameters
    ----------
    root : mapping
        What is written.
    full : mapping
        The same with every default: names lead through it.
    changes : mapping of str to value
        New values by dotted name.

    Returns
    -------
    root : dict
        A new one.
    faults : list of Fault
        Names that lead nowhere, and values that no file holds.
    """
    changed, faults = copy.deepcopy(dict(root)), list[Fault]()
    for name, value in changes.items():
        try:
            _written(name)
            _put(changed, full, name, _written(value))
        except FieldError as wrong:
            faults.append(Fault("", 0, f"{echo(name)} {wrong.found}.", wrong.right))
    return changed, faults


def _put(inside: Any, full: Any, name: str, value: Any) -> None:
    """Follow a name step by step, through defaults that are not written, and put the value."""
    steps, walked = name.split("."), list[str]()
    while steps:
        where = f" in {'.'.join(walked)}" if walked else ""
        if isinstance(inside, dict):
            known = list(dict.fromkeys([*inside, *(full or ())]))
            key: Any = _key(steps, known)
            if steps and key not in known and full is not None:
                found = f"leads nowhere: there is no '{echo(key)}'{where}"
                raise FieldError(found, nearest(key, known))
        elif isinstance(inside, list):
            key = steps.pop(0)
            if not (key.isdecimal() and int(key) < len(inside)):
                found = f"leads nowhere: there is no '{echo(key)}'{where}"
                raise FieldError(found, f"It has {len(inside)} entries, counted from 0.")
            key = int(key)
        else:
            found = f"leads nowhere: {'.'.join(walked)} {shown(inside)}"
            raise FieldError(found, f"Write the whole value of `{'.'.join(walked)}`.")
        walked.append(str(key))
        if not steps:
            inside[key] = value
        full = value_at(full, (key,))
        if steps and value_at(inside, (key,)) is None:
            inside[key] = copy.deepcopy(full) if isinstance(full, list | str) else {}
        inside = inside[key]


def _key(steps: list[str], known: list[str]) -> str:
    """Take the next name off the steps; names of classes, roles and sources may hold points."""
    fits = (n for n in range(1, len(steps) + 1) if ".".join(steps[:n]) in known)
    count = next(fits, 1)
    key = ".".join(steps[:count])
    del steps[:count]
    return key


def _written(value: Any, depth: int = 0) -> Any:
    """Bring a value to what the text of a file holds."""
    if depth > MOST_DEPTH:
        raise FieldError("is nested too deep", f"Use {MOST_DEPTH} levels at most.")
    if isinstance(value, Mapping):
        return {
            _written(str(key)) or "none": _written(one, depth + 1) for key, one in value.items()
        }
    if isinstance(value, list | tuple):
        return [_written(one, depth + 1) for one in value]
    if isinstance(value, bool):
        return units.yes_no_text(value)
    if isinstance(value, Integral):
        return str(value)
    if isinstance(value, Real):
        return units.number_text(float(value)) if math.isfinite(value) else str(value)
    if value is None or (isinstance(value, str) and value.strip().lower() in NONE_WORDS):
        return None
    if not isinstance(value, str):
        right = "Write what a file would hold: text with its unit, a number, a list or a mapping."
        raise FieldError(f"is a {type(value).__name__}", right)
    if hidden := hidden_in(value):
        found, right = hidden_character(hidden)
        raise FieldError(found.removesuffix("."), right)
    return value
