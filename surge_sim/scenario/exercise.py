"""From an exercise file to a checked exercise: every fault at once, with its line."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise, product
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from surge_sim import units
from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.scenario.advice import recalled_beyond
from surge_sim.scenario.checks import found_between
from surge_sim.scenario.exercise_file import DECISIONS, ExerciseFile, Moment
from surge_sim.scenario.faults import Found, faults_of, known
from surge_sim.scenario.limits import MOST_PATHS
from surge_sim.scenario.load import Scenario, load_scenario, shortened
from surge_sim.scenario.quantities import AS_FAR_AS_KNOWN, UNKNOWN, NotUnderstoodError
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import Change, times_in
from surge_sim.scenario.yaml_text import Path as Place
from surge_sim.scenario.yaml_text import Tree, tree_of_file, value_at

#: numbers of the choices that were made, one a moment
Choices = tuple[int, ...]


@dataclass(frozen=True, eq=False, repr=False)
class Exercise:
    """A checked exercise; ``scenario`` is as long as the exercise."""

    path: Path
    sha256: str
    file: ExerciseFile
    scenario: Scenario
    tree: Tree
    #: what is doubtful, with its line
    warnings: tuple[str, ...] = ()

    @property
    def moments(self) -> tuple[Moment, ...]:
        """The decision points, in order of time."""
        return self.file.moments

    @cached_property
    def paths(self) -> tuple[Choices, ...]:
        """Every path through the exercise."""
        return tuple(product(*(range(len(one.choices)) for one in self.moments)))

    @property
    def injects(self) -> tuple[Change, ...]:
        """What happens whatever is decided, beside the scenario's own timeline."""
        return tuple(one.inject for one in self.moments if one.inject is not None)

    def decisions(self, choices: Choices) -> tuple[Change, ...]:
        """Return what changes by these choices, one a moment; fewer: nothing after them."""
        chosen = (one.choices[number].does for one, number in zip(self.moments, choices))  # noqa: B905
        return tuple(one for one in chosen if one is not None)

    def timeline(self, settings: Settings, choices: Choices) -> tuple[Change, ...]:
        """Return all that changes in a surge of these settings with these choices."""
        return (*settings.timeline, *self.injects, *self.decisions(choices))


def load_exercise(path: str | Path) -> Exercise:
    """Read an exercise file and the scenario that it names.

    Parameters
    ----------
    path : str or Path
        A YAML file; the scenario is looked for beside it.

    Returns
    -------
    Exercise
        Checked, with every default filled in.

    Raises
    ------
    ScenarioError
        With every fault that was found in the two files.
    """
    tree, data, faults = tree_of_file(str(path), "an exercise", ExerciseFile.starter)
    faults += shortened(tree)
    scenario, scenario_faults = _scenario_of(tree, Path(path).parent)
    file, file_faults = _read(tree, scenario)
    faults += scenario_faults + file_faults
    if faults or scenario is None:
        raise ScenarioError(faults)
    cut = _as_long(file.length, scenario, tree)
    doubts = (*_left_out(scenario, cut, tree), *_doubts(file, cut, tree))
    return Exercise(Path(path), hashlib.sha256(data).hexdigest(), file, cut, tree, doubts)


def _as_long(length_s: int, scenario: Scenario, tree: Tree) -> Scenario:
    """Return the scenario with the exercise's length, without what begins only later."""
    if length_s == scenario.settings.horizon:
        return scenario
    length = units.duration_text(length_s)
    changes: dict[str, Any] = {"horizon": length}
    arrivals = scenario.settings.arrivals
    lists = {
        "timeline": scenario.settings.timeline,
        "arrivals.clusters": () if arrivals is None else arrivals.clusters,
    }
    for name, events in lists.items():
        if any(one.at >= length_s for one in events):
            written = value_at(scenario.tree.root, tuple(name.split(".")))
            pairs = zip(written, events, strict=True)
            changes[name] = [raw for raw, one in pairs if one.at < length_s]
    try:
        # a log of the exercise names the file
        return replace(scenario.changed(changes), sha256=scenario.sha256)
    except ScenarioError as error:
        # the moment of a change may be a range
        first = error.faults[0].found
        found = f"is {length}, and the scenario cannot end then: {first.removesuffix('.')}"
        right = "Write a length before or after the whole range in which that change may begin."
        raise ScenarioError([tree.fault(("length",), found, right)]) from None


def _left_out(whole: Scenario, cut: Scenario, tree: Tree) -> Iterator[str]:
    """Say how much of the scenario begins only after the exercise."""
    first, then = (
        len(one.settings.timeline)
        + (0 if one.settings.arrivals is None else len(one.settings.arrivals.clusters))
        for one in (whole, cut)
    )
    if then < first:
        said = (
            f"is {units.duration_text(cut.settings.horizon)}: of the changes and clusters in the "
            f"scenario, those that begin then or later are left out ({first - then})."
        )
        yield tree.warning(("length",), said)


def _doubts(file: ExerciseFile, scenario: Scenario, tree: Tree) -> Iterator[str]:
    """Say which injects recall more kits than there are, beside those of the scenario."""
    before = scenario.settings.timeline
    places = [number for number, one in enumerate(file.moments) if one.inject is not None]
    injects = [one.inject for one in file.moments if one.inject is not None]
    for number, said in recalled_beyond((*before, *injects), scenario.settings.stock.kits):
        if number >= len(before):
            yield tree.warning(("moments", places[number - len(before)], "inject", "kits"), said)


def _scenario_of(tree: Tree, folder: Path) -> tuple[Scenario | None, list[Fault]]:
    """Load the scenario that an exercise names; None where it cannot be used."""
    name = tree.root.get("scenario")
    if not isinstance(name, str) or not name.strip():
        return None, []  # told as a fault of the field
    try:
        scenario = load_scenario(folder / name)
    except ScenarioError as error:
        return None, error.faults
    if scenario.settings.entries is not None:
        found = "replays a log of entries"
        right = "An exercise needs simulated surges: name a scenario with `arrivals`."
        return None, [tree.fault(("scenario",), found, right)]
    return scenario, []


def _read(tree: Tree, scenario: Scenario | None) -> tuple[ExerciseFile, list[Fault]]:
    """Read the file; with UNKNOWN in it where it is faulty."""
    settings = None if scenario is None else scenario.settings
    start = None if settings is None else settings.start
    root, faults = times_in(tree, ("moments",), start, None)
    root, moment_faults = _with_moments(root, tree)
    try:
        file, field_faults = ExerciseFile.model_validate(root), list[Fault]()
    except ValidationError as error:
        field_faults = faults_of(error, tree, root, ExerciseFile)
        file = ExerciseFile.model_validate(root, context=AS_FAR_AS_KNOWN)
    found: list[Found] = []
    for check in (_moments_in_order, _choices, _paths):
        with known:
            for one in check(file):  # what came before it stops is kept
                found.append(one)
    if settings is not None:
        with known:
            found += _in_scenario(file, settings)
    return file, faults + moment_faults + field_faults + [tree.fault(*one) for one in found]


def _with_moments(root: Mapping[str, Any], tree: Tree) -> tuple[dict[str, Any], list[Fault]]:
    """Give each inject the moment at which it happens, and each choice that at which it holds."""
    faults: list[Fault] = []

    def timed(raw: Any, at_s: Any, place: Place, right: str) -> Any:
        if not isinstance(raw, dict):
            return None if isinstance(raw, str) and raw == "nothing" else raw
        if "at" in raw:
            faults.append(tree.fault((*place, "at"), "is not needed", right))
        at = UNKNOWN if at_s is None else units.duration_text(at_s)
        return {**raw, "at": at}

    def moment(raw: Any, number: int) -> Any:
        if not isinstance(raw, dict):
            return raw
        place, changed = ("moments", number), dict(raw)
        at_s = _seconds(raw.get("at"))
        if "inject" in raw:
            right = "An inject happens at its moment: leave the line out."
            changed["inject"] = timed(raw["inject"], at_s, (*place, "inject"), right)
        if isinstance(raw.get("choices"), list):
            changed["choices"] = [
                choice(one, at_s, (*place, "choices", which))
                for which, one in enumerate(raw["choices"])
            ]
        return changed

    def choice(raw: Any, at_s: int | None, place: Place) -> Any:
        if not isinstance(raw, dict) or "does" not in raw:
            return raw
        delay_s = _seconds(raw.get("delay", "0 min"))
        holds_s = None if at_s is None or delay_s is None else at_s + delay_s
        right = (
            "A choice holds from its moment on and cannot reach into the past: leave the line "
            "out, and write a `delay` beside `does` where it takes a while."
        )
        return {**raw, "does": timed(raw["does"], holds_s, (*place, "does"), right)}

    if isinstance(root.get("moments"), list):
        moments = [moment(raw, number) for number, raw in enumerate(root["moments"])]
        return {**root, "moments": moments}, faults
    return dict(root), faults


def _seconds(raw: Any) -> int | None:
    """Read a length of time; None where it is faulty, which is told elsewhere."""
    try:
        return units.parse_duration(raw)
    except (units.QuantityError, NotUnderstoodError):
        return None


def _moments_in_order(file: ExerciseFile) -> Iterator[Found]:
    """Moments follow one another, within the exercise."""
    end = f"The exercise ends {units.duration_text(file.length)} after its start."
    for number, moment in enumerate(file.moments):
        with known:
            if moment.at >= file.length:
                right = f"{end} Write an earlier time, or make the exercise longer."
                yield Found(("moments", number, "at"), "is after the end", right)
        with known:
            for which, choice in enumerate(moment.choices):
                with known:
                    if moment.at < file.length <= moment.at + choice.delay:
                        right = f"{end} Shorten the delay, or make the exercise longer."
                        place = ("moments", number, "choices", which, "delay")
                        yield Found(place, "leads to after the end", right)
    for number, (one, other) in enumerate(pairwise(file.moments), start=1):
        with known:
            if other.at <= one.at:
                right = "Write the moments in order of time, each later than the one before."
                yield Found(("moments", number, "at"), "is not after the moment before", right)


def _choices(file: ExerciseFile) -> Iterator[Found]:
    """Choices of a moment have different names, and are things that a group can decide."""
    for number, moment in enumerate(file.moments):
        with known:
            if all(one.needs_permission for one in moment.choices):
                found = "all need a permission; a group without it could not decide"
                right = "Add a choice that is always open, for example one that does nothing."
                yield Found(("moments", number, "choices"), found, right)
        names: list[str] = []
        with known:
            for which, choice in enumerate(moment.choices):
                place = ("moments", number, "choices", which)
                with known:
                    if choice.name.strip().lower() in names:
                        found = f"is '{echo(choice.name)}' again"
                        yield Found((*place, "name"), found, "Give each choice its own name.")
                    names.append(choice.name.strip().lower())
                with known:
                    if choice.does is not None and not isinstance(choice.does, DECISIONS):
                        words = ", ".join(sorted(_what(one) for one in DECISIONS))
                        right = f"Make it an inject. What can be decided: nothing, {words}."
                        found = f"is '{choice.does.what}', which happens and is not decided"
                        yield Found((*place, "does", "what"), found, right)


def _what(change: type) -> str:
    annotation = change.model_fields["what"].annotation  # type: ignore[attr-defined]
    return str(annotation.__args__[0])


def _paths(file: ExerciseFile) -> Iterator[Found]:
    """Every path through the exercise can be played."""
    paths = math.prod(len(one.choices) for one in file.moments)
    if paths > MOST_PATHS:
        right = f"Use {MOST_PATHS} at most: leave out a moment or a choice."
        yield Found(("moments",), f"have {paths:,} paths through them", right)


def _in_scenario(file: ExerciseFile, settings: Settings) -> Iterator[Found]:
    """Each inject and choice could stand in the timeline of the scenario."""
    with known:
        if file.length > settings.horizon:
            longest = units.duration_text(settings.horizon)
            right = f"The surge of the scenario lasts {longest}: write so much at most."
            yield Found(("length",), f"is {units.duration_text(file.length)}", right)
    places: list[Place] = []
    changes: list[Any] = []
    for number, moment in enumerate(file.moments):
        with known:
            if moment.inject is not None:
                places.append(("moments", number, "inject"))
                changes.append(moment.inject)
        with known:
            for which, choice in enumerate(moment.choices):
                with known:
                    if choice.does is not None:
                        places.append(("moments", number, "choices", which, "does"))
                        changes.append(choice.does)
    before = len(settings.timeline)
    together = settings.model_copy(update={"timeline": (*settings.timeline, *changes)})
    for one in found_between(together):
        section, *rest = one.path
        if section != "timeline" or not rest:
            yield one._replace(path=("moments",))
        elif isinstance(rest[0], int) and rest[0] >= before and rest[1:] != ["at"]:
            yield one._replace(path=(*places[rest[0] - before], *rest[1:]))


def never_differ(exercise: Exercise, number: int, one: int, other: int, where: str) -> Fault:
    """Tell that two choices of a moment come to the same."""
    name = echo(exercise.moments[number].choices[one].name)
    place: Place = ("moments", number, "choices", other)
    right = (
        f"Every wait was the same {where}, whatever else was decided. Change one of the two: "
        "more of it, earlier, or for longer; or leave it out."
    )
    return exercise.tree.fault(place, f"never differs from '{name}'", right)
