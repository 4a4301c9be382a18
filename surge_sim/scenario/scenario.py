"""A scenario as it was read: settings at central values, and settings for each surge."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from surge_sim.errors import Fault, ScenarioError
from surge_sim.randomness import Sample
from surge_sim.scenario.cross import cross_faults
from surge_sim.scenario.faults import faults_of
from surge_sim.scenario.full_form import full_form
from surge_sim.scenario.ranges import Range, values_by, with_values
from surge_sim.scenario.reread import root_to_reread
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.yaml_text import Tree

_ADAPTERS: dict[str, TypeAdapter[Any]] = {}


@dataclass(frozen=True, eq=False)
class Scenario:
    """One scenario file, checked; can be sent to another process.

    ``settings`` holds every range at its central value: likely, or the middle of low and high.
    """

    name: str
    path: Path
    text: str
    sha256: str
    settings: Settings
    #: inputs that are not known exactly
    ranges: tuple[Range, ...] = ()
    #: what a planner should look at; the scenario can be used all the same
    warnings: tuple[str, ...] = ()
    #: the very bytes of the file, for the copy beside results; not sent to other processes
    data: bytes = field(default=b"", repr=False)
    #: other files that the scenario reads: name as written -> sha256
    inputs: Mapping[str, str] = field(default_factory=dict)
    #: their bytes, for copies beside results; not sent to other processes
    input_bytes: Mapping[str, bytes] = field(default_factory=dict, repr=False)
    tree: Tree = field(default_factory=lambda: Tree({}), repr=False)
    #: the tree's root with the contents of other files in place
    root: Mapping[str, Any] = field(default_factory=dict, repr=False)

    @property
    def has_ranges(self) -> bool:
        """Whether any input is drawn anew for each surge."""
        return bool(self.ranges)

    def settings_for(self, seed: int = 1, sample: int = Sample.RUN, surge: int = 0) -> Settings:
        """Return the settings of one surge, each range drawn once.

        The same object as ``settings`` when nothing is uncertain.
        """
        if not self.ranges:
            return self.settings
        drawn = values_by(self.ranges, lambda one: one.drawn(seed, int(sample), surge))
        return self.settings_with(drawn)

    def settings_at(self, positions: Mapping[str, float]) -> Settings:
        """Return the settings with some ranges at a position from 0 (low) to 1 (high).

        Parameters
        ----------
        positions : mapping of str to float
            Share of the draws that lie below, by dotted name; other ranges stay central.
        """
        picked = values_by(
            self.ranges,
            lambda one: one.at(positions[one.name]) if one.name in positions else one.central,
        )
        return self.settings_with(picked)

    def settings_with(self, values: Mapping[Range, float]) -> Settings:
        """Return the settings with a value for each range; what is around them is read anew."""
        root = with_values(self._to_reread, values)
        touched = {str(one.path[0]) for one in values}
        try:
            fresh = {
                section: _adapter(section).validate_python(root[section]) for section in touched
            }
        except ValidationError as error:
            root = with_values(dict(self.root), values)
            faults = faults_of(error, self.tree, root, self.path.name)
            raise self._drawn_wrong(faults, values) from None
        settings = self.settings.model_copy(update=fresh)
        # a file is tried at many draws when it is read; the rare one beyond them is told here
        if faults := cross_faults(settings, self.tree, self.path.name):
            raise self._drawn_wrong(faults, values)
        return settings

    @cached_property
    def _to_reread(self) -> dict[str, Any]:
        return root_to_reread(self.root, self.settings, self.ranges)

    def _drawn_wrong(self, faults: list[Fault], values: Mapping[Range, float]) -> ScenarioError:
        drawn = ", ".join(f"{one.name} = {value:g}" for one, value in values.items())
        right = f"\n  This came of {drawn}: narrow the ranges."
        return ScenarioError(
            [Fault(one.file, one.line, one.found, one.right + right) for one in faults]
        )

    def full_form(self) -> str:
        """Write the scenario as YAML with every default filled in."""
        return full_form(self.settings, self.tree.root)

    def __getstate__(self) -> dict[str, Any]:
        """Leave the bytes of files behind: workers need the arrays only."""
        kept = {name: value for name, value in self.__dict__.items() if name != "_to_reread"}
        return {**kept, "data": b"", "input_bytes": {}}


def _adapter(section: str) -> TypeAdapter[Any]:
    if section not in _ADAPTERS:
        annotation: Any = Settings.model_fields[section].annotation
        _ADAPTERS[section] = TypeAdapter(annotation)
    return _ADAPTERS[section]
