"""Compiled code is kept from one run to the next, where nobody else could put code of theirs.

It is one file, named by a digest of all the sources that the code was made from (numba's own
cache looks at one source only, and would run old code after a rule has changed). A checksum
stands in front, so that a damaged file is compiled anew. What cannot be read or written safely
is not kept: that costs the time to compile, nothing else.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

import llvmlite
import numba
from llvmlite import binding

if sys.platform != "win32":
    import fcntl

_SOURCES = ("engine/**/*.py", "equipment/**/*.py", "units.py")
_CHECKSUM = 32
#: names the folder where numba keeps code; ours goes there too
_PLACE = "NUMBA_CACHE_DIR"
#: what this process holds while it compiles
_lock: dict[Path, int] = {}


def digest() -> str:
    """Return what names the code: its sources, and the compiler and processor that it is for."""
    package = Path(__file__).parents[2]
    machine = binding.get_host_cpu_name(), binding.get_host_cpu_features().flatten()
    # such as NUMBA_BOUNDSCHECK
    orders = sorted((k, v) for k, v in os.environ.items() if k.startswith("NUMBA_") and k != _PLACE)
    for_whom = (numba.__version__, llvmlite.__version__, sys.version, machine, orders)
    found = hashlib.sha256(repr(for_whom).encode())
    for pattern in _SOURCES:
        for source in sorted(package.glob(pattern)):
            found.update(source.read_bytes())
    return found.hexdigest()[:16]


@lru_cache(maxsize=1)
def _name() -> str:
    """Return the digest of when it was first asked for; what is loaded may change on the disk."""
    return digest()


def folders() -> Iterator[Path]:
    """Yield where code may be kept: the user's cache, and else a folder of temporary files."""
    named = os.environ.get(_PLACE) or os.environ.get("XDG_CACHE_HOME")
    # without a home "~" stays as it is
    root = Path(named or Path(os.path.expanduser("~"), ".cache"))
    if root.is_absolute():
        yield root / "surge_sim"
    user = getattr(os, "geteuid", lambda: "user")()
    try:
        yield Path(tempfile.gettempdir()).absolute() / f"surge_sim-{user}"
    except FileNotFoundError:
        # there is no place for temporary files either
        return


def is_safe(path: Path) -> bool:
    """Say whether only this user and the administrator can change what lies at a path.

    Each folder above it must be theirs too, and each link on the way: whoever can rename a folder
    can put another in its place. Where all may write, as among temporary files, a folder of this
    user is safe if only its owner may rename it.

    Parameters
    ----------
    path : Path
        Absolute; what is not there yet is as safe as the folder above it.
    """
    if os.name != "posix":
        return True
    try:
        found = path.lstat()
    except FileNotFoundError:
        return is_safe(path.parent)
    if found.st_uid not in (0, os.geteuid()):
        return False
    if stat.S_ISLNK(found.st_mode):
        # a link in a circle leads nowhere
        return path.exists() and is_safe(path.parent) and is_safe(path.parent / path.readlink())
    if found.st_mode & 0o022 and not found.st_mode & stat.S_ISVTX:
        return False
    return path == path.parent or is_safe(path.parent)


def _own_folder(folder: Path) -> bool:
    """Say whether a folder is there, safe, and not one where all may write."""
    with suppress(OSError):
        return folder.is_dir() and is_safe(folder) and not folder.stat().st_mode & 0o022
    return False


def read() -> bytes | None:
    """Return the code that was kept, if it is whole."""
    name = _name()
    for folder in folders():
        with suppress(OSError):
            path = folder / name
            ordinary = stat.S_ISREG(path.lstat().st_mode)
            if not ordinary or not _own_folder(folder) or not is_safe(path):
                continue
            data = path.read_bytes()
            if hashlib.sha256(data[_CHECKSUM:]).digest() == data[:_CHECKSUM]:
                return data[_CHECKSUM:]
    return None


def _made(folder: Path) -> bool:
    """Make a folder for this user alone, unless it is there; say whether it is safe."""
    if not is_safe(folder):
        return False
    for parent in reversed((folder, *folder.parents)):
        if not parent.is_dir():
            parent.mkdir(mode=0o700, exist_ok=True)
    return _own_folder(folder)


def begin() -> None:
    """Wait for another process that compiles the same; what it kept is there afterwards.

    The lock is the process's until `end`, and the system takes it from one that is killed. Where
    none can be had, each compiles for itself.
    """
    if sys.platform == "win32" or _lock:
        return
    for folder in folders():
        with suppress(OSError):
            if not _made(folder):
                continue
            path = folder / f"{_name()}.lock"
            handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW, 0o600)
            fcntl.flock(handle, fcntl.LOCK_EX)
            _lock[path] = handle
            return


def end() -> None:
    """Let others go on: the code is kept, or cannot be."""
    for path, handle in _lock.items():
        with suppress(OSError):
            path.unlink()
        os.close(handle)
    _lock.clear()


def write(code: bytes) -> None:
    """Keep the code in the first place where that can be done; a full disk is no reason to stop."""
    for folder in folders():
        part = None
        try:
            if not _made(folder):
                continue
            handle, part = tempfile.mkstemp(suffix=".partial", dir=folder)
            with os.fdopen(handle, "wb") as file:
                file.write(hashlib.sha256(code).digest() + code)
            os.replace(part, folder / _name())
            # of runs that were killed while they wrote
            for left in folder.glob("*.partial"):
                left.unlink()
            return
        except OSError:
            continue
        finally:
            if part is not None:
                Path(part).unlink(missing_ok=True)


def is_cached() -> bool:
    """Whether compiled code of these very sources has been kept by an earlier run."""
    return read() is not None
