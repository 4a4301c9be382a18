"""What stands beside a sizing: a comparison of alternatives, and a study of what matters."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from surge_sim.errors import Fault, ScenarioError
from surge_sim.purchase.folder import Folder
from surge_sim.scenario.load import in_full, load_scenario

if TYPE_CHECKING:
    import pandas as pd

    from surge_sim.purchase.sized import Sized
    from surge_sim.scenario.load import Scenario

COMPARISON, STUDY = "comparison", "study"
#: of each sort, the command that leaves it, and its tables
_SORTS = {
    COMPARISON: ("compare", ("alternatives", "differences")),
    STUDY: ("matters", ("inputs",)),
}
_RIGHT = "Name a folder that `surge-sim compare` or `surge-sim matters` has written."
#: what may differ between the two scenarios: words, and how far a search may go
_MAY_DIFFER = ("title", "question", "note", "sources", "limits")


@dataclass(frozen=True, eq=False)
class Beside:
    """A folder of `compare` or `matters`, of the scenario that was sized."""

    #: `COMPARISON` or `STUDY`
    sort: str
    folder: Path
    #: what was typed
    command: tuple[str, ...]
    summary: Mapping[str, Any] = field(repr=False)
    #: by name, as they were written
    tables: Mapping[str, pd.DataFrame] = field(repr=False)
    #: the very bytes of the files that are told from, by their path in the folder
    files: Mapping[str, bytes] = field(repr=False)

    @property
    def answer(self) -> str:
        """Its answer in a sentence or two."""
        return str(self.summary["answer"])


def read_beside(folders: Sequence[Path], sized: Sized) -> tuple[Beside | None, Beside | None]:
    """Read the folders that stand beside a sizing.

    Parameters
    ----------
    folders : sequence of Path
        One of `compare`, one of `matters`, or none, in any order.
    sized : Sized
        What they must fit.

    Returns
    -------
    comparison, study : Beside or None
        None where no such folder was named.

    Raises
    ------
    ScenarioError
        Where one is no such folder, was changed since, or is of another scenario.
    """
    found: dict[str, Beside] = {}
    for folder in folders:
        one = _read(folder, sized)
        if one.sort in found:
            command = _SORTS[one.sort][0]
            raise _fault(folder, f"is a second folder of `{command}`.", "Name one of the two.")
        found[one.sort] = one
    return found.get(COMPARISON), found.get(STUDY)


def scenario_file(sized: Sized) -> Path:
    """Return the file that says what was sized: the full form where more was asked than it says."""
    own, settings = sized.folder / "scenario" / sized.scenario.path.name, sized.scenario.settings
    written = load_scenario(own).settings
    if (written.target, written.prices) == (settings.target, settings.prices):
        return own
    return own.with_name(f"{own.stem}_in_full.yaml")


def _read(path: Path, sized: Sized) -> Beside:
    # which of the two it is, its tables say
    folder = Folder(path, "command", _RIGHT)
    sort = next(
        (one for one, (_, names) in _SORTS.items() if f"tables/{names[0]}.csv" in folder), None
    )
    if sort is None:
        raise folder.fault("manifest.json", "is of neither a comparison nor a study of inputs.")
    summary = folder.json("summary.json")
    if not isinstance(summary.get("answer"), str):
        raise folder.fault("summary.json", "holds no answer.")
    folder.read("columns.txt")
    tables = {name: folder.table(name) for name in _SORTS[sort][1]}
    if other := _differing(folder.scenario(), sized.scenario):
        right = (
            f"Give `surge-sim {_SORTS[sort][0]}` the very scenario that was sized: "
            f"{scenario_file(sized)}."
        )
        raise _fault(path, f"is of another scenario: {', '.join(other)} differ.", right)
    command = folder.manifest.get("command")
    typed = tuple(map(str, command)) if isinstance(command, list) else ()
    return Beside(sort, path, typed, summary, tables, folder.files)


def _differing(one: Scenario, other: Scenario) -> list[str]:
    """Name the sections in which two scenarios differ."""
    said, expected = (in_full(each.settings, each.tree.root) for each in (one, other))
    names = [name for name in expected if name not in _MAY_DIFFER]
    differ = [name for name in names if not _equal(said.get(name), expected[name])]
    return differ or (["files"] if dict(one.inputs) != dict(other.inputs) else [])


def _equal(one: Any, other: Any) -> bool:
    return bool(np.array_equal(one, other)) if isinstance(one, np.ndarray) else bool(one == other)


def _fault(path: Path, found: str, right: str) -> ScenarioError:
    return ScenarioError([Fault(str(path), 0, found, right)])
