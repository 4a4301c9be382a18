"""Files that are there whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkstemp
from typing import TextIO

from surge_sim.errors import Fault, ScenarioError

#: ends the name of whatever is not whole yet
PARTIAL = ".partial"


def refused(path: Path, error: OSError, right: str) -> ScenarioError:
    """Return the fault of a place that cannot be written."""
    reason = (error.strerror or str(error)).lower()
    return ScenarioError([Fault(str(path), 0, f"cannot be written: {reason}.", right)])


def usual_mode(folder: bool = False) -> int:
    """Return the mode that a new file (or folder) has here."""
    mask = os.umask(0)
    os.umask(mask)
    return (0o777 if folder else 0o666) & ~mask


def flush_folder(folder: Path) -> None:
    """Ask the disk to keep the names in a folder; not every system can."""
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def whole_text_file(path: Path) -> Iterator[TextIO]:
    """Write a text file under another name beside it, and rename it at the end.

    Parameters
    ----------
    path : Path
        The file; one that is there already is replaced, but only by a whole one.

    Yields
    ------
    TextIO
        Where to write.

    Raises
    ------
    ScenarioError
        At once, when the place cannot be written.
    """
    right = "Name a file in a folder that you may write to."
    if path.is_dir():
        raise ScenarioError([Fault(str(path), 0, "is a folder, not a file.", right)])
    try:
        handle, name = mkstemp(prefix=f"{path.name}.", suffix=PARTIAL, dir=path.parent)
    except OSError as error:
        raise refused(path, error, right) from None
    part = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        part.chmod(usual_mode())
        part.replace(path)
        flush_folder(path.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
