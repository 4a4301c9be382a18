"""The compiled engine: the reference engine's steps over arrays, compiled by numba.

Compiled code is kept in a folder named by a digest of the sources that it was made from: numba
itself looks only at one file, and would run old code after a rule has changed.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

import numba

_SOURCES = ("engine/**/*.py", "equipment/**/*.py", "demand/trace.py", "units.py")


def _digest() -> str:
    """Digest of every source that compiled code may come from."""
    package = Path(__file__).parents[2]
    digest = hashlib.sha256(numba.__version__.encode())
    for pattern in _SOURCES:
        for source in sorted(package.glob(pattern)):
            digest.update(source.read_bytes())
    return digest.hexdigest()[:16]


def _writable(folder: Path) -> bool:
    """Whether files can be written there; makes the folder."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _cache_folder() -> Path | None:
    """Folder for compiled code: the user's cache, else a temporary one, else none."""
    named = numba.config.CACHE_DIR
    home = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    user = getattr(os, "getuid", lambda: "user")()
    for root in (named or home, os.path.join(tempfile.gettempdir(), f"surge_sim-{user}")):
        folder = Path(root) / "surge_sim" / _digest()
        if _writable(folder):
            return folder
    return None


#: where compiled code is kept; None on a machine where nothing can be written
CACHE_FOLDER = _cache_folder()
if CACHE_FOLDER is not None:
    numba.config.CACHE_DIR = str(CACHE_FOLDER)


def is_kept() -> bool:
    """Whether compiled code of these very sources has been kept by an earlier run."""
    return CACHE_FOLDER is not None and any(CACHE_FOLDER.rglob("*.nbi"))
