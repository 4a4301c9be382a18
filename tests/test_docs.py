"""The documents are run: what README.md and DEVELOPERS.md show is what the program does.

* ``console`` blocks: each line after ``$`` is run, and what it prints must be what stands below
  it; ``...`` there stands for anything. ``console slow`` runs with ``--slow`` only.
* ``python`` blocks of one document run in order, as one program, with ``--slow`` only; what they
  print must be what the ``text printed`` blocks show, if there are any.
* ``sh`` blocks are for the reader's machine and are not run here; CI runs the test command.

All blocks of a document run in one folder that holds the project's scenarios.
"""

from __future__ import annotations

import ast
import re
import shlex
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.approved.cases import TIMED
from tests.conftest import ROOT, plain_environment

DOCUMENTS = ("README.md", "DEVELOPERS.md", "tests/README.md")

BLOCK = re.compile(r"^```(?P<kind>[^\n`]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
LINK = re.compile(r"\[[^\]]*\]\((?P<target>[^)#\s]+)(?:#[^)]*)?\)")
TO_FILL_IN = "FILL IN"


@dataclass(frozen=True)
class Block:
    """One fenced block: where it begins, what stands after the fence, its text."""

    document: str
    line: int
    kind: str
    body: str


def blocks_of(document: str) -> list[Block]:
    text = (ROOT / document).read_text(encoding="utf-8")
    return [
        Block(
            document, text.count("\n", 0, found.start()) + 1, found["kind"].strip(), found["body"]
        )
        for found in BLOCK.finditer(text)
    ]


def commands_of(body: str) -> list[tuple[str, str]]:
    """Each command of a console block with what it is shown to print."""
    commands: list[tuple[str, list[str]]] = []
    for line in body.splitlines():
        if line.startswith("$ "):
            commands.append((line[2:], []))
        elif commands:
            commands[-1][1].append(line)
        else:
            raise ValueError(f"a console block begins with a command, not with {line!r}")
    return [(command, "\n".join(shown)) for command, shown in commands]


def agrees(shown: str, printed: str) -> bool:
    """Is the printed text the shown one, where ``...`` stands for anything?"""

    def plain(text: str) -> str:
        return "\n".join(line.rstrip() for line in text.strip().splitlines())

    pattern = ".*?".join(re.escape(part) for part in plain(shown).split("..."))
    return re.fullmatch(pattern, plain(printed), re.DOTALL) is not None


def run_command(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run one command; ``surge-sim`` and ``python`` are those of this environment.

    What tells the progress of long work is left out: it depends on how quick the machine is.
    """
    words = shlex.split(command)
    if words[0] == "surge-sim":
        words[:1] = [sys.executable, "-m", "surge_sim"]
    elif words[0] == "python":
        words[0] = sys.executable
    else:
        raise ValueError(f"a console block runs surge-sim or python only, not {words[0]}")
    done = subprocess.run(
        words,
        cwd=folder,
        env=plain_environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=900,
    )
    for told, instead in TIMED[:2]:
        done.stdout = told.sub(instead, done.stdout)
    return done


@pytest.fixture(scope="module")
def reader_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What a reader has before them: the scenarios, and room to write."""
    folder = tmp_path_factory.mktemp("reader")
    shutil.copytree(ROOT / "scenarios", folder / "scenarios")
    return folder


def console_blocks() -> list[object]:
    found = []
    for document in DOCUMENTS:
        for block in blocks_of(document):
            kind, *words = block.kind.split() or [""]
            if kind == "console":
                marks = [pytest.mark.slow] if "slow" in words else []
                name = f"{document}:{block.line}"
                found.append(pytest.param(block, id=name, marks=marks))
    return found


@pytest.mark.parametrize("block", console_blocks())
def test_commands_print_what_the_documents_show(block: Block, reader_folder: Path) -> None:
    for command, shown in commands_of(block.body):
        done = run_command(command, reader_folder)
        assert done.returncode == 0, f"{command}\n{done.stdout}"
        assert agrees(shown, done.stdout), f"$ {command}\n{done.stdout}"


@pytest.mark.slow
@pytest.mark.parametrize("document", DOCUMENTS)
def test_python_examples_run(document: str, reader_folder: Path) -> None:
    bodies = [block.body for block in blocks_of(document) if block.kind == "python"]
    if not bodies:
        pytest.skip("no Python example")
    script = reader_folder / f"{Path(document).stem.lower()}_{len(document)}.py"
    # work is shared out to processes that may import this file again
    body = "\n".join(bodies).replace("\n", "\n    ")
    script.write_text(f'if __name__ == "__main__":\n    {body}\n', encoding="utf-8")
    done = run_command(f"python {script.name}", reader_folder)
    assert done.returncode == 0, done.stdout
    shown = [block.body for block in blocks_of(document) if block.kind == "text printed"]
    assert not shown or agrees("\n".join(shown), done.stdout), done.stdout


@pytest.mark.parametrize("document", DOCUMENTS)
def test_links_lead_to_files_that_exist(document: str) -> None:
    text = BLOCK.sub("", (ROOT / document).read_text(encoding="utf-8"))
    folder = (ROOT / document).parent
    broken = [
        found["target"]
        for found in LINK.finditer(text)
        if "://" not in found["target"] and not (folder / found["target"]).exists()
    ]
    assert broken == []


@pytest.mark.parametrize("document", DOCUMENTS)
def test_nothing_is_left_to_fill_in(document: str) -> None:
    lines = (ROOT / document).read_text(encoding="utf-8").splitlines()
    left = [f"{n}: {line.strip()}" for n, line in enumerate(lines, start=1) if TO_FILL_IN in line]
    assert left == []


def test_the_readme_gives_two_commands_for_a_fresh_machine() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for mark in ("main command", "test command"):
        found = re.findall(rf"^<!-- {mark} -->\n```sh\n(.+)\n```$", text, re.MULTILINE)
        assert len(found) == 1, mark
        assert found[0].startswith("pip install ")


def test_the_readme_counts_no_more_timelines_than_there_are() -> None:
    """Worked out on paper: with a docstring; played by both engines: with their fixture."""
    words = " ".join((ROOT / "README.md").read_text().split())
    (said,) = re.findall(r"(\d+) timelines", words)
    found = [
        node
        for file in (ROOT / "tests" / "engine").glob("test_*.py")
        for node in ast.walk(ast.parse(file.read_text()))
        if isinstance(node, ast.FunctionDef)
        and node.name.startswith("test_")
        and ast.get_docstring(node)
        and "played" in [argument.arg for argument in node.args.args]
    ]
    assert len(found) >= int(said)


@pytest.mark.parametrize(
    ("shown", "printed", "same"),
    [
        ("a\nb", "a\nb\n", True),
        ("a ... c", "a b c", True),
        ("a\n...\nd", "a\nb\nc\nd", True),
        ("a", "a\nb", False),
        ("a.c", "abc", False),
        ("", "something", False),
    ],
)
def test_comparing_output_can_fail(shown: str, printed: str, same: bool) -> None:
    assert agrees(shown, printed) is same


def test_a_console_block_is_split_into_commands() -> None:
    assert commands_of("$ a b\nx\ny\n$ c\n") == [("a b", "x\ny"), ("c", "")]
    with pytest.raises(ValueError, match="begins with a command"):
        commands_of("x\n$ a\n")
