"""Inputs that are not known exactly: ranges and triangles, drawn once per surge.

``{low: 2 min, high: 4 min}`` is uniform; ``{low: 2 min, likely: 3 min, high: 6 min}`` is
triangular. A range where a spread of times may stand gives one fixed time for the surge.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.randomness import Purpose, Streams
from surge_sim.scenario.quantities import UNKNOWN, FieldError, NotUnderstoodError
from surge_sim.scenario.yaml_text import Path, Tree, dotted

_KEYS = {"low", "likely", "high"}
#: more than anybody can judge; each is tried at many values
MOST_RANGES = 500
#: what is decided or promised, not uncertain
_FIXED_SECTIONS = ("stock", "prices", "limits", "target", "start", "horizon", "run_out", "run_in")
_FIXED_PATHS = (("rooms", "count"),)


@dataclass(frozen=True)
class Range:
    """One uncertain input, its ends in the units used inside (see ``units.Quantity``)."""

    path: Path
    kind: str
    low: float
    high: float
    likely: float | None = None

    @cached_property
    def name(self) -> str:
        """The dotted name of the input."""
        return dotted(self.path)

    @cached_property
    def _block(self) -> int:
        return zlib.crc32(self.name.encode())

    @property
    def central(self) -> float:
        """The likely value, or the middle, without the last digits that binary numbers add."""
        middle = float(f"{(self.low + self.high) / 2:.12g}")
        return middle if self.likely is None else self.likely

    def at(self, position: float) -> float:
        """Value below which a share `position` of the draws lies: the quantile function."""
        width = self.high - self.low
        if self.likely is None or width == 0:
            return self.low + position * width
        turn = (self.likely - self.low) / width
        if position < turn or turn == 1:
            return self.low + math.sqrt(position * turn) * width
        return self.high - math.sqrt((1 - position) * (1 - turn)) * width

    def drawn(self, seed: int, sample: int, surge: int) -> float:
        """Value in one surge; each input has its own stream, so others do not move it."""
        rng = Streams(seed, sample, surge).stream(Purpose.INPUTS, self._block)
        return self.at(rng.random())


def is_range(raw: Any) -> bool:
    """Tell whether a mapping is meant as a range."""
    return isinstance(raw, dict) and {"low", "high"} <= set(raw) <= _KEYS


def is_decided(path: Path) -> bool:
    """Tell whether a number is decided or promised, so that no range may stand there."""
    return path[0] in _FIXED_SECTIONS or path in _FIXED_PATHS


def find_ranges(root: dict[str, Any], tree: Tree) -> tuple[list[Range], list[Fault]]:
    """Find every range of a scenario, in the order of the file; UNKNOWN in place of faulty ones."""
    ranges: list[Range] = []
    faults: list[Fault] = []

    def look(value: Any, path: Path, holder: Any) -> None:
        if is_range(value):
            try:
                ranges.append(_read_range(value, path, len(ranges)))
            except NotUnderstoodError:
                holder[path[-1]] = UNKNOWN
            except FieldError as wrong:
                place = (*path, wrong.key) if wrong.key else path
                faults.append(tree.fault(place, wrong.found, wrong.right))
                holder[path[-1]] = UNKNOWN
        elif isinstance(value, dict | list):
            members = value.items() if isinstance(value, dict) else enumerate(value)
            for key, inner in list(members):
                look(inner, (*path, key), value)

    look(root, (), None)
    return ranges, faults


def _read_range(raw: dict[str, Any], path: Path, before: int) -> Range:
    """Read one range; `before` are there already.

    Raises
    ------
    FieldError
        If it is none.
    NotUnderstoodError
        If an end is told as a fault already.
    """
    if is_decided(path):
        right = "This number is decided, not uncertain: write one value."
        raise FieldError("is a range", right)
    if before >= MOST_RANGES:
        right = f"Use {MOST_RANGES} at most, where it matters."
        raise FieldError("is one range too many", right)
    ends: dict[str, units.Quantity] = {}
    for key, text in raw.items():
        if text is UNKNOWN:
            raise NotUnderstoodError
        if not isinstance(text, str):
            raise FieldError("is not a number", "Write a number with its unit.", key)
        try:
            ends[key] = units.parse_quantity(text)
        except units.QuantityError as error:
            raise FieldError(f"is '{echo(text)}'", error.right(key), key) from None
    kinds = {end.kind for end in ends.values()}
    if kinds == {"share", "factor"}:
        right = "Write every end with a sign, or every end without: `{low: 120 %, high: 150 %}`."
        raise FieldError("has ends with a sign and ends without", right)
    example = "Write for example `{low: 2 min, likely: 3 min, high: 6 min}`."
    if len(kinds) > 1:
        right = f"Use the same sort of unit throughout.\n  {example}"
        raise FieldError("mixes sorts of quantities", right)
    low, high = ends["low"].value, ends["high"].value
    likely = ends["likely"].value if "likely" in ends else None
    if not low <= (low if likely is None else likely) <= high:
        right = f"Write low, likely and high in rising order.\n  {example}"
        raise FieldError("does not rise", right)
    return Range(path, kinds.pop(), low, high, likely)


def with_values(root: Mapping[str, Any], values: Mapping[Range, float]) -> dict[str, Any]:
    """Put a value in the place of each range; copies only what changes."""
    result = dict(root)
    copies = {id(result)}
    for one, value in values.items():
        place: Any = result
        for step, after in pairwise(one.path):
            if id(place[step]) not in copies:
                place[step] = (dict if isinstance(after, str) else list)(place[step])
                copies.add(id(place[step]))
            place = place[step]
        place[one.path[-1]] = units.Quantity(one.kind, value)
    return _shares_to_whole(result, values)


def _shares_to_whole(root: dict[str, Any], values: Mapping[Range, float]) -> dict[str, Any]:
    """Bring drawn class shares back to 100 % in sum: they are parts of one whole."""
    if not any(len(one.path) == 3 and one.path[::2] == ("classes", "share") for one in values):
        return root
    classes = root["classes"]
    try:
        shares = {name: units.parse_share(body["share"]) for name, body in classes.items()}
    except (units.QuantityError, NotUnderstoodError, KeyError, TypeError):
        return root  # a fault of the file, told elsewhere
    whole = sum(shares.values())
    if whole <= 0:
        return root
    changed = {
        name: {**body, "share": units.Quantity("share", shares[name] / whole)}
        for name, body in classes.items()
    }
    return {**root, "classes": changed}
