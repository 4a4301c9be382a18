"""What an exercise file says: a scenario, moments at which a group decides, and their choices."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from surge_sim import units
from surge_sim.scenario.limits import FEWEST_OTHERS, MOST_OTHERS, MOST_SEED, MOST_SURGES
from surge_sim.scenario.quantities import (
    Count,
    Duration,
    FieldError,
    Label,
    Money,
    Section,
    Title,
    When,
)
from surge_sim.scenario.timeline import (
    BatteriesOnLoan,
    CareBundled,
    Change,
    ChargersOnLoan,
    EntriesPostponed,
    ExtraCleaners,
    KitPolicy,
    KitsOnLoan,
    MaximumWait,
    PartialCharge,
    Reserve,
)

MOST_TEXT = 3_000

#: what a group can decide; all else happens to it
DECISIONS = (
    BatteriesOnLoan, CareBundled, ChargersOnLoan, EntriesPostponed, ExtraCleaners, KitPolicy,
    KitsOnLoan, MaximumWait, PartialCharge, Reserve,
)  # fmt: skip


def _some_text(text: str) -> str:
    if not text.strip() or len(text) > MOST_TEXT:
        found = f"is no text of 1 to {MOST_TEXT:,} characters"
        raise FieldError(found, "Write what is to be read, or leave it out.")
    return text.strip()


def _no_section(raw: Any) -> Any:
    """A colon with a space behind it makes a section of a text."""
    if isinstance(raw, dict):
        raise FieldError("", "Put text with a colon in quotes: 'What is short: kits or hands?'.")
    return raw


#: Text of one or several lines.
Text = Annotated[str, BeforeValidator(_no_section), AfterValidator(_some_text)]


def _which_surge(raw: Any) -> Any:
    if raw in ("typical", "hard"):
        return raw
    try:
        return units.parse_count(raw, MOST_SURGES)
    except units.QuantityError:
        right = "Write `typical`, `hard`, or the number of a simulated surge, from 0."
        raise FieldError("", right) from None


def _an_entry(raw: Any) -> Any:
    if isinstance(raw, str):
        right = "Write `nothing`, or what changes: `{what: kits on loan, kits: 4, lasts: 12 h}`."
        raise FieldError("", right)
    return raw


class Choice(Section):
    """One of the things that a group can decide."""

    name: Label
    does: Annotated[Change | None, BeforeValidator(_an_entry)]
    """An entry of a timeline without its moment, or None: nothing changes."""
    delay: Duration = 0
    """From the decision until it holds."""
    price: Money = Field(default=0.0, ge=0)
    """What it costs, in the scenario's currency."""

    @property
    def needs_permission(self) -> bool:
        """Whether manufacturer's instructions and local rules decide if it may be done at all."""
        change = self.does
        return (isinstance(change, KitPolicy) and change.kit != "per entry") or (
            isinstance(change, PartialCharge) and change.allowed
        )


class Moment(Section):
    """A decision point: the surge is stopped, something is told, the group decides."""

    at: When
    name: Label
    inject: Annotated[Change | None, BeforeValidator(_an_entry)] = None
    """What happens then, an entry of a timeline without its moment; missing: only told."""
    read_aloud: Text
    discuss: Duration = Field(gt=0)
    """Time for the group to decide; of the clock on the wall."""
    choices: tuple[Choice, ...] = Field(min_length=2, max_length=4)
    questions: tuple[Text, ...] = ()
    """For the facilitator to ask."""
    expect: Text | None = None
    """What the facilitator may expect the group to discuss."""
    if_stuck: Text | None = None
    """What the facilitator says to a group that is stuck."""


class ExerciseFile(Section):
    """A tabletop exercise in which every choice is computed."""

    starter: ClassVar[str] = "surge-sim exercise new FILE"

    title: Title
    scenario: Label
    """File of the scenario, looked for beside the exercise."""
    note: str = ""
    length: Duration = Field(gt=0)
    """From the start of the scenario; the simulated surge is so long."""
    objectives: tuple[Text, ...] = Field(min_length=1)
    situation: Text | None = None
    """Read aloud at the beginning."""
    surge: Annotated[Literal["typical", "hard"] | int, BeforeValidator(_which_surge)]
    """Which simulated surge is played: by its rank among the first ones, or by its number."""
    other_surges: Count = Field(default=200, ge=FEWEST_OTHERS, le=MOST_OTHERS)
    """So many others are played at the end with the same choices."""
    seed: Count = Field(default=1, le=MOST_SEED)
    moments: tuple[Moment, ...] = ()
