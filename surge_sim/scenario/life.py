"""From a file on the life of the equipment to checked values: every fault at once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import ValidationError

from surge_sim.errors import ScenarioError, echo
from surge_sim.scenario.faults import Found, faults_of, known
from surge_sim.scenario.life_file import LifeFile
from surge_sim.scenario.load import shortened
from surge_sim.scenario.quantities import AS_FAR_AS_KNOWN
from surge_sim.scenario.yaml_text import Tree, tree_of_file


@dataclass(frozen=True, eq=False, repr=False)
class LifeInputs:
    """A checked file on the life of the equipment."""

    path: Path
    sha256: str
    file: LifeFile
    #: the very bytes, for the copy beside results
    data: bytes
    #: for the places of faults that come out with the scenario only
    tree: Tree = field(repr=False)


def load_life(path: str | Path) -> LifeInputs:
    """Read a file on the life of the equipment.

    Parameters
    ----------
    path : str or Path
        A YAML file; ``surge-sim new --life FILE`` writes one.

    Raises
    ------
    ScenarioError
        With every fault that was found.
    """
    tree, data, faults = tree_of_file(str(path), "a life", LifeFile.starter)
    faults += shortened(tree)
    try:
        file = LifeFile.model_validate(tree.root)
    except ValidationError as error:
        faults += faults_of(error, tree, tree.root, LifeFile)
        file = LifeFile.model_validate(tree.root, context=AS_FAR_AS_KNOWN)
    with known:
        faults += [tree.fault(*one) for one in _same_names(file)]
    if faults:
        raise ScenarioError(faults)
    return LifeInputs(Path(path), hashlib.sha256(data).hexdigest(), file, data, tree)


def _same_names(file: LifeFile) -> Iterator[Found]:
    """Costs of each year have different names."""
    names: list[str] = []
    for number, one in enumerate(file.yearly):
        with known:
            name = one.name.strip().lower()
            if name in names:
                found = f"is '{echo(one.name)}' again"
                yield Found(("yearly", number, "name"), found, "Give each its own name.")
            names.append(name)
