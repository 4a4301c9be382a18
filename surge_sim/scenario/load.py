"""From a file to a checked scenario: every fault at once, with its line."""

from __future__ import annotations

import hashlib
import random
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.advice import warnings_of
from surge_sim.scenario.cross import cross_faults
from surge_sim.scenario.faults import faults_of
from surge_sim.scenario.files import FileReader
from surge_sim.scenario.limits import MOST_SCENARIO
from surge_sim.scenario.moments import with_times_after_start
from surge_sim.scenario.quantities import AsFarAsKnown
from surge_sim.scenario.ranges import Range, find_ranges, values_by, with_values
from surge_sim.scenario.scenario import Scenario
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.text_file import cleaned_text, read_bytes, text_of, why_unreadable
from surge_sim.scenario.workload import shortened
from surge_sim.scenario.yaml_text import Tree, read_tree

#: draws of the ranges that are tried when a file is read
TRIED_DRAWS = 64


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
    path = Path(path)
    file = str(path)
    try:
        data = read_bytes(path, 4 * MOST_SCENARIO)
    except OSError as error:
        found = f"cannot be read: {why_unreadable(error)}."
        right = "Give the path of a scenario file; `surge-sim new FILE` writes one."
        raise ScenarioError([Fault(file, 0, found, right)]) from None
    text, faults = text_of(data, file)
    return _scenario(text, faults, path.stem, path, file, data)


def scenario_from_text(
    text: str, name: str = "scenario", folder: str | Path = Path(".")
) -> Scenario:
    """Read a scenario from text; files that it names are looked for in `folder`."""
    path = Path(folder) / f"{name}.yaml"
    data = text.encode("utf-8", "replace")
    cleaned, faults = cleaned_text(text, path.name)
    return _scenario(cleaned, faults, name, path, path.name, data)


def _scenario(
    text: str | None, faults: list[Fault], name: str, path: Path, file: str, data: bytes
) -> Scenario:
    if text is None:
        raise ScenarioError(faults)
    tree, form_faults = read_tree(text, file)
    faults = faults + form_faults
    if not tree.root:
        raise ScenarioError(faults)
    faults += shortened(tree, file)
    root, time_faults = with_times_after_start(tree, file)
    tree = replace(tree, root=root)
    faults += time_faults
    reader = FileReader(path.parent, tree, file)
    root = reader.fill(root)
    ranges, range_faults = find_ranges(root, tree, file)
    faults += range_faults
    settings, more = _read(root, values_by(ranges, lambda one: one.central), tree, file)
    settings = reader.with_log(settings)
    faults += more + reader.faults
    faults += _faults_of_draws(root, ranges, tree, file, faults)
    if faults:
        raise ScenarioError(faults)
    return Scenario(
        name=name,
        path=path,
        text=text,
        sha256=hashlib.sha256(data).hexdigest(),
        data=data,
        settings=settings,
        ranges=tuple(ranges),
        warnings=tuple(reader.warnings + warnings_of(settings, tree, file)),
        inputs=reader.sha256,
        input_bytes=reader.data,
        tree=tree,
        root=root,
    )


def _read(
    root: dict[str, Any], values: Mapping[Range, float], tree: Tree, file: str
) -> tuple[Settings, list[Fault]]:
    """Read settings with a value for each range; with UNKNOWN in them where they are faulty."""
    tried = with_values(root, values)
    try:
        settings, faults = Settings.model_validate(tried), []
    except ValidationError as error:
        faults = faults_of(error, tree, tried, file)
        settings = Settings.model_validate(tried, context=AsFarAsKnown(tree.lost))
    return settings, faults + cross_faults(settings, tree, file)


def _faults_of_draws(
    root: dict[str, Any], ranges: list[Range], tree: Tree, file: str, known: list[Fault]
) -> list[Fault]:
    """Read the scenario with all low, all high and many drawn values: all must be usable."""
    chance = random.Random(0)  # not a draw of any surge: places at which to look
    trials = [{one: one.at(end) for one in ranges} for end in (0.0, 1.0)]
    if not known:
        trials += [{one: one.at(chance.random()) for one in ranges} for _ in range(TRIED_DRAWS)]
    told = {(fault.line, fault.found.split()[0]) for fault in known}
    faults: list[Fault] = []
    for values in trials if ranges else ():
        for one in _read(root, values, tree, file)[1]:
            place = one.line, one.found.split()[0]
            if place not in told:
                told.add(place)
                right = "\n  This is inside the ranges of the file; narrow them."
                faults.append(replace(one, right=one.right + right))
    return faults
