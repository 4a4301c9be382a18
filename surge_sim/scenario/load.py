"""From a file to a checked scenario: every fault at once, with its line."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.randomness import Sample
from surge_sim.scenario.advice import warnings_of
from surge_sim.scenario.changes import with_changes
from surge_sim.scenario.checks import found_between
from surge_sim.scenario.faults import faults_of
from surge_sim.scenario.files import FileReader
from surge_sim.scenario.limits import MOST_CLASSES, MOST_LISTED
from surge_sim.scenario.quantities import AS_FAR_AS_KNOWN
from surge_sim.scenario.ranges import Range, find_ranges, is_range, with_values
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.text_file import cleaned_text
from surge_sim.scenario.timeline import with_times_after_start
from surge_sim.scenario.yaml_text import Path as Place
from surge_sim.scenario.yaml_text import Tree, tree_of_file, tree_of_text, yaml_of

#: draws of the ranges that are tried when a scenario is read
TRIED_DRAWS = 64


@dataclass(frozen=True, eq=False, repr=False)
class Scenario:
    """One scenario, checked; can be sent to another process.

    ``settings`` holds every range at its central value: likely, or the middle of low and high.
    """

    name: str
    path: Path
    sha256: str
    settings: Settings
    #: inputs that are not known exactly
    ranges: tuple[Range, ...] = ()
    #: what a planner should look at; the scenario can be used all the same
    warnings: tuple[str, ...] = ()
    #: the very bytes of the file, for the copy beside results; not sent to other processes
    data: bytes = b""
    #: other files that the scenario reads: name as written -> sha256
    inputs: Mapping[str, str] = field(default_factory=dict)
    #: their bytes, for copies beside results; not sent to other processes
    input_bytes: Mapping[str, bytes] = field(default_factory=dict)
    tree: Tree = field(default_factory=lambda: Tree({}))
    #: the tree's root with the contents of other files in place
    root: Mapping[str, Any] = field(default_factory=dict)

    def __repr__(self) -> str:
        """Return what it is and where to look on, in a few lines."""
        changes = echo(", ".join(self.tree.changes), 200)
        lines = [
            f"Scenario {self.name}: {echo(self.settings.title, 200)}",
            f"Other values than in the file: {changes}" if changes else "",
            f"Uncertain inputs: {len(self.ranges)}; warnings: {len(self.warnings)}",
            "See settings, ranges, warnings and full_form(); changed({...}) makes another.",
        ]
        return "\n".join(line for line in lines if line)

    @property
    def has_ranges(self) -> bool:
        """Whether any input is drawn anew for each surge."""
        return bool(self.ranges)

    def changed(self, changes: Mapping[str, Any]) -> Scenario:
        """Return another scenario with some values changed, checked like a file.

        Parameters
        ----------
        changes : mapping of str to value
            By dotted name, as the full form has them: ``cleaning.by``,
            ``cleaning.crew.0.cleaners`` (lists count from 0). Values are what a file would hold:
            text with its unit, numbers, lists, mappings; None for what is not there.

        Returns
        -------
        Scenario
            It is recorded beside results like a file with these values in it.

        Raises
        ------
        ScenarioError
            With every fault that was found, each with its dotted name.
        """
        tree = self.tree
        file = tree.file if tree.changes else f"{tree.file}, changed"
        root, faults = with_changes(tree.root, in_full(self.settings, tree.root), changes)
        if faults:
            raise ScenarioError([replace(one, file=file) for one in faults])
        names = tuple(dict.fromkeys([*tree.changes, *changes]))
        head = echo(f"# {self.path.name} with other values for {', '.join(names)}", 4_000)
        data = f"{head}\n{yaml_of(root)}".encode()
        return _checked(Tree(root, file, changes=names), [], self.path, data, self.input_bytes)

    def settings_for(self, seed: int = 1, sample: int = Sample.RUN, surge: int = 0) -> Settings:
        """Return the settings of one surge, each range drawn once.

        The same object as ``settings`` when nothing is uncertain.
        """
        if not self.ranges:
            return self.settings
        return self.settings_with({one: one.drawn(seed, int(sample), surge) for one in self.ranges})

    def settings_with(
        self, values: Mapping[Range, float], known: Mapping[str, Any] = MappingProxyType({})
    ) -> Settings:
        """Return the settings with a value for each range; sections without one are kept.

        Parameters
        ----------
        values : mapping of Range to float
            In the units used inside.
        known : mapping of str to value
            Sections as they are read with these values, by their names: a section is what takes
            longest to read.
        """
        drawn_in = {one.path[0] for one in values}.difference(known)
        root = {
            key: raw if key in drawn_in else known.get(key, getattr(self.settings, key))
            for key, raw in self.root.items()
        }
        to_read = {one: value for one, value in values.items() if one.path[0] in drawn_in}
        settings, faults = _read(root, to_read, self.tree)
        if faults:
            # a file is tried at many draws when it is read; the rare one beyond them is told here
            drawn = ", ".join(f"{one.name} = {value:g}" for one, value in values.items())
            right = f"\n  This came of {drawn}: narrow the ranges."
            raise ScenarioError([replace(one, right=one.right + right) for one in faults])
        return settings

    def full_form(self) -> str:
        """Write the scenario as YAML with every default filled in."""
        return yaml_of(in_full(self.settings, self.tree.root))

    def __getstate__(self) -> dict[str, Any]:
        """Leave the bytes of files behind: workers need the arrays only."""
        return {**self.__dict__, "data": b"", "input_bytes": {}}


def load_scenario(path: str | Path) -> Scenario:
    """Read a scenario file.

    Parameters
    ----------
    path : str or Path
        A YAML file; other files that it names are looked for beside it.

    Returns
    -------
    Scenario
        Checked, with every default filled in.

    Raises
    ------
    ScenarioError
        With every fault that was found.
    """
    tree, data, faults = tree_of_file(str(path), "a scenario", Settings.starter)
    return _checked(tree, faults, Path(path), data, {})


def scenario_from_text(
    text: str, name: str = "scenario", folder: str | Path = Path(".")
) -> Scenario:
    """Read a scenario from text; files that it names are looked for in `folder`."""
    path = Path(folder) / f"{name}.yaml"
    tree, faults = tree_of_text(*cleaned_text(text, path.name), path.name)
    return _checked(tree, faults, path, text.encode("utf-8", "replace"), {})


def shortened(tree: Tree) -> list[Fault]:
    """Cut lists and sections that are too long, and tell of them: the rest is judged as usual."""
    faults: list[Fault] = []
    looked_at: list[tuple[Place, Any]] = [((), tree.root)]
    while looked_at:
        place, value = looked_at.pop()
        if not isinstance(value, dict | list):
            continue
        most = MOST_CLASSES if place in (("classes",), ("roles",)) else MOST_LISTED
        if len(value) > most:
            found = f"has {len(value):,} items"
            right = f"Use {most:,} at most; long lists of times belong in a file."
            faults.append(tree.fault(place or ("the file",), found, right))
            for name in list(value)[most:] if isinstance(value, dict) else ():
                del value[name]
            if isinstance(value, list):
                del value[most:]
        members = value.items() if isinstance(value, dict) else enumerate(value)
        looked_at += [((*place, name), member) for name, member in members]
    return faults


def _checked(
    tree: Tree, faults: list[Fault], path: Path, data: bytes, inputs: Mapping[str, bytes]
) -> Scenario:
    """Check what is written, of which the form has these faults, and make a scenario of it.

    `data` is its text, for the copy beside results; `inputs` are other files that are known
    already, by their names as written.
    """
    faults = faults + shortened(tree)
    root, time_faults = with_times_after_start(tree)
    reader = FileReader(path.parent, tree, inputs)
    root = reader.fill(root)
    ranges, range_faults = find_ranges(root, tree)
    settings, setting_faults = _read(root, {one: one.central for one in ranges}, tree)
    faults += time_faults + range_faults + setting_faults
    if (rows := reader.log(settings)) is not None:
        root = {**root, "entries": {**root["entries"], "rows": rows}}
        entries = settings.entries and settings.entries.model_copy(update={"rows": rows})
        settings = settings.model_copy(update={"entries": entries})
    faults += reader.faults
    faults += _faults_of_draws(root, ranges, tree, faults)
    if faults:
        raise ScenarioError(faults)
    return Scenario(
        name=path.stem,
        path=path,
        sha256=hashlib.sha256(data).hexdigest(),
        data=data,
        settings=settings,
        ranges=tuple(ranges),
        warnings=tuple(reader.warnings + warnings_of(settings, tree)),
        inputs=reader.sha256,
        input_bytes=reader.data,
        tree=tree,
        root=root,
    )


def _read(
    root: Mapping[str, Any], values: Mapping[Range, float], tree: Tree
) -> tuple[Settings, list[Fault]]:
    """Read settings with a value for each range; with UNKNOWN in them where they are faulty.

    `root` has the contents of files in place; `tree` is what was written, for the places of faults.
    """
    tried = with_values(root, values)
    try:
        settings, faults = Settings.model_validate(tried), []
    except ValidationError as error:
        faults = faults_of(error, tree, tried)
        settings = Settings.model_validate(tried, context=AS_FAR_AS_KNOWN)
    return settings, faults + [tree.fault(*one) for one in found_between(settings)]


def _faults_of_draws(
    root: Mapping[str, Any], ranges: list[Range], tree: Tree, known: list[Fault]
) -> list[Fault]:
    """Read the scenario with all low, all high and many drawn values: all must be usable."""
    chance = random.Random(0)  # not a draw of any surge: places at which to look
    trials = [{one: one.at(end) for one in ranges} for end in (0.0, 1.0)]
    if not known:
        trials += [{one: one.at(chance.random()) for one in ranges} for _ in range(TRIED_DRAWS)]
    told = {(fault.line, fault.found.split()[0]) for fault in known}
    faults: list[Fault] = []
    for values in trials if ranges else ():
        for one in _read(root, values, tree)[1]:
            place = one.line, one.found.split()[0]
            if place not in told:
                told.add(place)
                right = "\n  This is inside the ranges of the file; narrow them."
                faults.append(replace(one, right=one.right + right))
    return faults


def in_full(settings: Settings, root: Mapping[str, Any]) -> dict[str, Any]:
    """Return every setting as it is written; ranges and names of files as they stand in `root`."""
    written: dict[str, Any] = _as_written(settings.model_dump(by_alias=True), root)
    return written


def _as_written(value: Any, raw: Any) -> Any:
    """Put ranges, and files of times, back in the place of their values."""
    if is_range(raw):
        return raw
    if isinstance(raw, dict):
        of_times = isinstance(value, str) or {"shape", "values"} & set(value)
        if of_times and ("file" in raw or any(is_range(one) for one in raw.values())):
            return raw
    if isinstance(value, dict):
        inner = raw if isinstance(raw, dict) else {}
        return {key: _as_written(one, inner.get(key)) for key, one in value.items()}
    if isinstance(value, list | tuple):
        listed = raw if isinstance(raw, list) and len(raw) == len(value) else [None] * len(value)
        return [_as_written(*pair) for pair in zip(value, listed, strict=True)]
    return value
