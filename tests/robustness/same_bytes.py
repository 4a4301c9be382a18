"""The same scenario with another number of processes: the same bytes."""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.conftest import plain_environment
from tests.robustness.cases import SCENARIO, Case, good_files
from tests.robustness.trial import Outcome


def same_bytes(seed: int, number: int) -> Outcome:
    """Run a good scenario with 1, 2 and 8 processes: the same results to the last byte."""
    files = good_files()[number % 2]
    first: dict[str, bytes] | None = None
    for processes in ("1", "2", "8"):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            Case(files, ()).written_to(folder)
            words = ["run", SCENARIO, "--surges", "40", "--seed", str(seed + number)]
            words += ["--out", "out", "--processes", processes, "--entries-out", "rows.csv"]
            done = subprocess.run(
                [sys.executable, "-m", "surge_sim", *words],
                cwd=folder, env=plain_environment(), capture_output=True, check=False,
            )  # fmt: skip
            if done.returncode:
                return Outcome("wrong code", str(done.returncode), done.stderr.decode())
            wrote = [*sorted((folder / "out").rglob("*")), folder / "rows.csv"]
            found = {
                str(path.relative_to(folder)): path.read_bytes()
                for path in wrote
                if path.is_file() and path.name != "manifest.json"
            }
            found["screen"] = done.stdout
            if first is None:
                first = found
            elif found != first:
                unlike = [key for key in first if found.get(key) != first[key]]
                return Outcome("other bytes", f"{processes} processes: {unlike[:3]}")
    return Outcome("same bytes")
