"""Cases by number: files and a command line, good ones changed in a few places."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from tests.conftest import ROOT
from tests.robustness.mutations import OF_SCENARIOS, OF_TABLES, hostile_value

EVERYTHING = ROOT / "tests" / "everything"
#: the scenario file of every case
SCENARIO = "surge.yaml"
#: the exercise of a case that has one
EXERCISE = "exercise.yaml"
#: so many surges at most are asked for where the number is no hostile one
FEW = ("1", "2", "3", "5")

#: options by command, with values that are right; flags have none
OPTIONS: dict[str, dict[str, tuple[str, ...]]] = {
    "check": {"--full": (), "--sources": (), "--defaults": (), "--json": ()},
    "run": {
        "--kits": ("0", "1", "5", "30"), "--batteries": ("0", "1", "40"), "--bays": ("0", "2"),
        "--seed": ("0", "7"), "--json": (), "--full": (), "--entries-out": ("rows.csv",),
        "--engine": ("compiled", "reference"),
    },
    "size": {
        "--only": ("kits", "kits,batteries,bays", "kits,cleaners", "batteries,hoods,tubes"),
        "--confidence": ("90%", "50%"), "--new": (),
        "--target": ("wait=10min", "share_of_surges=50%"),
        "--prices": ("kit=10,battery=1", "charger=0"), "--spend": ("0", "3000"),
        "--seed": ("0", "7"),
        "--json": (), "--full": (), "--quick": (),
    },
    "verify": {"--kits": ("0", "5"), "--batteries": ("3",), "--bays": ("0",), "--seed": ("4",)},
    "explain": {
        "--entry": ("0", "5"), "--kit": ("0",), "--battery": ("1",), "--day": ("1", "2"),
        "--lines": ("1", "9"), "--surge": ("3",), "--seed": ("4",), "--kits": ("0", "9"),
        "--batteries": ("0", "3"), "--bays": ("0",),
    },
    "compare": {
        "--with": ("two more: stock.kits=18", "slow: batteries.charge_time=6 h; stock.bays=9"),
        "--alternatives": (SCENARIO,), "--usual": (), "--size": (), "--seed": ("0", "7"),
        "--json": (), "--full": (),
    },
    "matters": {
        "--spread": ("25%",), "--no-stock": (), "--missed-surge": ("9000",), "--seed": ("0", "7"),
        "--json": (), "--full": (),
    },
    "case": {
        "--json": (), "--life": ("life.yaml",), "--with": ("sized",),
    },
    "schema": {},
    "sources": {"--json": ()},
    "new": {"--life": ()},
    "exercise new": {},
    "exercise check": {},
    "exercise play": {"--log": ("log.json",)},
    "exercise sheets": {},
    "exercise page": {},
    "exercise hot-wash": {"--choices": ("1", "1,1", "2,2,2")},
}  # fmt: skip


@dataclass(frozen=True)
class Case:
    """Files by name, and the words after the program's name."""

    files: dict[str, bytes]
    words: tuple[str, ...]

    def written_to(self, folder: Path) -> None:
        """Write the files into a folder."""
        for name, data in self.files.items():
            (folder / name).write_bytes(data)


@dataclass(frozen=True)
class Change:
    """One change of a case, by a seed of its own so that it can be made with or without others."""

    file: str
    number: int
    seed: int

    def made(self, case: Case) -> Case:
        """Return the case with this change."""
        kinds = OF_SCENARIOS if self.file.endswith(".yaml") else OF_TABLES
        changed = kinds[self.number](case.files[self.file], random.Random(self.seed))
        return replace(case, files={**case.files, self.file: changed})


@dataclass(frozen=True)
class Recipe:
    """A good case and the changes that make a bad one of it."""

    base: Case
    changes: tuple[Change, ...]

    def case(self, changes: Sequence[Change] | None = None) -> Case:
        """Return the case with all changes, or only some."""
        case = self.base
        for change in self.changes if changes is None else changes:
            case = change.made(case)
        return case


@cache
def good_files() -> tuple[dict[str, bytes], ...]:
    """Files of scenarios that are right, small ones first."""
    whole = (EVERYTHING / "every_feature.yaml").read_text(encoding="utf-8")
    tables = {path.name: path.read_bytes() for path in sorted(EVERYTHING.glob("*.csv"))}
    # without ranges it is read forty times as quickly
    fixed = re.sub(r"\{low: [^,}]+, (?:likely: ([^,}]+), )?high: ([^,}]+)\}",
                   lambda found: found[1] or found[2], whole)  # fmt: skip
    start, end = fixed.index("arrivals:\n"), fixed.index("rooms:\n")
    logged = fixed[:start] + "entries: {from: log.csv}\n\n" + fixed[end:]
    # a log says nothing of the days before it, and nobody comes beside it
    logged = re.sub(r"(?m)^run_in: .*\n|^ *- \{what: extra patients.*\n", "", logged)
    shipped = (ROOT / "scenarios").glob("*.yaml")
    return (
        {SCENARIO: fixed.encode(), **tables},
        {SCENARIO: logged.encode(), **tables},
        {SCENARIO: whole.encode(), **tables},
        *({SCENARIO: path.read_bytes()} for path in sorted(shipped)),
    )


@cache
def good_exercise() -> dict[str, bytes]:
    """Files of an exercise that is right and quickly played."""
    folder = ROOT / "scenarios" / "exercises"
    exercise = (folder / "evening.yaml").read_text(encoding="utf-8")
    exercise = exercise.replace("evening_scenario.yaml", SCENARIO)
    exercise = re.sub(r"(?m)^other_surges: .*$", "other_surges: 20", exercise)
    return {EXERCISE: exercise.encode(), SCENARIO: (folder / "evening_scenario.yaml").read_bytes()}


def _hostile_word(chance: random.Random) -> str:
    """A value for an option: no NUL, which no command line can hold."""
    return hostile_value(chance).replace("\x00", "")


def _words(command: str, chance: random.Random, wild: float) -> tuple[str, ...]:
    """Write a command line; each option's value is hostile with a chance of `wild`."""
    words = command.split()
    if words[-1] == "new":
        words.append(chance.choice(("new.yaml", SCENARIO, "a/b")))
    elif command not in ("schema", "sources"):
        words.append(EXERCISE if words[0] == "exercise" else SCENARIO)
    options = list(OPTIONS[command].items())
    for option, values in chance.sample(options, min(len(options), chance.choice((0, 1, 1, 2, 3)))):
        words.append(option)
        if values or chance.random() < wild / 10:
            words.append(
                _hostile_word(chance) if chance.random() < wild else chance.choice(values or ("x",))
            )
    if command == "run":
        words += ["--surges", chance.choice(FEW), "--processes", "1", "--out", "out"]
    elif command == "size":
        words += ["--choose", "20", "--surges", "100", "--processes", "1", "--out", "out"]
    elif command == "compare":
        if not {"--with", "--usual", "--alternatives"} & set(words):
            words += ["--with", "two more: stock.kits=18"]
        words += ["--surges", "8", "--processes", "1", "--out", "out"]
    elif command == "matters":
        words += ["--surges", "20", "--processes", "1", "--out", "out"]
    elif command == "case":
        words += ["--processes", "1", "--out", "out"]
    elif command == "verify":
        words += ["--surges", "1"]
    elif words[0] == "exercise" and words[1] != "new":
        words += ["--processes", "1"]
        if words[1] in ("sheets", "page"):
            words += ["--out", "out" if words[1] == "sheets" else "out.html"]
    if chance.random() < wild / 4:
        words[chance.randrange(len(words))] = _hostile_word(chance)
    return tuple(words)


Draw = Callable[[int, int], Recipe]


def _recipe(
    files: dict[str, bytes], words: tuple[str, ...], changes: int, chance: random.Random
) -> Recipe:
    base = Case(files, words)
    made = []
    for _ in range(changes):
        # tables matter less than the scenario, and only where it names them
        named = [name for name in files if name != SCENARIO and name.encode() in files[SCENARIO]]
        file = chance.choice(named) if named and chance.random() < 0.3 else SCENARIO
        if EXERCISE in files and chance.random() < 0.8:
            file = EXERCISE
        kinds = OF_SCENARIOS if file.endswith(".yaml") else OF_TABLES
        made.append(Change(file, chance.randrange(len(kinds)), chance.getrandbits(48)))
    return Recipe(base, tuple(made))


def check_recipe(seed: int, number: int) -> Recipe:
    """Draw a case of `check`."""
    chance = random.Random(f"check {seed} {number}")
    files = chance.choices(good_files(), (6, 4, 1, *[2] * (len(good_files()) - 3)))[0]
    changes = chance.choice((1, 1, 1, 2, 2, 3, 5))
    return _recipe(files, _words("check", chance, 0.1), changes, chance)


def play_recipe(seed: int, number: int) -> Recipe:
    """Draw a case of a command that plays: mostly `run` and `size`; others now and then."""
    chance = random.Random(f"play {seed} {number}")
    likely = {"run": 40, "size": 30, "compare": 10, "exercise check": 6, "explain": 6, "verify": 4}
    command = chance.choices(list(OPTIONS), [likely.get(name, 1) for name in OPTIONS])[0]
    files = chance.choices(good_files()[:2], (3, 1))[0]
    if command.startswith("exercise"):
        files = good_exercise()
    words = _words(command, chance, 0.25)
    return _recipe(files, words, chance.choice((0, 1, 1, 1, 1, 2)), chance)


RECIPES: dict[str, Draw] = {"check": check_recipe, "play": play_recipe}
