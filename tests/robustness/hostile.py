"""Hostile text in every place that a file may fill: it stays text on the screen and in files."""

from __future__ import annotations

import csv
import random
import re
from pathlib import Path

import yaml

from tests.robustness.cases import SCENARIO, Case, good_files
from tests.robustness.mutations import HIDDEN, TEXTS
from tests.robustness.trial import Outcome, run_here

#: what a spreadsheet takes for a formula
_FORMULA = re.compile(r"[=+@\t\r]|-(?![\d.])")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


def hostile_case(seed: int, number: int) -> Case:
    """Draw a case of `run` in which names and texts are hostile."""
    chance = random.Random(f"hostile {seed} {number}")

    def text() -> str:
        kinds = HIDDEN if chance.random() < 0.02 else (*TEXTS, "name", " ")
        return "".join(chance.choice(kinds) for _ in range(chance.choice((1, 2))))

    files = good_files()[0]
    root = yaml.load(files[SCENARIO], Loader=yaml.BaseLoader)
    for name in chance.sample(("title", "question", "note"), 2):
        root[name] = text()
    root["prices"]["currency"] = text()
    root["sources"]["kit"] = text()
    if chance.random() < 0.5:
        # a role and a class of another name, wherever they stand
        written = yaml.safe_dump(root, sort_keys=False, allow_unicode=False, width=300)
        for old in ("physician", "rule-out"):
            new = yaml.safe_dump(text(), allow_unicode=False, default_style='"', width=10**6)
            written = re.sub(rf"(?<![\w-]){old}(?![\w-])", lambda _, new=new: new.strip(), written)
    else:
        written = yaml.safe_dump(root, sort_keys=False, allow_unicode=True, width=300)
    words = ("run", SCENARIO, "--surges", "2", "--processes", "1", "--out", "out")
    return Case({**files, SCENARIO: written.encode("utf-8", "replace")}, words)


def hostile_trial(seed: int, number: int) -> Outcome:
    """Run the case of a number and look at all that it printed and wrote."""
    return run_here(hostile_case(seed, number), look=text_of_results)


def text_of_results(folder: Path) -> str:
    """Say what is hostile in the files of a results folder; empty: nothing."""
    for path in sorted((folder / "out").rglob("*")):
        if path.suffix == ".csv" and "scenario" not in path.parts:
            with path.open(encoding="utf-8", newline="") as stream:
                for row in csv.reader(stream):
                    for cell in row:
                        if _FORMULA.match(cell) or _CONTROL.search(cell):
                            return f"{path.name}: {cell!r}"
        elif path.suffix in (".txt", ".json", ".md") and "scenario" not in path.parts:
            found = _CONTROL.search(path.read_text(encoding="utf-8"))
            if found:
                return f"{path.name}: {found[0]!r}"
    return ""
