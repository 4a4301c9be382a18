"""What a case takes for granted: every input of the scenario, with the source of its section."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from surge_sim.scenario.load import in_full
from surge_sim.whatif.inputs import cites, is_invented, source_of

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.yaml_text import Path

#: stands in the place of a source
NO_SOURCE = "no source is given"
#: how well an input is known: all of its section is invented, some of it is (which, the source
#: says), nothing is said, or a source is named
INVENTED, PARTLY, NOT_SAID, SOURCED = "invented", "partly invented", "not said", "with a source"
#: fields that say what a file is about, or how far a simulation goes
_NO_INPUTS = (
    "title", "question", "note", "start", "horizon", "run_out", "run_in", "timeline", "limits",
    "sources",
)  # fmt: skip
#: words; nothing in them is a value
_WORDS = ("title", "question", "note", "sources")


class Assumption(NamedTuple):
    """One input: its dotted name, its value as it is written, and where it comes from."""

    #: ``cleaning.crew.0.cleaners``: lists count from 0
    name: str
    value: int | float | str | None
    #: whether it stands in the file; else it is a default
    written: bool
    #: what the file says of the source of it or of its section
    source: str

    @property
    def section(self) -> str:
        """The section that it stands in."""
        return self.name.split(".")[0]

    @property
    def standing(self) -> str:
        """How well it is known: `INVENTED`, `PARTLY`, `NOT_SAID` or `SOURCED`."""
        if is_invented(self.source):
            return INVENTED
        if "invented" in self.source:
            return PARTLY
        # a choice is nobody's finding, and practice without a source is none either
        unsourced = "a choice" in self.source or "no source" in self.source
        if "from memory" in self.source or (unsourced and not cites(self.source)):
            return NOT_SAID
        return SOURCED


def assumptions_of(scenario: Scenario) -> tuple[Assumption, ...]:
    """Return every input of a scenario, defaults included."""
    sources, written = scenario.settings.sources, scenario.tree.root
    found = []
    for path, value in _leaves(in_full(scenario.settings, written)):
        if path[0] not in _WORDS:
            source = " ".join(source_of(path, sources).split()) or NO_SOURCE
            name = ".".join(map(str, path))
            found.append(Assumption(name, value, path[0] in written, source))
    return tuple(found)


def sections_of(scenario: Scenario) -> list[str]:
    """Name the sections of the file that hold inputs, and others that have a source."""
    written = [name for name in scenario.tree.root if name not in _NO_INPUTS]
    return [*written, *(name for name in scenario.settings.sources if name not in written)]


def standing_of_sections(scenario: Scenario, assumptions: Iterable[Assumption]) -> dict[str, str]:
    """Return how well each section is known; one with several standings is partly invented."""
    found: dict[str, set[str]] = {}
    for one in assumptions:
        found.setdefault(one.section, set()).add(one.standing)
    return {
        name: found[name].copy().pop() if len(found[name]) == 1 else PARTLY
        for name in sections_of(scenario)
        if name in found
    }


def _leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Yield each value of nested sections and lists under its path."""
    members: Iterable[tuple[Any, Any]]
    if isinstance(value, Mapping):
        members = value.items()
    elif isinstance(value, list | tuple):
        members = enumerate(value)
    else:
        yield path, value if isinstance(value, int | float | str | None) else str(value)
        return
    for key, inner in members:
        yield from _leaves(inner, (*path, key))
