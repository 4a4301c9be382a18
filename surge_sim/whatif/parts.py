"""Results of a design that is not done yet, kept so that a stop loses next to nothing.

The folder holds one file for each block of surges that was played: named arrays of
`outcome.ROW`, one for each alternative, under the key of its plays (`Design.key_of`). Which design
they were made for does not matter, so one that gained an alternative, or wants more surges, plays
only what is missing. Each file is written under another name, then renamed; one
that cannot be read counts as missing. numpy's format with checksums of the archive, no pickles.

The numbers are whole and belong to a surge, so it makes no difference to any result when, in which
order or by which process they were made.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import tempfile
import zipfile
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from surge_sim.whatif.outcome import ROW, Rows

#: surges of a block: what is under way when a run is stopped is played again
BLOCK = 10


@dataclass
class Parts:
    """A folder of results; without one they are kept in memory only."""

    folder: Path | None = None
    #: rows by block and key of the alternative
    known: dict[tuple[int, str], Rows] = field(default_factory=dict, repr=False)
    #: files that hold them
    _files: set[Path] = field(default_factory=set, repr=False)

    def find(self, keys: Iterable[str]) -> None:
        """Read what the folder holds of alternatives with these keys."""
        wanted = set(keys)
        for path in sorted(self.folder.glob("block_*.npz")) if self.folder else ():
            for key, rows in _read(path).items():
                place = int(rows["surge"][0]) // BLOCK, key
                if key in wanted:
                    self._files.add(path)
                    if len(rows) > len(self.known.get(place, ())):
                        self.known[place] = rows

    def keep(self, block: int, rows: Mapping[str, Rows]) -> None:
        """Keep the rows of one block of surges, by key of the alternative."""
        self.known.update({(block, key): mine for key, mine in rows.items()})
        short = hashlib.sha256(" ".join(sorted(rows)).encode()).hexdigest()[:8]
        name = f"block_{block:06d}_{short}.npz"
        self._write(name, lambda stream: np.savez(stream, **rows))  # type: ignore[arg-type]

    def text(self, key: str) -> dict[str, Any] | None:
        """Return plain values that were kept under a key; None where there are none."""
        if self.folder is None:
            return None
        path = self.folder / f"{key}.json"
        try:
            found: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        self._files.add(path)
        return found

    def keep_text(self, key: str, said: Mapping[str, Any]) -> None:
        """Keep plain values under a key."""
        self._write(f"{key}.json", lambda stream: stream.write(json.dumps(said).encode()))

    def _write(self, name: str, fill: Callable[[BinaryIO], object]) -> None:
        """Write a file of the folder under another name, then rename it."""
        if self.folder is None:
            return
        self.folder.mkdir(parents=True, exist_ok=True)
        handle, part = tempfile.mkstemp(".part", "new_", self.folder)
        try:
            with os.fdopen(handle, "wb") as stream:
                fill(stream)
            os.replace(part, self.folder / name)
        except BaseException:
            Path(part).unlink(missing_ok=True)
            raise
        self._files.add(self.folder / name)

    def forget(self) -> None:
        """Remove the files that were read or written: the answer is out."""
        for path in self._files:
            path.unlink(missing_ok=True)
        if self.folder is not None:
            with suppress(OSError):
                self.folder.rmdir()


def unfinished(place: Path, name: str) -> Path:
    """Return the folder for parts of unfinished designs of a scenario, beside its results."""
    plain = re.sub(r"[^\w.-]+", "_", name).strip("._") or "scenario"
    return place / f"{plain}_unfinished"


def _read(path: Path) -> dict[str, Rows]:
    """Read one file; nothing where it is damaged or of another release."""
    try:
        with np.load(path, allow_pickle=False) as found:
            rows = {key: found[key] for key in found.files}
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        return {}
    good = all(one.dtype == ROW and one.shape == (len(one),) and len(one) for one in rows.values())
    return rows if good else {}
