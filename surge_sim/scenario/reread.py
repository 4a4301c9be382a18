"""What is read anew when a range gets a value: only what stands around it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from surge_sim.scenario.quantities import Section
from surge_sim.scenario.ranges import Range
from surge_sim.scenario.yaml_text import Path


def root_to_reread(
    root: Mapping[str, Any], settings: Section, ranges: Iterable[Range]
) -> dict[str, Any]:
    """Return a tree that reads like `root`, only quicker.

    Parameters
    ----------
    root : mapping
        The scenario as it was written.
    settings : Section
        What it was read as, with some value for each range.
    ranges : iterable of Range
        What will get other values.

    Returns
    -------
    dict
        Sections without a range in them stand there as they were read.
    """
    paths = {one.path for one in ranges}
    if any(path[::2] == ("classes", "share") for path in paths):
        # a drawn share changes those of the other classes
        paths |= {("classes", name, "share") for name in root.get("classes", {})}
    read: dict[str, Any] = _mixed(dict(root), settings, paths)
    return read


def _mixed(raw: Any, value: Any, paths: set[Path]) -> Any:
    """Put what was read in the place of what was written, except on the way to a path."""
    if not paths and isinstance(value, Section):
        return value
    if isinstance(raw, dict):
        return {
            key: _mixed(inner, _inside(value, key), _below(paths, key))
            for key, inner in raw.items()
        }
    if isinstance(raw, list) and isinstance(value, tuple) and len(raw) == len(value):
        return [
            _mixed(inner, value[number], _below(paths, number)) for number, inner in enumerate(raw)
        ]
    return raw


def _inside(value: Any, key: Any) -> Any:
    if isinstance(value, Mapping):
        return value.get(key)
    return getattr(value, key, None) if isinstance(value, Section) else None


def _below(paths: set[Path], key: Any) -> set[Path]:
    return {path[1:] for path in paths if path and path[0] == key}
