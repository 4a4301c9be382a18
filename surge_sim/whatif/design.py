"""A design: a scenario, and named alternatives to it that are played over the same surges.

An alternative is a changed scenario. Its changes are written in the words of scenario files,
by dotted name: ``{"cleaning.crew.0.cleaners": 3}``; a name that ends in ``.+`` adds an entry to a
list: ``{"timeline.+": {"what": "power outage", ...}}``. They are checked like a file
(:meth:`Scenario.changed`). A whole scenario of its own is an alternative, too. An input that is
not known exactly can be held at a value in every surge (`held`), while the others are drawn as
ever: that is what a study of inputs needs. So does one that takes some inputs, or all that is
drawn besides them, from a second surge.

**The same surges.** Surge k of every alternative has the seed, the sample and the number of surge
k of a plain run, so each draw that a change does not touch is the same to the bit, and an
alternative that leaves demand alone gives the very numbers of a run of it. One that changes demand
has the same distribution of surges as a run of it, drawn so that as much as can be stays as in the
base. Alternatives whose demand is equal share one drawing (`play`).

**Keys.** An alternative is known by what it says: its text with every file that it reads, the
values held, what is taken from a second surge, the stock, the ladder; its plays are known by
that, the base, the seed, the engine and the release of the program. The name is not among these.
So plays that were kept (`parts`) are found again whatever the alternative is called, and whatever
stands beside it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from surge_sim.demand.replay import Replay, replay_of
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.errors import Fault, ScenarioError, echo
from surge_sim.randomness import Sample
from surge_sim.scenario.yaml_text import value_at

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.ranges import Range
    from surge_sim.scenario.schema import Settings

#: what the scenario itself is called among its alternatives
AS_IT_IS = "as it is"
#: ends a name that adds an entry to a list
ONE_MORE = ".+"
#: everything that is drawn for a surge but its uncertain inputs
CHANCE = "random variation"
#: what is drawn where an alternative to a recorded log has none
PATIENTS = "patients and entries where no log is played"
#: characters of an alternative's name
MOST_NAME = 60
#: alternatives of one design
MOST_ALTERNATIVES = 1_000


@dataclass(frozen=True, eq=False)
class Alternative:
    """One way in which things could be.

    Parameters
    ----------
    name : str
        What it is called in tables.
    scenario : Scenario
        Complete, with the changes in it.
    changes : tuple of (str, value)
        What was changed, by dotted name; empty for a scenario of its own.
    assumes : str
        What it takes for granted, in a sentence; empty where nothing is to be said.
    sort : {"", "rule", "purchase", "stress"}
        An operating rule or a purchase is a choice, a stress is not.
    held : tuple of (Range, float)
        Uncertain inputs that have this value in every surge, in the units used inside.
    stock : Stock, optional
        Instead of the scenario's stock in hand.
    second : tuple of str
        What is as in surge k of a second sample instead of surge k: uncertain inputs by dotted
        name, and `CHANCE`.
    ladder : tuple of Stock
        Stocks, each with more than the one before: the first that keeps the target is looked for.
    """

    name: str
    scenario: Scenario
    changes: tuple[tuple[str, Any], ...] = ()
    assumes: str = ""
    sort: str = ""
    held: tuple[tuple[Range, float], ...] = ()
    stock: Stock | None = None
    second: tuple[str, ...] = ()
    ladder: tuple[Stock, ...] = ()

    @cached_property
    def in_hand(self) -> Stock:
        """The stock that is played."""
        return self.stock or stock_in_hand(self.scenario.settings)

    @cached_property
    def key(self) -> str:
        """16 characters that stand for all that it says, whatever its name."""
        scenario = self.scenario
        said = [
            scenario.full_form(),
            sorted(scenario.inputs.items()),
            [(one.name, value) for one, value in self.held],
            asdict(self.in_hand),
            sorted(self.second),
            [asdict(one) for one in self.ladder],
        ]
        return _short(said)

    @property
    def sample(self) -> Sample:
        """Whose surges it meets, inputs aside."""
        return Sample.SECOND if CHANCE in self.second else Sample.RUN

    @property
    def usual(self) -> Settings | None:
        """The settings of all surges; None where some input is drawn anew for each."""
        if self.held:
            return None
        return None if self.scenario.has_ranges else self.scenario.settings

    def values_for(self, seed: int, surge: int) -> dict[Range, float]:
        """Return the uncertain inputs of one surge: as drawn, or the values that are held."""
        ranges = self.scenario.ranges
        drawn = {one: one.drawn(seed, self.sample_of(one), surge) for one in ranges}
        return drawn | dict(self.held)

    def settings_for(self, seed: int, surge: int) -> Settings:
        """Return the settings of one surge, with a value for each uncertain input."""
        if self.usual is not None:
            return self.usual
        return self.scenario.settings_with(self.values_for(seed, surge))

    def sample_of(self, one: Range) -> Sample:
        """Return from which sample an uncertain input is drawn."""
        return Sample.SECOND if one.name in self.second else Sample.RUN


@dataclass(frozen=True, eq=False)
class Design:
    """What is played: the scenario as it is, first, and its alternatives.

    Parameters
    ----------
    alternatives : tuple of Alternative
        The first is the one that the others are compared with.
    seed : int
        Random seed.
    engine : {"compiled", "reference"}
        Both give the same numbers.
    """

    alternatives: tuple[Alternative, ...]
    seed: int = 1
    engine: str = "compiled"

    @property
    def base(self) -> Alternative:
        """What the others are compared with."""
        return self.alternatives[0]

    def key_of(self, one: Alternative) -> str:
        """16 characters that stand for all that decides the numbers of an alternative's plays."""
        from surge_sim.engine.messages import program

        # another demand is drawn beside that of the base
        return _short([one.key, self.base.key, self.seed, self.engine, *program()])

    @cached_property
    def replay(self) -> Replay | None:
        """The recorded logs among the alternatives, or None; `drawn` is what is random in any."""
        each = [replay_of(one.scenario) for one in self.alternatives]
        logs = [one for one in each if one is not None]
        if not logs:
            return None
        drawn = [PATIENTS] if len(logs) < len(each) else []
        drawn += [name for one in logs for name in one.drawn]
        return Replay(
            ", ".join(dict.fromkeys(one.file for one in logs)),
            tuple(dict.fromkeys(drawn)),
            any(one.waits for one in logs),
        )

    def equal_to_base(self) -> tuple[Alternative, ...]:
        """Return the alternatives that change nothing: they have the key of the base."""
        return tuple(one for one in self.alternatives[1:] if one.key == self.base.key)


def _short(said: list[Any]) -> str:
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()[:16]


def base_of(scenario: Scenario) -> Alternative:
    """Return the scenario as it is, as the first alternative of a design."""
    return Alternative(AS_IT_IS, scenario)


def alternative_of(
    base: Scenario, name: str, changes: Mapping[str, Any], assumes: str = "", sort: str = ""
) -> Alternative:
    """Return an alternative with some values changed.

    Parameters
    ----------
    base : Scenario
        What is changed.
    name : str
        What it is called.
    changes : mapping of str to value
        New values by dotted name, as in :meth:`Scenario.changed`; a name that ends in ``.+`` adds
        an entry at the end of a list.
    assumes, sort : str
        See :class:`Alternative`.

    Raises
    ------
    ScenarioError
        With every fault, each named after the alternative.
    """
    written: dict[str, Any] = {}
    for key, value in changes.items():
        where = key.removesuffix(ONE_MORE)
        if where == key:
            written[key] = value
            continue
        path = tuple(int(step) if step.isdecimal() else step for step in where.split("."))
        there = written.get(where, value_at(base.tree.root, path)) or []
        written[where] = [*(there if isinstance(there, list) else [there]), value]
    try:
        scenario = base.changed(written) if written else base
    except ScenarioError as error:
        place = f"alternative '{echo(name)}'"
        faults = [Fault(place, 0, one.found, one.right, one.kind) for one in error.faults]
        raise ScenarioError(faults) from None
    return Alternative(name, scenario, tuple(changes.items()), assumes, sort)


def design_of(
    scenario: Scenario,
    alternatives: Sequence[Alternative],
    seed: int = 1,
    engine: str = "compiled",
) -> Design:
    """Put a scenario and its alternatives together.

    Parameters
    ----------
    scenario : Scenario
        As it is.
    alternatives : sequence of Alternative
        In the order in which they are told.
    seed, engine
        See :class:`Design`.

    Raises
    ------
    ScenarioError
        Where two have one name, a name cannot be used, or there are none or too many.
    """
    place, faults, names = "alternatives", list[Fault](), {AS_IT_IS: 0}
    for one in alternatives:
        if not one.name.strip() or len(one.name) > MOST_NAME:
            right = f"Give a name of 1 to {MOST_NAME} characters."
            faults.append(Fault(place, 0, f"the name '{echo(one.name)}' cannot be used.", right))
        elif one.name in names:
            right = "Give each alternative a name of its own."
            if one.name == AS_IT_IS:
                right = "This is what the scenario itself is called: give another name."
            faults.append(Fault(place, 0, f"'{echo(one.name)}' is there twice.", right))
        names[one.name] = 1
    if not 1 <= len(alternatives) <= MOST_ALTERNATIVES:
        found = f"there are {len(alternatives):,} alternatives."
        faults.append(Fault(place, 0, found, f"Name 1 to {MOST_ALTERNATIVES:,}."))
    if faults:
        raise ScenarioError(faults)
    return Design((base_of(scenario), *alternatives), seed, engine)
