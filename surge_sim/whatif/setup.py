"""How alternatives are drawn and played in one surge; what they have in common is read once.

Alternatives differ in little. A section of the scenario that is written as in the base, and whose
uncertain inputs have the same values in this surge, is taken from the base instead of being read
again, which would take as long as the play itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from surge_sim.demand.plan import drawn_from
from surge_sim.equipment.situation import Conditions

if TYPE_CHECKING:
    from surge_sim.scenario.ranges import Range
    from surge_sim.scenario.schema import Settings
    from surge_sim.whatif.design import Alternative


class Setup(NamedTuple):
    """How one alternative is drawn and played in a surge."""

    #: all that its demand follows from; alternatives with equal ones have equal demand
    drawn_from: tuple[Any, ...]
    conditions: Conditions


def _setup_of(settings: Settings) -> Setup:
    return Setup(drawn_from(settings), Conditions.of(settings))


@dataclass(frozen=True)
class SharedSetups:
    """The setups of all surges; keeps what does not depend on the surge."""

    base: Alternative
    seed: int
    #: by key of the alternative: its setup, where no input is uncertain
    usual: dict[str, Setup] = field(default_factory=dict, init=False, repr=False)
    #: by key of the alternative: see `alike`
    _alike: dict[str, frozenset[str]] = field(default_factory=dict, init=False, repr=False)

    def alike(self, one: Alternative) -> frozenset[str]:
        """Return the sections with uncertain inputs that are written as in the base."""
        if one.key not in self._alike:
            mine, theirs = one.scenario.root, self.base.scenario.root
            names = {str(each.path[0]) for each in one.scenario.ranges}
            self._alike[one.key] = frozenset(
                name for name in names if name in theirs and mine[name] == theirs[name]
            )
        return self._alike[one.key]


@dataclass
class SetupsInSurge:
    """The setups of one surge."""

    all_surges: SharedSetups
    surge: int

    @cached_property
    def base(self) -> Setup:
        """The setup of the alternative that the others are compared with."""
        base = self.all_surges.base
        if base.usual is not None:
            return self._usual(base, base.usual)
        return _setup_of(base.scenario.settings_with(self._base_values))

    @cached_property
    def _base_values(self) -> Mapping[Range, float]:
        return self.all_surges.base.values_for(self.all_surges.seed, self.surge)

    def of(self, one: Alternative) -> Setup:
        """Return the setup of an alternative."""
        if one.usual is not None:
            return self._usual(one, one.usual)
        if one.key == self.all_surges.base.key:
            return self.base
        values, settings = one.values_for(self.all_surges.seed, self.surge), self._base_settings
        other = {
            str(each.path[0]) for each in values if values[each] != self._base_values.get(each)
        }
        known = {name: getattr(settings, name) for name in self.all_surges.alike(one) - other}
        return _setup_of(one.scenario.settings_with(values, known))

    @property
    def _base_settings(self) -> Settings:
        return self.base.conditions.settings

    def _usual(self, one: Alternative, settings: Settings) -> Setup:
        usual = self.all_surges.usual
        if one.key not in usual:
            usual[one.key] = _setup_of(settings)
        return usual[one.key]
