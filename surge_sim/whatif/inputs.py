"""Inputs that are not known exactly: those with a range in the file, and those marked invented.

Sections of a scenario say under `sources` where their numbers come from. `with_spread` puts a
range on every number of a section whose source is that it is invented: its first clause says so,
and it names no publication. One that names both does not say which numbers it means; such a section
is left as it is, and told. A more exact name under `sources` (``kit.don: invented``) goes before
the section's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from surge_sim import units
from surge_sim.demand.replay import used_ranges
from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.scenario.ranges import is_decided, is_range
from surge_sim.scenario.yaml_text import Path, dotted

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.ranges import Range

_INVENTED = "invented"
#: a year: the source names a publication
_CITES = re.compile(r"\b(1[89]|20)\d\d\b")
#: one number with its unit behind it
_ONE_NUMBER = re.compile(r"(\d+(?:\.\d+)?)(\D*)")
#: weights by hour and day are parts of one whole, of which a range of each says nothing
_WEIGHTS = ("hours_of_day", "days_of_week")
#: sections without numbers that describe the unit; what the timeline holds is asked, not known
_WITHOUT = ("title", "question", "note", "sources", "timeline")


@dataclass(frozen=True)
class Spread:
    """A scenario with ranges on invented numbers, and what was left as it is."""

    scenario: Scenario
    #: dotted names of the numbers that got a range
    put: tuple[str, ...] = ()
    #: dotted names of invented numbers that could not have one, and why
    left: tuple[tuple[str, str], ...] = ()
    #: names under `sources` that speak of invented numbers and of others
    mixed: tuple[str, ...] = ()


def read_spread(text: str) -> float:
    """Return how far a spread reaches, written like ``25%``.

    Raises
    ------
    ScenarioError
        It is no share above 0 and below 100 %.
    """
    right = "Write a share above 0 % and below 100 %, for example 25%."
    try:
        share = units.parse_share(text)
    except units.QuantityError:
        share = 0.0
    if not 0.0 < share < 1.0:
        raise ScenarioError([Fault("--spread", 0, f"'{echo(text)}' cannot be used.", right)])
    return share


def used_inputs(scenario: Scenario) -> tuple[Range, ...]:
    """Return the inputs with a range on which a surge depends, in the order of the file."""
    return tuple(one for one in used_ranges(scenario) if one.low < one.high)


def with_spread(scenario: Scenario, share: float) -> Spread:
    """Put a range on every number that the scenario marks as invented.

    Parameters
    ----------
    scenario : Scenario
        Ranges of its own stay as they are.
    share : float
        The range reaches from (1 - share) to (1 + share) of the number, which is the likely value;
        above 0 and below 1. Shares end at 100 %.

    Returns
    -------
    Spread
        A range with which the scenario would be impossible is left out, and told.
    """
    put, left = dict[Path, Any](), list[tuple[str, str]]()
    for path, text in _invented(scenario):
        why = _why_not(path, text, scenario)
        if why:
            left.append((dotted(path), why))
        else:
            put[path] = range_around(text, share)
    while put:
        try:
            scenario = scenario.changed({_key(path): value for path, value in put.items()})
            break
        except ScenarioError as error:
            told = [one.found.split()[0] for one in error.faults]
            wrong = [path for path in put if any(_is_about(name, dotted(path)) for name in told)]
            # a fault that names none of them: none can be blamed
            for path in wrong or list(put):
                del put[path]
                left.append((dotted(path), "such a range makes the scenario impossible"))
    return Spread(scenario, tuple(map(dotted, put)), tuple(left), tuple(_mixed(scenario)))


def _key(path: Path) -> str:
    """Return the name by which a value is changed: lists count from 0."""
    return ".".join(map(str, path))


def _is_about(told: str, name: str) -> bool:
    """Say whether a fault is about a number, or about what holds it."""
    return told == name or name.startswith((f"{told}.", f"{told}["))


def source_of(path: Path, sources: Mapping[str, str]) -> str:
    """Return what is said of a number's source: the most exact name that covers it."""
    names = (dotted(path[:length]) for length in range(len(path), 0, -1))
    return next((sources[name] for name in names if name in sources), "")


def is_invented(source: str) -> bool:
    """Say whether a source calls all numbers that it is about invented."""
    return _INVENTED in source.split(";")[0] and not cites(source)


def cites(source: str) -> bool:
    """Say whether a source names a publication: something of a year."""
    return _CITES.search(source) is not None


def _invented(scenario: Scenario) -> Iterator[tuple[Path, str]]:
    """Yield every written number that is marked invented, in the order of the file."""
    sources = scenario.settings.sources

    def look(value: Any, path: Path) -> Iterator[tuple[Path, str]]:
        if is_range(value) or is_decided(path):
            return
        if path[-1] in _WEIGHTS:
            if is_invented(source_of(path, sources)):
                yield path, ""
        elif isinstance(value, dict | list):
            for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
                yield from look(inner, (*path, key))
        elif isinstance(value, str) and any(sign.isdigit() for sign in value):
            yield from [(path, value)] * is_invented(source_of(path, sources))

    for section, value in scenario.tree.root.items():
        if section not in _WITHOUT:
            yield from look(value, (section,))


def _mixed(scenario: Scenario) -> Iterator[str]:
    for name, said in scenario.settings.sources.items():
        if _INVENTED in said and not is_invented(said) and not is_decided((name,)):
            yield name


def _why_not(path: Path, text: str, scenario: Scenario) -> str:
    """Say why a number can have no range; empty where it can."""
    if path[-1] in _WEIGHTS:
        return "weights"
    try:
        found = units.parse_quantity(text)
    except units.QuantityError:
        found = None
    if found is None or path[-1] == "at":
        return "a date or a time of day"
    if found.kind in ("number", "factor"):
        return "a count" if found.kind == "number" else "a factor"
    if not found.value:
        return "0"
    if path[0] == "classes" and path[2:] == ("share",) and len(scenario.settings.classes) == 1:
        return "the share of the only class"
    return ""


def range_around(text: str, share: float) -> dict[str, str]:
    """Return a range around a number, as a file has it.

    Parameters
    ----------
    text : str
        A number with its unit.
    share : float
        How far it reaches down and up, of the number.
    """
    kind, middle = units.parse_quantity(text)
    most = 1.0 if kind == "share" and middle <= 1.0 else float("inf")
    factors = {"low": 1.0 - share, "high": min(1.0 + share, most / middle)}
    ends = {name: _times(text, kind, middle, factor) for name, factor in factors.items()}
    return {"low": ends["low"], "likely": text, "high": ends["high"]}


def _times(text: str, kind: str, middle: float, factor: float) -> str:
    """Write a multiple of a number in the unit that it has; of a length of time in several."""
    named = _ONE_NUMBER.fullmatch(text.strip())
    if kind == "time" and (named is None or middle * factor % 60):
        return units.duration_text(max(round(middle * factor), 1))
    assert named is not None
    return units.number_text(float(f"{float(named[1]) * factor:.6g}")) + named[2]
