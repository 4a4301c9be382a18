"""A results folder, read back: nothing is taken that was changed since it was written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.load import load_scenario

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario

#: columns of names, which may look like numbers: ``007``
_NAMES = {"alternative": str, "input": str}
#: a larger file is none of a results folder [bytes]
_MOST_BYTES = 64_000_000


class Folder:
    """A folder that a command has written.

    Parameters
    ----------
    path : Path
        Where it is.
    sort : str
        What should have written it, for messages: ``sizing``.
    right : str
        What to do where it is none.

    Raises
    ------
    ScenarioError
        Where it has no manifest, or one without checksums; by its methods where a file is not as
        it was written.
    """

    def __init__(self, path: Path, sort: str, right: str) -> None:
        self.path, self._sort, self._right = path, sort, right
        #: the very bytes of the files that were read, by their path in the folder
        self.files: dict[str, bytes] = {}
        self.manifest = self._object("manifest.json", self._bytes("manifest.json", None))
        sums = self.manifest.get("sha256")
        if not isinstance(sums, dict):
            raise self.fault("manifest.json", "has no checksums of the folder's files.")
        self._sums: Mapping[str, Any] = sums

    def __contains__(self, name: str) -> bool:
        """Whether the folder was written with a file of that name."""
        return name in self._sums

    def read(self, name: str) -> bytes:
        """Read a file as it was written, and keep it."""
        self.files[name] = self._bytes(name, self._sums)
        return self.files[name]

    def json(self, name: str) -> Mapping[str, Any]:
        """Read a JSON object, and keep it."""
        return self._object(name, self.read(name))

    def table(self, name: str) -> pd.DataFrame:
        """Read ``tables/<name>.csv``, and keep it."""
        # no number of digits is lost, and no text is taken for a number, there or missing
        return pd.read_csv(
            BytesIO(self.read(f"tables/{name}.csv")), keep_default_na=False, na_values=[""],
            float_precision="round_trip", dtype=_NAMES,
        )  # fmt: skip

    def scenario(self) -> Scenario:
        """Load the copy of the scenario that the folder holds."""
        told, copies = self.manifest.get("scenario"), self.manifest.get("copies")
        name = told.get("name") if isinstance(told, dict) else None
        own = f"scenario/{name}.yaml"
        if not isinstance(copies, dict) or own not in copies.values():
            raise self.fault("manifest.json", "names no copy of the scenario.")
        for copy in {own, *map(str, copies.values())}:
            self._bytes(copy, self._sums)
        return load_scenario(self.path / own)

    def fault(self, name: str, found: str) -> ScenarioError:
        """Return what is wrong with a file of the folder."""
        return ScenarioError([Fault(str(self.path / name), 0, found, self._right)])

    def _bytes(self, name: str, sums: Mapping[str, Any] | None) -> bytes:
        """Read a file of the folder as it was written; without `sums`, as it is."""
        inside, path = PurePosixPath(name), self.path / name
        if inside.is_absolute() or ".." in inside.parts or "\\" in name:
            raise self.fault("manifest.json", "names a file outside the folder.")
        try:
            if not path.resolve().is_relative_to(self.path.resolve()):
                raise self.fault(name, "is a link that leads out of the folder.")
            if path.stat().st_size > _MOST_BYTES:
                raise self.fault(name, f"is too large for a file of a {self._sort}.")
            data = path.read_bytes()
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise self.fault(name, f"cannot be read: {reason}.") from None
        if sums is not None and hashlib.sha256(data).hexdigest() != sums.get(name):
            raise self.fault(name, f"is not as the {self._sort} wrote it: its checksum differs.")
        return data

    def _object(self, name: str, data: bytes) -> Mapping[str, Any]:
        try:
            found = json.loads(data)
        except (ValueError, RecursionError):
            found = None
        if not isinstance(found, dict):
            raise self.fault(name, "is no JSON object.")
        return found
