"""What a sizing left in its folder, read back: nothing is taken that was changed since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.equipment.stock import Stock
from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.load import load_scenario
from surge_sim.sizing.items import ITEMS

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario

#: a larger file is none of a sizing [bytes]
_MOST_BYTES = 64_000_000
_RIGHT = "Name a folder that `surge-sim size FILE --out DIR` has written, or size again."
#: tables that every sizing leaves
TABLES = ("stages", "tested", "waiting_in_hand")


@dataclass(frozen=True, eq=False)
class Sized:
    """A sizing as its folder tells it."""

    folder: Path
    #: the scenario that was sized, with the target and the prices that were asked for
    scenario: Scenario = field(repr=False)
    seed: int
    #: what was typed
    command: tuple[str, ...]
    #: release that sized
    tool: str
    #: chance that all its claims hold together; None for a recorded period
    confidence: float | None
    in_hand: Stock
    proposed: Stock
    #: whether an empty store was sized instead of the stock in hand
    new: bool
    #: bounds of the least cost, and how strong that is
    least_cost: Mapping[str, Any]
    #: by name, as they were written
    tables: Mapping[str, pd.DataFrame] = field(repr=False)
    #: the very bytes of the files that are told from, by their path in the folder
    files: Mapping[str, bytes] = field(repr=False)

    @property
    def place(self) -> int:
        """Row of the proposed stock in the table of stages."""
        return int(self.tables["stages"]["recommended"].to_numpy().argmax())

    @property
    def same_surges(self) -> int:
        """Number of surges on which all stages were played."""
        return int(self.tables["stages"]["same_surges"].iloc[0])


def read_sized(folder: Path) -> Sized:
    """Read the folder of a sizing.

    Parameters
    ----------
    folder : Path
        What ``surge-sim size`` wrote.

    Raises
    ------
    ScenarioError
        Where it is no such folder, is not whole, or was changed since.
    """
    manifest = _json(folder, "manifest.json", _bytes(folder, "manifest.json", None))
    sums = manifest.get("sha256")
    if not isinstance(sums, dict):
        raise _fault(folder / "manifest.json", "has no checksums of the folder's files.")
    names = ["summary.json", "columns.txt", *(f"tables/{name}.csv" for name in TABLES)]
    files = {name: _bytes(folder, name, sums) for name in names}
    summary = _json(folder, "summary.json", files["summary.json"])
    tables = {
        # no number of digits is lost, and no text is taken for a number that is missing
        name: pd.read_csv(
            BytesIO(files[f"tables/{name}.csv"]), keep_default_na=False, na_values=[""],
            float_precision="round_trip",
        )
        for name in TABLES
    }  # fmt: skip
    scenario = _scenario(folder, manifest, sums)
    try:
        sized = Sized(
            folder=folder,
            scenario=scenario,
            seed=int(summary["seed"]),
            command=tuple(map(str, manifest["command"])),
            tool=str(manifest["tool"]),
            confidence=summary["confidence"],
            in_hand=_stock(summary["in_hand"]),
            proposed=_stock(summary["recommended"]),
            new=bool(summary["empty_store"]),
            least_cost=dict(summary["least_cost"]),
            tables=tables,
            files=files,
        )
        if not tables["stages"]["recommended"].any():
            raise KeyError("recommended")
    except (KeyError, TypeError, ValueError):
        # of a run, a comparison, or another release
        raise _fault(folder / "summary.json", "is no summary of a sizing.") from None
    return sized


def _stock(told: Mapping[str, Any]) -> Stock:
    return Stock(**{item.field: int(told[item.field]) for item in ITEMS.values()})


def _scenario(folder: Path, manifest: Mapping[str, Any], sums: Mapping[str, Any]) -> Scenario:
    """Load the copy of the scenario that was sized."""
    told, copies = manifest.get("scenario"), manifest.get("copies")
    name = told.get("name") if isinstance(told, dict) else None
    own = f"scenario/{name}.yaml"
    if not isinstance(copies, dict) or own not in copies.values():
        raise _fault(folder / "manifest.json", "names no copy of the scenario.")
    for copy in {own, *map(str, copies.values())}:
        _bytes(folder, copy, sums)
    return load_scenario(folder / own)


def _bytes(folder: Path, name: str, sums: Mapping[str, Any] | None) -> bytes:
    """Read a file of the folder as it was written; without `sums`, as it is."""
    inside, path = PurePosixPath(name), folder / name
    if inside.is_absolute() or ".." in inside.parts or "\\" in name:
        raise _fault(folder / "manifest.json", "names a file outside the folder.")
    try:
        if not path.resolve().is_relative_to(folder.resolve()):
            raise _fault(path, "is a link that leads out of the folder.")
        if path.stat().st_size > _MOST_BYTES:
            raise _fault(path, "is too large for a file of a sizing.")
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise _fault(path, f"cannot be read: {reason}.") from None
    if sums is not None and hashlib.sha256(data).hexdigest() != sums.get(name):
        raise _fault(path, "is not as the sizing wrote it: its checksum differs.")
    return data


def _json(folder: Path, name: str, data: bytes) -> Mapping[str, Any]:
    try:
        found = json.loads(data)
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, dict):
        raise _fault(folder / name, "is no JSON object.")
    return found


def _fault(path: Path, found: str) -> ScenarioError:
    return ScenarioError([Fault(str(path), 0, found, _RIGHT)])
