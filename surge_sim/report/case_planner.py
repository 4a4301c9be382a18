"""What a reader of a case may ask its planner to add: commands that run as they stand."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from surge_sim.purchase.beside import scenario_file
from surge_sim.purchase.demand import short_of
from surge_sim.report.document import Block, Heading, Paragraph, Rows
from surge_sim.report.rounding import listed
from surge_sim.units import share_text
from surge_sim.whatif.inputs import used_inputs, with_spread
from surge_sim.whatif.usual import NotTried, more_patients

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

#: the heading, for what refers to it
TO_ADD = "What the planner can add"
#: of the study of inputs that is offered: range around invented numbers, and surges
_SPREAD = 0.25
#: new folders: of the scenario with more patients, and of its sizing
_COPY, _MORE = "scenario_more", "more"


def planner_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield the commands that fill what this case leaves out."""
    rows, folder = list(_rows(case)), _folder(case)
    if not rows:
        return
    given = [name for _, name in _given(case)]
    lie, them = ("lies", "it") if len(given) == 1 else ("lie", "them")
    before = f" Write where {listed(given)} {lie}: this case was made with {them}." * bool(given)
    yield Heading(TO_ADD)
    yield Paragraph(
        f"Ask the planner to run these where the folder of the sizing lies, {folder}. Other "
        f"folders that they name are new ones.{before}"
    )
    yield Rows(tuple(rows))


def typed_words(case: PurchaseCase) -> str:
    """Say what was typed to size, without the places of files on that computer."""
    return shlex.join(_last_name(part) for part in case.sized.command)


def _last_name(part: str) -> str:
    name, equals, value = part.partition("=")
    if equals and name.startswith("--"):
        return f"{name}={_last_name(value)}"
    return Path(part).name if Path(part).is_absolute() else part


def _folder(case: PurchaseCase) -> str:
    return case.sized.folder.resolve().name


def sizing_file(case: PurchaseCase, name: str = "") -> str:
    """Return a file of the scenario that was sized, from where the folder of the sizing lies."""
    return f"{_folder(case)}/scenario/{name or scenario_file(case.sized).name}"


def can_be_studied(case: PurchaseCase) -> bool:
    """Say whether the study of inputs that is offered has inputs to study."""
    return bool(used_inputs(with_spread(case.scenario, _SPREAD).scenario))


def _given(case: PurchaseCase) -> list[tuple[str, str]]:
    """Return what this case was made with, each with its option, without the places of files."""
    found = [("--with", one.folder.resolve().name) for one in (case.comparison, case.study) if one]
    if case.more is not None:
        found.append(("--with", case.more.sized.folder.resolve().name))
    if case.life is not None:
        found.append(("--life", case.life.inputs.path.name))
    return found


def _rows(case: PurchaseCase) -> Iterator[tuple[str, str]]:
    file, again = shlex.quote(sizing_file(case)), _given(case)
    had = len(again)
    if case.comparison is None:
        yield "alternatives", f"surge-sim compare {file} --usual --out alternatives"
        again.append(("--with", "alternatives"))
    if case.study is None and can_be_studied(case):
        spread = share_text(_SPREAD).replace(" ", "")
        yield "what matters", f"surge-sim matters {file} --spread {spread} --out inputs"
        again.append(("--with", "inputs"))
    if more := list(_higher_demand(case)):
        yield from more
        again.append(("--with", _MORE))
    if case.life is None:
        yield "cost over its life", "surge-sim new --life life.yaml"
        yield "", "then fill life.yaml in"
        again.append(("--life", "life.yaml"))
    if len(again) > had:
        words = [word for pair in again for word in pair]
        command = ["surge-sim", "case", _folder(case), *words, "--out", "case_again"]
        yield "then this again", shlex.join(command)


def _higher_demand(case: PurchaseCase) -> Iterator[tuple[str, str]]:
    """Yield how a stock for more patients is found, where the request is none."""
    per_cent = short_of(case.demand, case.target.share_of_surges)
    if per_cent is None or case.more is not None:
        return
    tried = more_patients(case.scenario.settings, per_cent)
    if isinstance(tried, NotTried):
        return
    # with other files that it names
    folder, copy = (
        shlex.quote(f"{_folder(case)}/scenario"),
        f"{_COPY}/{scenario_file(case.sized).name}",
    )
    yield f"{per_cent} % more patients", f"cp -r {folder} {_COPY}"
    for key, value in tried.changes.items():
        if key == "timeline.+":
            entry = ", ".join(f"{name}: {one}" for name, one in value.items())
            where = "under timeline: - {" if case.scenario.settings.timeline else "timeline: [{"
            end = "}" if case.scenario.settings.timeline else "}]"
            yield "", f"put in {copy} {where}{entry}{end}"
        else:
            yield "", f"put in {copy} {key}: {value}"
    yield "", shlex.join(_sized_again(case, copy))


def _sized_again(case: PurchaseCase, copy: str) -> list[str]:
    """Return the command of the sizing, with a copy of the scenario and a new folder."""
    found, skip = list[str](), False
    for word in case.sized.command:
        if skip:
            skip = False
        elif word in ("--out", "-o"):
            skip = True
        elif word.startswith("--out="):
            continue
        else:
            is_file = Path(word).suffix in (".yaml", ".yml") and not word.startswith("-")
            found.append(copy if is_file else _last_name(word))
    return [*found, "--out", _MORE]
