"""Run one case in this process and say how it ended."""

from __future__ import annotations

import contextlib
import io
import os
import re
import resource
import shutil
import sys
import tempfile
import traceback
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from tests.robustness.cases import SCENARIO, Case

#: more than this is a failure [bytes], [s]
MOST_MEMORY = 10**9
LONGEST_S = 10.0
#: more requests than this, over all surges, are left to the extremes [requests]
MOST_REQUESTS = 200_000

#: control characters other than tabs and ends of lines; what turns the direction of writing
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
#: where something is wrong: a file, an option, an argument or a surge that cannot be played
_PLACE = re.compile(
    r"\.(?:yaml|csv)(?::\d+)?: |^--\w|'--?\w|Usage: surge-sim|: cannot be (?:read|written)"
    r"|: is a folder, not a file|^surge \d+ of seed \d+: "
)

#: commands that simulate surges
PLAYING = ("run", "size", "verify", "explain", "compare", "matters", "exercise")
GOOD = (
    "answer", "refused", "no stock", "left to the extremes", "nothing lost", "ended before",
    "same bytes",
)  # fmt: skip


class Outcome(NamedTuple):
    """How a case ended; kinds that are not in `GOOD` are failures."""

    kind: str
    #: what tells one failure from another
    sign: str = ""
    #: what was printed, or the traceback
    text: str = ""

    @property
    def good(self) -> bool:
        """Whether that is as it should be."""
        return self.kind in GOOD


def peak_memory() -> int:
    """Return the most memory that this process ever had [bytes]."""
    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


def _sign_of(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [frame for frame in frames if "surge_sim" in frame.filename] or frames
    return f"{type(error).__name__} in {Path(ours[-1].filename).name}:{ours[-1].name}"


def _too_large(case: Case, folder: Path) -> bool:
    """Whether a case that plays is right but would play for long."""
    from surge_sim.demand.expected import expected_course
    from surge_sim.errors import ScenarioError
    from surge_sim.scenario.load import load_scenario

    try:
        settings = load_scenario(folder / SCENARIO).settings
    except ScenarioError:
        return False
    expected = float(expected_course(settings).entries.sum())
    plays = {"run": 5, "compare": 80, "matters": 800, "size": 150, "exercise": 600}.get(
        case.words[0], 1
    ) * (10 if case.words[0] not in ("size", "compare", "matters", "exercise") else 1)
    if "--size" in case.words:
        # each alternative is sized on a thousand surges, with several stocks
        plays *= 100
    if {"--spend", "--only"} & set(case.words):
        # more items are searched
        plays *= 8
    # the reference engine is read, not waited for: three seconds for a thousand requests
    slow = 4 if "reference" in case.words else 1
    return expected * plays * slow > MOST_REQUESTS


def run_here(case: Case, look: Callable[[Path], str] | None = None) -> Outcome:
    """Run a case in a folder of its own and judge how it ended.

    `look` says what is wrong in the results of a case that has an answer, if anything.
    """
    from surge_sim.cli.main import exit_code_of

    home, keyboard = Path.cwd(), sys.stdin
    folder = Path(tempfile.mkdtemp(prefix="surge-sim-case-"))
    out, err = io.StringIO(), io.StringIO()
    memory = peak_memory()
    try:
        case.written_to(folder)
        os.chdir(folder)
        sys.argv = ["surge-sim", *case.words]
        # a learner who takes the first choice each time
        sys.stdin = io.StringIO("1\n" * 20)
        try:
            with (
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(err),
                warnings.catch_warnings(),
            ):
                warnings.simplefilter("error", RuntimeWarning)
                warnings.simplefilter("error", UserWarning)
                if case.words[0] in PLAYING and _too_large(case, folder):
                    return Outcome("left to the extremes")
                code = exit_code_of(case.words)
        except BaseException as error:
            return Outcome("traceback", _sign_of(error), traceback.format_exc())
        after = peak_memory()
        if after > MOST_MEMORY and after > memory * 1.1:
            return Outcome("memory", f"{case.words[0]}", f"{after / 1e6:,.0f} MB\n{err.getvalue()}")
        outcome = judged(case, code, out.getvalue(), err.getvalue(), folder)
        if outcome.kind == "answer" and look is not None and (found := look(folder)):
            return Outcome("hostile text", found.partition(":")[0], found)
        return outcome
    finally:
        os.chdir(home)
        sys.stdin = keyboard
        shutil.rmtree(folder, ignore_errors=True)


def judged(case: Case, code: int, out: str, err: str, folder: Path) -> Outcome:
    """Judge an ending: its code, what was said, and what was left behind."""
    text = f"{err}\n{out}"
    if found := _CONTROL.search(text):
        return Outcome("control character", f"{case.words[0]} {found[0]!r}", text[:20_000])
    left = {path.name for path in folder.iterdir()} - set(case.files)
    for name, data in case.files.items():
        if "new" not in case.words[:2] and (folder / name).read_bytes() != data:
            return Outcome("input changed", name, text)
    if code == 0:
        results = "out" if case.words[0] == "exercise" else "out/manifest.json"
        asked = case.words[-2:] == ("--out", "out") and not {"--help", "-h"} & set(case.words)
        if asked and not (folder / results).exists():
            return Outcome("no results", case.words[0], text)
        tells = "new" not in case.words[:2] and results != "out"
        if tells and not out.strip():
            return Outcome("silent", case.words[0], text)
        return Outcome("answer")
    if code == 1 and case.words[:1] in (("size",), ("verify",)):
        if case.words[0] == "verify":
            return Outcome("engines differ", "", text)
        return Outcome("no stock") if not left else Outcome("left behind", str(sorted(left)), text)
    if code != 2:
        return Outcome("wrong code", str(code), text)
    if left:
        return Outcome("left behind", str(sorted(left)), text)
    if not _PLACE.search(err):
        return Outcome("no place", case.words[0], text)
    if len(text) > 1_000_000:
        return Outcome("too long", case.words[0], text[:2_000])
    return Outcome("refused")
