"""What stands beside a sizing: alternatives, what matters, and a sizing for more patients."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from surge_sim.errors import Fault, ScenarioError
from surge_sim.purchase.demand import MORE, ForMore, higher_demand
from surge_sim.purchase.folder import Folder
from surge_sim.purchase.sized import read_sized
from surge_sim.scenario.load import in_full, load_scenario
from surge_sim.whatif.usual import NotTried, more_patients

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
#: a table that only a sizing leaves
_OF_SIZING = "tables/stages.csv"
_RIGHT = (
    "Name a folder that `surge-sim compare`, `surge-sim matters`, or `surge-sim size` with more "
    "patients has written."
)
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


class AllBeside(NamedTuple):
    """The folders that stand beside a sizing; None where none was named."""

    comparison: Beside | None = None
    study: Beside | None = None
    more: ForMore | None = None


#: none was named
NONE_BESIDE = AllBeside()


def read_beside(folders: Sequence[Path], sized: Sized) -> AllBeside:
    """Read the folders that stand beside a sizing.

    Parameters
    ----------
    folders : sequence of Path
        One of `compare`, one of `matters`, one of `size` with more patients, or none, in any
        order.
    sized : Sized
        What they must fit.

    Raises
    ------
    ScenarioError
        Where one is no such folder, was changed since, or is of another scenario.
    """
    found, more = dict[str, Beside](), None
    for folder in folders:
        written = Folder(folder, "command", _RIGHT)
        if _OF_SIZING in written:
            if more is not None:
                raise _fault(folder, "is a second folder of `size`.", "Name one of the two.")
            more = _for_more(folder, sized)
            continue
        one = _read(written, sized)
        if one.sort in found:
            command = _SORTS[one.sort][0]
            raise _fault(folder, f"is a second folder of `{command}`.", "Name one of the two.")
        found[one.sort] = one
    return AllBeside(found.get(COMPARISON), found.get(STUDY), more)


def scenario_file(sized: Sized) -> Path:
    """Return the file that says what was sized: the full form where more was asked than it says."""
    own, settings = sized.folder / "scenario" / sized.scenario.path.name, sized.scenario.settings
    written = load_scenario(own).settings
    if (written.target, written.prices) == (settings.target, settings.prices):
        return own
    return own.with_name(f"{own.stem}_in_full.yaml")


def _read(folder: Folder, sized: Sized) -> Beside:
    # which of the two it is, its tables say
    sort = next(
        (one for one, (_, names) in _SORTS.items() if f"tables/{names[0]}.csv" in folder), None
    )
    if sort is None:
        raise folder.fault("manifest.json", "is of no comparison, study of inputs or sizing.")
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
        raise _fault(folder.path, f"is of another scenario: {', '.join(other)} differ.", right)
    command = folder.manifest.get("command")
    typed = tuple(map(str, command)) if isinstance(command, list) else ()
    return Beside(sort, folder.path, typed, summary, tables, folder.files)


def _for_more(path: Path, sized: Sized) -> ForMore:
    """Read a sizing with more patients, which differs in nothing else."""
    tried = more_patients(sized.scenario.settings, MORE[0])
    if isinstance(tried, NotTried):
        found = f"is a sizing, and there are no more patients to size for: {tried.reason}."
        raise _fault(path, found, "Leave it out.")
    expected = dict(zip(MORE, higher_demand(sized.scenario), strict=True))
    more = read_sized(path)
    asked = {"target": sized.scenario.settings.target, "prices": sized.scenario.settings.prices}
    other = list(_asked_otherwise(more, sized))
    differing: dict[int, list[str]] = {}
    for per_cent, one in expected.items():
        settings = one.settings.model_copy(update=asked)
        differing[per_cent] = _differing(more.scenario, replace(one, settings=settings)) + other
        if not differing[per_cent]:
            return ForMore(per_cent, more)
    right = (
        f"Size a copy of {scenario_file(sized)} in which only more patients come, with the options "
        "of this sizing: `surge-sim case` prints the commands below 'What the planner can add'."
    )
    if not _differing(more.scenario, sized.scenario):
        raise _fault(path, "is a sizing of the scenario without more patients.", right)
    names = ", ".join(min((len(one), one) for one in differing.values())[1])
    raise _fault(path, f"is a sizing of something else: {names} differ.", right)


def _asked_otherwise(one: Sized, other: Sized) -> Iterator[str]:
    """Yield what two sizings were asked for in different ways, beside their scenarios."""
    if (one.in_hand, one.new) != (other.in_hand, other.new):
        yield "stock in hand"
    if set(one.searched) != set(other.searched):
        yield "items that may be bought"
    if one.confidence != other.confidence:
        yield "confidence"


def _differing(one: Scenario, other: Scenario) -> list[str]:
    """Name the sections in which two scenarios differ."""
    said, expected = (in_full(each.settings, each.tree.root) for each in (one, other))
    for each in (said, expected):
        # the same changes in another order are the same
        each["timeline"] = sorted(each["timeline"], key=str)
    names = [name for name in expected if name not in _MAY_DIFFER]
    differ = [name for name in names if not _equal(said.get(name), expected[name])]
    return differ or (["files"] if dict(one.inputs) != dict(other.inputs) else [])


def _equal(one: Any, other: Any) -> bool:
    return bool(np.array_equal(one, other)) if isinstance(one, np.ndarray) else bool(one == other)


def _fault(path: Path, found: str, right: str) -> ScenarioError:
    return ScenarioError([Fault(str(path), 0, found, right)])
