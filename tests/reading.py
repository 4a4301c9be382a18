"""Count the files that a reader opens to follow a command: those of which a function is called.

``python -m tests.reading`` prints, for `run` and `size` of a shipped scenario, how many modules of
the package have a function that was called, with their lines. Calls between compiled functions
cannot be seen: all modules of the compiled engine count, and the rules that they import.
"""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.test_layout import imports_of, package_of

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "surge_sim"

#: the commands that are followed, without the place for their results
COMMANDS = {
    "run": ("run", "scenarios/rule_out_unit.yaml", "--surges", "4", "--processes", "1"),
    "size": ("size", "scenarios/rule_out_unit.yaml", "--quick", "--processes", "1"),
}

_WATCH = """
import json, sys, threading
called, inside = set(), 0
def see(frame, event, arg):
    # class bodies and tables that are made while a module is imported are no steps of the command
    global inside
    if frame.f_code.co_name == "<module>":
        inside += {"call": 1, "return": -1}.get(event, 0)
    elif event == "call" and not inside and frame.f_code.co_name[0] != "<":
        called.add(frame.f_code.co_filename)
from surge_sim.cli.main import exit_code_of
threading.setprofile(see)
sys.setprofile(see)
code = exit_code_of(sys.argv[2:])
sys.setprofile(None)
json.dump([code, sorted(called)], open(sys.argv[1], "w"))
"""


def entered(command: tuple[str, ...]) -> dict[str, int]:
    """Lines of each module of the package of which a command calls a function.

    Parameters
    ----------
    command : tuple of str
        Words after `surge-sim`.

    Returns
    -------
    dict
        From the module's path below the package to its number of lines.
    """
    with TemporaryDirectory() as folder:
        seen = Path(folder) / "seen.json"
        words = (str(seen), *command, "--out", str(Path(folder) / "out"))
        subprocess.run(
            [sys.executable, "-c", _WATCH, *words],
            cwd=ROOT, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            env={**os.environ, "MPLBACKEND": "Agg"},
        )  # fmt: skip
        code, called = json.loads(seen.read_text())
    assert code in (0, 1), f"the command ended with {code}"
    files = {Path(name) for name in called} | compiled_modules()
    return {
        path.relative_to(PACKAGE).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in sorted(files)
        if path.is_relative_to(PACKAGE)
    }


def compiled_modules() -> set[Path]:
    """Return the modules of the compiled engine, and those of the rules that it imports."""
    own = set((PACKAGE / "engine" / "compiled").glob("[!_]*.py"))
    names = {
        name
        for path in own
        for _, name in imports_of(ast.parse(path.read_text(encoding="utf-8")), package_of(path))
    }
    found = {ROOT.joinpath(*name.split(".")).with_suffix(".py") for name in names}
    return own | {path for path in found if path.is_file() and "equipment" in path.parts}


def main() -> None:
    """Print the modules of each command."""
    for name, command in COMMANDS.items():
        modules = entered(command)
        print(f"{name}: {len(modules)} modules, {sum(modules.values()):,} lines")
        for path, lines in modules.items():
            print(f"  {lines:5}  {path}")


if __name__ == "__main__":
    main()
