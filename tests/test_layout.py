"""The shape of the project: who may import whom, how long a module is, what lies where."""

from __future__ import annotations

import ast
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conftest import ROOT

PACKAGE = ROOT / "surge_sim"
MODULES = sorted(PACKAGE.rglob("*.py"))

#: the flow; a stage imports only stages to its left, and the leaves
STAGES = (
    "scenario", "demand", "equipment", "engine", "statistics", "sizing", "whatif", "drill",
    "purchase", "report", "cli",
)  # fmt: skip
#: stages that stand side by side and do not import each other
ROOMS = ("sizing", "whatif", "drill")
LEAVES = ("units", "quantity", "errors", "randomness", "cautions", "plain")

#: libraries that have one home
HOMES = {
    "simpy": ("engine",),
    "numba": ("engine", "equipment"),
    "pydantic": ("scenario",),
    "yaml": ("scenario",),
    "dask": ("engine",),
    "distributed": ("engine",),
    "matplotlib": ("report",),
    "docx": ("report",),
    "openpyxl": ("report",),
    "click": ("cli",),
    "rich": ("cli", "report"),
}

LONGEST_MODULE = 400

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "surge_sim",
    "scenarios",
    "results",
    "tests",
}


def stage_of(path: Path) -> str:
    """First part below the package: a stage, a leaf, or a module of the package itself."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports_of(tree: ast.AST, package: str) -> Iterator[tuple[int, str]]:
    """Line and full name of each module that a module imports, inside functions too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                parent = ".".join(package.split(".")[: -node.level + 1 or None])
                name = f"{parent}.{node.module}" if node.module else parent
            else:
                name = node.module or ""
            yield node.lineno, name
            # `from surge_sim import sizing` imports a stage by its name
            if name == "surge_sim":
                for alias in node.names:
                    yield node.lineno, f"surge_sim.{alias.name}"


def wrong_arrows(source: str, stage: str, package: str) -> list[str]:
    """Imports of `source` that a module of `stage` may not have."""
    wrong = []
    for line, name in imports_of(ast.parse(source), package):
        top, *rest = name.split(".")
        if top in HOMES and stage not in HOMES[top]:
            wrong.append(f"{line}: {top} belongs in {' and '.join(HOMES[top])}")
        if top != "surge_sim" or not rest:
            continue
        target = rest[0]
        if target in LEAVES or target == "__version__" or target == stage:
            continue
        if target not in STAGES:
            wrong.append(f"{line}: {name} is neither a stage nor a leaf")
        elif stage in LEAVES:
            wrong.append(f"{line}: a leaf imports {name}")
        elif STAGES.index(target) > STAGES.index(stage):
            wrong.append(f"{line}: {stage} imports {name}, a stage to its right")
        elif {stage, target} <= set(ROOMS):
            wrong.append(f"{line}: {stage} imports {name}, a room beside it")
    return wrong


def package_of(path: Path) -> str:
    return ".".join(("surge_sim", *path.relative_to(PACKAGE).parts[:-1]))


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_imports_point_only_leftwards(path):
    stage = stage_of(path)
    if stage in ("__init__", "__main__"):
        pytest.skip("the package's front door opens every stage")
    assert stage in STAGES + LEAVES
    assert wrong_arrows(path.read_text(encoding="utf-8"), stage, package_of(path)) == []


@pytest.mark.parametrize(
    ("source", "stage"),
    [
        ("import surge_sim.sizing", "engine"),
        ("import surge_sim.sizing", "whatif"),
        ("import surge_sim.whatif", "drill"),
        ("from surge_sim.report.text import x", "demand"),
        ("from surge_sim import cli", "report"),
        ("def f():\n    from surge_sim.engine.play import play", "scenario"),
        ("from surge_sim.scenario.load import load_scenario", "units"),
        ("from ..engine import play", "demand"),
        ("import simpy", "equipment"),
        ("from matplotlib import pyplot", "statistics"),
    ],
)
def test_a_wrong_arrow_is_found(source, stage):
    assert len(wrong_arrows(source, stage, f"surge_sim.{stage}")) == 1


def circles(imports: dict[str, set[str]]) -> list[list[str]]:
    """Groups of modules of which each imports, by way of others, every other one."""
    reached = {name: _reached(name, imports) for name in imports}
    groups = {
        tuple(sorted(other for other in reached[name] if name in reached[other]))
        for name in imports
        if name in reached[name]
    }
    return [list(group) for group in sorted(groups)]


def _reached(name: str, imports: dict[str, set[str]]) -> set[str]:
    found: set[str] = set()
    left = [name]
    while left:
        new = imports.get(left.pop(), set()) - found
        found |= new
        left += new
    return found


def imported_modules(path: Path) -> set[str]:
    """Modules of the package that a module imports, inside functions and for types too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and not node.level and node.module:
            # `from surge_sim.engine import play` may name a module
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    found |= {name for _, name in imports_of(tree, package_of(path))}
    return {name for name in found if name in NAMES.values()}


#: full name of each module; the package's front door opens every stage and is left out
NAMES = {
    path: ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
    for path in MODULES
    if path.parent != PACKAGE or not path.name.startswith("__")
}


def test_no_modules_import_each_other_in_a_circle():
    assert circles({name: imported_modules(path) for path, name in NAMES.items()}) == []


def test_a_circle_of_imports_is_found():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a", "d"}, "d": set()}) == [["a", "b", "c"]]
    assert circles({"a": {"a"}}) == [["a"]]
    assert circles({"a": {"b"}, "b": set()}) == []


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_module_is_too_long(path):
    lines = len(path.read_text(encoding="utf-8").splitlines())
    assert lines <= LONGEST_MODULE, f"{lines} lines: split it by concept"


def bare_names(source: str) -> list[str]:
    """Public functions, classes and methods of a module that have no docstring."""
    bare = []

    def look(body: list[ast.stmt], prefix: str) -> None:
        for node in body:
            if not isinstance(node, ast.FunctionDef | ast.ClassDef | ast.AsyncFunctionDef):
                continue
            if node.name.startswith("_"):
                continue
            if ast.get_docstring(node) is None:
                bare.append(prefix + node.name)
            if isinstance(node, ast.ClassDef):
                look(node.body, f"{prefix}{node.name}.")

    look(ast.parse(source).body, "")
    return bare


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_public_names_have_docstrings(path):
    assert bare_names(path.read_text(encoding="utf-8")) == []


def test_a_missing_docstring_is_found():
    source = "class A:\n    'a'\n    def b(self): ...\ndef _c(): ...\ndef d(): ..."
    assert bare_names(source) == ["A.b", "d"]


def test_only_one_module_makes_random_generators():
    maker = re.compile(r"default_rng|RandomState|random\.seed|SeedSequence\(|^\s*import random\b")
    makers = [
        str(path.relative_to(PACKAGE))
        for path in MODULES
        if any(maker.search(line) for line in path.read_text(encoding="utf-8").splitlines())
    ]
    # the loader tries a scenario's ranges at fixed places; no number of it reaches a surge
    assert set(makers) - {"scenario/load.py"} == {"randomness.py"}


def tracked_files() -> list[str]:
    """Files that git knows; skips the test where there is no git or no clone."""
    try:
        listing = subprocess.run(
            ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a git clone")
    return [name for name in listing.split("\0") if name and (ROOT / name).is_file()]


def inside_the_compiler(source: str) -> bool:
    """Whether a module uses what numba and llvmlite do not promise."""
    private = (
        r"\bnumba\.(core|np)\b|from numba import (core|np)\b|llvmlite(\.| import )ir\b|\._cache\b"
    )
    return re.search(private, source) is not None


def test_only_one_module_reaches_inside_the_compiler():
    inside = [one.name for one in MODULES if inside_the_compiler(one.read_text(encoding="utf-8"))]
    assert inside == ["compiler.py"]


@pytest.mark.parametrize(
    "source", ["from numba.core import types", "from llvmlite import ir", "f._cache = None"]
)
def test_what_reaches_inside_the_compiler_is_found(source):
    assert inside_the_compiler(source)


def test_the_top_level_holds_what_is_agreed_and_no_more():
    top = {name.split("/")[0] for name in tracked_files()}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


def test_no_file_names_a_path_of_one_machine():
    # written in pieces so that this file does not name them itself
    path = re.compile(
        r"(?<![\w./~-])/(?:" + "|".join(("home", "root", "Users", "work", "tmp")) + "/)"
    )
    found = []
    for name in tracked_files():
        try:
            text = (ROOT / name).read_text(encoding="utf-8")
        except UnicodeDecodeError:
            continue
        found += [
            f"{name}:{number}: {line.strip()[:80]}"
            for number, line in enumerate(text.splitlines(), start=1)
            if path.search(line)
        ]
    assert found == []
