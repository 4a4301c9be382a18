"""From a file to a checked scenario: every fault at once, with its line."""

from __future__ import annotations

import hashlib
import random
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.advice import warnings_of
from surge_sim.scenario.cross import cross_faults
from surge_sim.scenario.faults import faults_of
from surge_sim.scenario.files import FileReader
from surge_sim.scenario.ranges import Range, find_ranges, values_by, with_values
from surge_sim.scenario.scenario import Scenario
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.yaml_text import MOST_BYTES, Tree, read_tree

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
        with path.open("rb") as stream:
            data = stream.read(4 * MOST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        right = "Give the path of a scenario file; `surge-sim new FILE` writes one."
        raise ScenarioError([Fault(file, 0, f"cannot be read: {reason}.", right)]) from None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        right = "Save the file as plain text in UTF-8."
        raise ScenarioError([Fault(file, line, "is not text in UTF-8.", right)]) from None
    sha256 = hashlib.sha256(data).hexdigest()
    return _scenario(text, path.stem, path, file, sha256)


def scenario_from_text(
    text: str, name: str = "scenario", folder: str | Path = Path(".")
) -> Scenario:
    """Read a scenario from text; files that it names are looked for in `folder`."""
    path = Path(folder) / f"{name}.yaml"
    sha256 = hashlib.sha256(text.encode()).hexdigest()
    return _scenario(text, name, path, path.name, sha256)


def _scenario(text: str, name: str, path: Path, file: str, sha256: str) -> Scenario:
    tree = read_tree(text, file)
    ranges, faults = find_ranges(tree, file)
    reader = FileReader(path.parent, tree, file)
    root = reader.fill(tree.root)
    faults += reader.faults
    central = with_values(root, values_by(ranges, lambda one: one.central))
    try:
        settings = Settings.model_validate(central)
    except ValidationError as error:
        # what is wrong with a range or another file is told already
        known = {fault.line for fault in faults}
        faults += [
            fault for fault in faults_of(error, tree, central, file) if fault.line not in known
        ]
        raise ScenarioError(_once(faults)) from None
    faults += cross_faults(settings, tree, file)
    if faults:
        raise ScenarioError(_once(faults))
    settings = reader.with_log(settings)
    if reader.faults:
        raise ScenarioError(_once(reader.faults))
    _try_draws(root, ranges, tree, file)
    return Scenario(
        name=name,
        path=path,
        text=text,
        sha256=sha256,
        settings=settings,
        ranges=tuple(ranges),
        warnings=tuple(reader.warnings + warnings_of(settings, tree, file)),
        inputs=reader.sha256,
        input_bytes=reader.data,
        tree=tree,
        root=root,
    )


def _once(faults: list[Fault]) -> list[Fault]:
    return list(dict.fromkeys(faults))


def _try_draws(root: dict[str, Any], ranges: list[Range], tree: Tree, file: str) -> None:
    """Read the scenario with all low, all high and many drawn values: all must be usable."""
    if not ranges:
        return
    chance = random.Random(0)  # not a draw of any surge: places at which to look
    trials = [{one: one.at(end) for one in ranges} for end in (0.0, 1.0)]
    trials += [{one: one.at(chance.random()) for one in ranges} for _ in range(TRIED_DRAWS)]
    for values in trials:
        tried = with_values(root, values)
        try:
            faults = cross_faults(Settings.model_validate(tried), tree, file)
        except ValidationError as error:
            faults = faults_of(error, tree, tried, file)
        if faults:
            right = "\n  This is inside the ranges of the file; narrow them."
            raise ScenarioError(
                [Fault(one.file, one.line, one.found, one.right + right) for one in faults]
            )
