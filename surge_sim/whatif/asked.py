"""Alternatives as they are written: an option's text, a file of them, whole scenarios.

    "kit per shift: policy.kit=held for a shift"
    "dark: timeline.+={what: power outage, at: 1 d, lasts: 12 h}; stock.kits=40"

    alternatives:
      kit per shift: {policy.kit: held for a shift}
      dark:
        assumes: the generator fails, too
        timeline.+: {what: power outage, at: 1 d, lasts: 12 h}
      other ward: {scenario: other_ward.yaml}

Values are those of scenario files. Every fault is told with its line, or with the option's text.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.scenario.limits import MOST_SCENARIO
from surge_sim.scenario.load import load_scenario
from surge_sim.scenario.text_file import read_bytes, text_of, why_unreadable
from surge_sim.scenario.yaml_text import Tree, read_tree
from surge_sim.whatif.design import Alternative, alternative_of

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario

OPTION = "--with"
_EXAMPLE = "Write for example `second cleaner: cleaning.crew.0.cleaners=3`."
_FILE_EXAMPLE = "Begin with `alternatives:`, and below it `name: {setting: value}`."
#: besides settings, what an alternative of a file may have
_SCENARIO, _ASSUMES = "scenario", "assumes"


def alternative_from_text(base: Scenario, text: str) -> Alternative:
    """Read one alternative from the text of an option.

    Parameters
    ----------
    base : Scenario
        What is changed.
    text : str
        ``NAME: SETTING=VALUE``; further changes follow behind a semicolon.

    Raises
    ------
    ScenarioError
        With every fault and the text.
    """
    place = f"{OPTION} '{echo(text, 200)}'"
    named = re.fullmatch(r"\s*([^=]*?)\s*:\s*([^:=]+=.+)", text, re.DOTALL)
    if named is None:
        found = "has no name with a colon behind it, and a setting with its value."
        raise ScenarioError([Fault(place, 0, found, _EXAMPLE)])
    changes, faults = dict[str, Any](), list[Fault]()
    for change in _parted(named[2]):
        key, equals, written = (part.strip() for part in change.partition("="))
        if not (key and equals and written):
            found = f"'{echo(change.strip())}' is no setting with a value."
            faults.append(Fault(place, 0, found, _EXAMPLE))
        elif key in changes:
            faults.append(Fault(place, 0, f"{echo(key)} is there twice.", "Keep one of the two."))
        else:
            tree, wrong = read_tree(f"value: {written}", place)
            faults += [replace(one, line=0) for one in wrong]
            changes[key] = tree.root.get("value")
    if faults:
        raise ScenarioError(faults)
    try:
        return alternative_of(base, named[1], changes)
    except ScenarioError as error:
        raise ScenarioError([replace(one, file=place) for one in error.faults]) from None


def _parted(text: str) -> list[str]:
    """Split changes at semicolons that stand in no brackets and no quotes."""
    parts, depth, quote = [""], 0, ""
    for sign in text:
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "'\"":
            quote = sign
        elif sign == ";" and not depth:
            parts.append("")
            continue
        depth += (sign in "{[") - (sign in "}]") if not quote else 0
        parts[-1] += sign
    return [part for part in parts if part.strip()]


def alternatives_from_file(base: Scenario, path: Path) -> list[Alternative]:
    """Read a file of alternatives; scenarios that it names are looked for beside it.

    Raises
    ------
    ScenarioError
        With every fault and its line.
    """
    try:
        data = read_bytes(path, 4 * MOST_SCENARIO)
    except OSError as error:
        found = f"cannot be read: {why_unreadable(error)}."
        raise ScenarioError([Fault(str(path), 0, found, _FILE_EXAMPLE)]) from None
    text, faults = text_of(data, str(path))
    tree = Tree({}, str(path))
    if text is not None:
        tree, more = read_tree(text, str(path))
        faults = faults + more
    listed = tree.root.get("alternatives")
    if not faults and (set(tree.root) != {"alternatives"} or not isinstance(listed, dict)):
        faults.append(Fault(str(path), 1, "is no list of named alternatives.", _FILE_EXAMPLE))
    found_here = list[Alternative]()
    for name, said in listed.items() if isinstance(listed, dict) else ():
        try:
            found_here.append(_of_file(base, tree, name, said, path))
        except ScenarioError as error:
            faults += error.faults
    if faults:
        raise ScenarioError(faults)
    return found_here


def _of_file(base: Scenario, tree: Tree, name: str, said: Any, path: Path) -> Alternative:
    where = ("alternatives", name)
    if not isinstance(said, dict) or not said:
        raise ScenarioError([tree.fault(where, "has no setting with a value", _FILE_EXAMPLE)])
    assumes, changes = said.get(_ASSUMES) or "", dict(said)
    changes.pop(_ASSUMES, None)
    if not isinstance(assumes, str):
        raise ScenarioError([tree.fault((*where, _ASSUMES), "is no text", "Write a sentence.")])
    if _SCENARIO in changes:
        file = changes.pop(_SCENARIO)
        if changes or not isinstance(file, str):
            right = "Write `scenario: other.yaml` alone, or settings of this scenario."
            raise ScenarioError([tree.fault(where, "has a scenario and more", right)])
        return Alternative(name, load_scenario(path.parent / file), assumes=assumes)
    try:
        return alternative_of(base, name, changes, assumes)
    except ScenarioError as error:
        faults = [
            Fault(tree.file, tree.line((*where, _key_of(one, changes))), one.found, one.right)
            for one in error.faults
        ]
        raise ScenarioError(faults) from None


def _key_of(fault: Fault, changes: dict[str, Any]) -> str:
    """Return the change that a fault is about, as its name stands at the beginning."""
    return next((key for key in changes if fault.found.startswith(key.removesuffix(".+"))), "")


def whole_scenarios(paths: Sequence[Path]) -> list[Alternative]:
    """Read scenarios that are alternatives as they are, each under the name of its file."""
    stems = [path.stem for path in paths]
    return [
        Alternative(path.stem if stems.count(path.stem) == 1 else str(path), load_scenario(path))
        for path in paths
    ]
