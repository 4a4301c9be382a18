"""What is played to study inputs: plain surges, each input held at its ends, each from a second.

as it is            inputs and random variation of surge k
input i low, high   input i held, all else of surge k
input i of second   input i of surge k of a second sample, all else of surge k
random variation    random variation of the second surge, inputs of surge k
second surge        all of it of the second
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.errors import Fault, ScenarioError
from surge_sim.whatif.design import AS_IT_IS, CHANCE, Alternative, Design
from surge_sim.whatif.inputs import used_inputs

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.ranges import Range

#: more than anybody can judge in one table
MOST_INPUTS = 100
#: surges: 32 MB for what 200 stocks cost in each
MOST_SURGES = 10_000
#: whole plays, of which a row of some 120 bytes is kept
MOST_PLAYS = 1_000_000


class Ladder(NamedTuple):
    """Stocks, each with more than the one before, and what each costs; the first is in hand."""

    stocks: tuple[Stock, ...]
    #: rising
    money: tuple[float, ...]


#: name of the alternative of which inputs and chance are those of the second surge
ALL = "second surge"


def ends_of(number: int) -> tuple[str, str]:
    """Return the names of the alternatives that hold an input at its low and its high value."""
    return f"input {number} low", f"input {number} high"


def second_of(number: int) -> str:
    """Return the name of the alternative that takes an input from the second surge."""
    return f"input {number} of second"


def design_for(
    scenario: Scenario,
    inputs: Sequence[Range],
    ladder: Ladder | None = None,
    seed: int = 1,
    engine: str = "compiled",
) -> Design:
    """Return what is played to study inputs: plain surges, each input held, each from a second.

    Parameters
    ----------
    scenario : Scenario
        With a range for each input.
    inputs : sequence of Range
        What is studied.
    ladder : Ladder, optional
        Stocks among which the one to add is looked for.
    seed, engine
        See :class:`Design`.
    """
    stocks = () if ladder is None else ladder.stocks
    found = [Alternative(AS_IT_IS, scenario, ladder=stocks)]
    for number, one in enumerate(inputs):
        for name, end in zip(ends_of(number), (one.low, one.high), strict=True):
            found.append(Alternative(name, scenario, held=((one, end),), ladder=stocks))
    for number, one in enumerate(inputs):
        found.append(Alternative(second_of(number), scenario, second=(one.name,)))
    found.append(Alternative(CHANCE, scenario, second=(CHANCE,)))
    everything = (CHANCE, *(one.name for one in scenario.ranges))
    found.append(Alternative(ALL, scenario, second=everything, ladder=stocks))
    return Design(tuple(found), seed, engine)


def inputs_of(scenario: Scenario, surges: int) -> tuple[Range, ...]:
    """Return the inputs that are studied.

    Raises
    ------
    ScenarioError
        There is none, or there are too many for so many surges.
    """
    inputs, file = used_inputs(scenario), scenario.path.name
    if not inputs:
        found = "has no input with a range that a surge depends on."
        right = (
            "Write one for each number that you have not measured, for example "
            "`{low: 8 min, likely: 10 min, high: 15 min}`, or put one on every number that is "
            "marked invented under `sources`: `--spread 25%`."
        )
        raise ScenarioError([Fault(file, 0, found, right)])
    if len(inputs) > MOST_INPUTS:
        found = f"has {len(inputs)} inputs with a range."
        right = f"Keep the {MOST_INPUTS} that you know least; write one value for the others."
        raise ScenarioError([Fault(file, 0, found, right)])
    most = min(MOST_SURGES, MOST_PLAYS // (3 * len(inputs) + 3))
    if surges > most:
        found = f"is {surges:,}, too many for {len(inputs)} inputs."
        raise ScenarioError([Fault("--surges", 0, found, f"Use {most:,} at most.")])
    return inputs
