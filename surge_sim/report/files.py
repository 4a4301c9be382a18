"""Files that are there whole or not at all.

What is not whole yet stands beside its place under a name of its own, and is locked for as long
as this process lives. The system takes the lock away from a process that is killed, so the next
run knows what is left of dead ones, and clears it away.
"""

from __future__ import annotations

import os
import shutil
import stat
import sys
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from glob import escape
from pathlib import Path
from tempfile import mkdtemp, mkstemp
from typing import TextIO

from surge_sim.errors import Fault, ScenarioError

if sys.platform != "win32":
    import fcntl

#: ends the name of whatever is not whole yet
PARTIAL = ".surge-sim.partial"

#: what this process has begun
_begun: list[Path] = []
#: folders made on the way to it, the innermost first, that are removed where they stay empty
_made: list[Path] = []

_RIGHT = "Name a new file, or one that may be replaced, in a folder that you may write to."


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
def begun(path: Path, folder: bool = False, alone: bool = True) -> Iterator[Path]:
    """Give an empty file or folder beside a path, to be renamed to it when it is whole.

    What is still there under its first name at the end of the block is removed, with the folders
    on the way to it that were made for it and are empty.

    Parameters
    ----------
    path : Path
        Where it will be.
    folder : bool
        Whether it is a folder.
    alone : bool
        Whether no other run may be writing the same.

    Raises
    ------
    ScenarioError
        Where another run is writing the same; both are refused if they begin at the same instant.
    """
    with ExitStack() as stack:
        if folder:
            stack.enter_context(_parents(path))
        clear_dead(path.parent)
        prefix, first = f"{path.name}.", ".partial"
        if folder:
            made = mkdtemp(first, prefix, path.parent)
        else:
            handle, made = mkstemp(first, prefix, path.parent)
            os.close(handle)
        # it gets its name when it is locked: until then nobody may take it for a dead run's
        part = Path(made.removesuffix(first) + PARTIAL)
        lock = _locked(Path(made))
        if lock is not None:
            stack.callback(os.close, lock)
        _begun.append(part)
        stack.callback(_begun.remove, part)
        stack.callback(_remove, part)
        os.rename(made, part)
        # looked for when its own can be seen, so that of two runs never both go on
        others = [one for one in path.parent.glob(_named_like(path)) if one != part]
        if alone and others and lock is not None:
            right = f"Wait for it, or name another place. If no run is at work, remove {others[0]}."
            raise ScenarioError([Fault(str(path), 0, "is being written by another run.", right)])
        yield part


@contextmanager
def _parents(path: Path) -> Iterator[None]:
    """Make the folders that a path lies in; those made are removed at the end if empty."""
    made = [parent for parent in path.parents if not parent.exists()]
    _made[:0] = made
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        yield
    finally:
        _remove_empty(made)
        _made[:] = [one for one in _made if one not in made]


def _named_like(path: Path) -> str:
    """Return the pattern of names that runs give to what they begin for a path."""
    return f"{escape(path.name)}.{'?' * 8}{PARTIAL}"


def clear_dead(folder: Path) -> None:
    """Remove from a folder what runs that were killed had begun there."""
    for path in folder.glob(f"*{PARTIAL}"):
        lock = _locked(path)
        if lock is not None:
            _remove(path)
            os.close(lock)


def clear_own() -> None:
    """Remove all that this process has begun: it ends at once."""
    for path in list(_begun):
        _remove(path)
    _remove_empty(_made)


def _remove_empty(folders: Sequence[Path]) -> None:
    """Take away those folders that are empty, the innermost first."""
    for folder in folders:
        with suppress(OSError):
            folder.rmdir()


def _locked(path: Path) -> int | None:
    """Lock a file or folder; None where another process holds it, or none can."""
    if sys.platform == "win32":
        return None
    with suppress(OSError):
        handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return handle
        except OSError:
            os.close(handle)
    return None


def _remove(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        with suppress(OSError):
            path.unlink()


@contextmanager
def whole_text_file(
    path: Path, inputs: Sequence[Path] = (), results: Path | None = None
) -> Iterator[TextIO]:
    """Write a text file under another name beside it, and rename it at the end.

    Parameters
    ----------
    path : Path
        The file; one that is there already is replaced, but only by a whole one.
    inputs : sequence of Path
        What this run reads, which it must not replace.
    results : Path, optional
        Folder that this run puts in its place, whole; the file must lie elsewhere.

    Yields
    ------
    TextIO
        Where to write.

    Raises
    ------
    ScenarioError
        At once, when the place cannot be written.
    """
    mode = _mode_of(path, inputs)
    with ExitStack() as stack:
        try:
            # through a link, to the file that it names
            place = path.resolve()
            if results is not None and place.is_relative_to(results.resolve()):
                found = "lies in the folder for the results, which is written as a whole."
                raise ScenarioError([Fault(str(path), 0, found, "Name a file outside it.")])
            part = stack.enter_context(begun(place))
            stream = stack.enter_context(part.open("w", encoding="utf-8", newline=""))
        except OSError as error:
            raise refused(path, error, _RIGHT) from None
        yield stream
        stream.flush()
        os.fsync(stream.fileno())
        stream.close()
        part.chmod(mode)
        part.replace(place)
        flush_folder(place.parent)


def _mode_of(path: Path, inputs: Sequence[Path]) -> int:
    """Return the mode of a file to be replaced, or of a new one; refuse what must not be."""
    try:
        there = path.stat()
    except FileNotFoundError:
        if not path.is_symlink():
            return usual_mode()
        found = "is a link that leads nowhere."
        raise ScenarioError([Fault(str(path), 0, found, _RIGHT)]) from None
    except OSError as error:
        raise refused(path, error, _RIGHT) from None
    read = [one.stat() for one in inputs if one.exists()]
    shown = [os.fstat(stream.fileno()) for stream in (sys.__stdout__, sys.__stderr__) if stream]
    found = ""
    if stat.S_ISDIR(there.st_mode):
        found = "is a folder, not a file."
    elif not stat.S_ISREG(there.st_mode):
        found = "is no ordinary file, but a device, a pipe or the like."
    elif any(os.path.samestat(there, one) for one in read):
        found = "is an input of this run, which would be replaced."
    elif any(os.path.samestat(there, one) for one in shown):
        found = "is where this run prints its answer or its progress."
    elif not os.access(path, os.W_OK):
        found = "is there and must not be written."
    if found:
        raise ScenarioError([Fault(str(path), 0, found, _RIGHT)])
    return stat.S_IMODE(there.st_mode)
