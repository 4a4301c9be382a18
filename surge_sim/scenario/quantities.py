"""Types of the numbers in a scenario: text with a unit outside, plain numbers inside."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Annotated, Any, ClassVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from surge_sim import units
from surge_sim.scenario.former_names import FORMER_NAMES
from surge_sim.scenario.limits import MOST_NAME, MOST_OF_ANYTHING, MOST_PARTS, MOST_TITLE


class NotUnderstoodError(ValueError):
    """What was looked at is already told as a fault."""


class FieldError(ValueError):
    """What is wrong with one field.

    ``found`` is '' where the value itself says it; ``key`` is a key within the field, if it is
    meant.
    """

    def __init__(self, found: str, right: str, key: str = "") -> None:
        super().__init__(found)
        self.found, self.right, self.key = found, right, key


class _Unknown:
    """Stands where the file cannot be understood; whoever looks at it is stopped."""

    def __repr__(self) -> str:
        return "UNKNOWN"

    def _stop(self, *_: Any) -> Any:
        raise NotUnderstoodError

    __getattr__ = __getitem__ = __iter__ = __len__ = __contains__ = __bool__ = _stop
    __eq__ = __ne__ = __lt__ = __le__ = __gt__ = __ge__ = __float__ = __index__ = _stop
    __add__ = __radd__ = __sub__ = __rsub__ = __mul__ = __rmul__ = _stop
    __truediv__ = __rtruediv__ = __floordiv__ = __rfloordiv__ = __mod__ = __rmod__ = _stop
    __pow__ = __rpow__ = __neg__ = __abs__ = __int__ = __round__ = _stop
    __hash__ = _stop


UNKNOWN: Any = _Unknown()


#: context of a reading that puts UNKNOWN in the place of what is wrong
AS_FAR_AS_KNOWN = "as far as known"


class Section(BaseModel):
    """A section of the scenario: frozen, and unknown fields are faults."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, populate_by_name=True,
        defer_build=True,
    )  # fmt: skip
    #: the command that writes a file to look at
    starter: ClassVar[str] = "surge-sim new FILE"

    @model_validator(mode="before")
    @classmethod
    def _known_fields(cls, raw: Any, info: ValidationInfo) -> Any:
        if info.context is not AS_FAR_AS_KNOWN or not isinstance(raw, dict):
            return raw
        fields = {field.alias or name: field for name, field in cls.model_fields.items()}
        # what is there under its former name is told already, and is not missing
        former = {FORMER_NAMES.get(str(key)) for key in raw if key not in fields}
        return {
            key: raw.get(key, UNKNOWN)
            for key, field in fields.items()
            if key in raw or field.is_required() or key in former
        }

    @field_validator("*", mode="wrap")
    @classmethod
    def _understood(cls, raw: Any, read: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
        if info.context is not AS_FAR_AS_KNOWN:
            return read(raw)
        try:
            return read(raw)
        except ValidationError as error:
            return _members_understood(raw, read, error)
        except NotUnderstoodError:
            return UNKNOWN


def _members_understood(
    raw: Any, read: ValidatorFunctionWrapHandler, error: ValidationError
) -> Any:
    """Read a list or named values without the members that are wrong; UNKNOWN in their place."""
    wrong = {one["loc"][0] for one in error.errors(include_url=False) if one["loc"]}
    try:
        if isinstance(raw, dict):
            rest = read({key: one for key, one in raw.items() if key not in wrong})
            return {key: UNKNOWN if key in wrong else rest[key] for key in raw}
        if isinstance(raw, list | tuple):
            rest = iter(read([one for number, one in enumerate(raw) if number not in wrong]))
            return tuple(UNKNOWN if number in wrong else next(rest) for number, _ in enumerate(raw))
    except (ValueError, TypeError):
        pass  # it cannot do without them
    return UNKNOWN


#: of a field whose number is decided or promised, not uncertain: no range may stand there
DECIDED: Any = {"decided": True}


class Decided(Section):
    """A section of such fields."""

    model_config = ConfigDict(json_schema_extra=DECIDED)


def quantity(
    kind: str, read: Callable[[Any], Any], write: Callable[[Any], str]
) -> tuple[BeforeValidator, PlainSerializer, WithJsonSchema]:
    """Say how a type is read and written; `kind` is its name in the JSON Schema."""
    return BeforeValidator(read), PlainSerializer(write), WithJsonSchema({"quantity": kind})


def one_or_more(kind: Any) -> BeforeValidator:
    """Take a single value for a list of one."""

    def listed(raw: Any) -> Any:
        return (raw,) if isinstance(raw, str | int | float | units.Quantity) else raw

    return BeforeValidator(listed, json_schema_input_type=kind | tuple[kind, ...])


#: Whole seconds [s], written like ``25 min``, ``3 h``, ``1 h 30 min``, ``2 d``.
Duration = Annotated[int, *quantity("duration", units.parse_duration, units.duration_text)]
#: Time after the start [s]; ``day 6, 18:00`` and ``2031-01-11 18:00`` are brought to it before.
When = Annotated[int, *quantity("when", units.parse_when, units.duration_text)]
#: Share 0..1, written like ``95 %``.
Share = Annotated[float, *quantity("share", units.parse_share, units.share_text)]
#: Share that may exceed 1, written like ``150 %``.
Percent = Annotated[float, *quantity("percent", units.parse_percent, units.share_text)]
#: Factor of something usual: ``150 %`` and ``+50 %`` are 1.5, ``50 %`` and ``-50 %`` are 0.5.
Factor = Annotated[float, *quantity("factor", units.parse_factor, units.share_text)]
#: The same, 1 or more.
Increase = Annotated[float, *quantity("factor", units.parse_increase, units.share_text)]
#: Events per day, written like ``4 per day``, ``0.5 per h``, ``3 per week``.
PerDay = Annotated[float, *quantity("per_day", units.parse_rate_per_day, units.rate_text)]
#: Events per hour, written like ``12 per h``.
PerHour = Annotated[float, *quantity("per_hour", units.parse_rate_per_hour, units.hourly_rate_text)]
#: Second of the day 0..86400, written like ``07:00``.
ClockTime = Annotated[int, *quantity("clock", units.parse_clock, units.clock_text)]
#: Flow [L/min], written like ``170 L/min``.
Flow = Annotated[float, *quantity("flow", units.parse_flow, units.flow_text)]
#: Date and time of day without zone, written like ``2031-01-06 07:00``.
Moment = Annotated[datetime, *quantity("moment", units.parse_moment, units.moment_text)]
#: Yes or no.
YesNo = Annotated[bool, *quantity("yes_no", units.parse_yes_no, units.yes_no_text)]
#: Whole number, 0 or more.
Count = Annotated[int, *quantity("count", units.parse_count, str)]
#: The same, of kits, batteries, bays and the like.
Things = Annotated[int, *quantity("count", partial(units.parse_count, most=MOST_OF_ANYTHING), str)]
#: The same, of spare parts of one sort.
Parts = Annotated[int, *quantity("count", partial(units.parse_count, most=MOST_PARTS), str)]
#: Plain number without unit.
Number = Annotated[float, *quantity("number", units.parse_number, units.number_text)]
#: Amount of money in the scenario's currency.
Money = Annotated[float, *quantity("money", units.parse_money, units.number_text)]


def whole_days(seconds: int) -> int:
    """A time of whole days."""
    if seconds % units.DAY_S:
        raise FieldError("is not a whole number of days", "Write for example `7 d`.")
    return seconds


def _one_line(most: int, text: str) -> str:
    if not text.strip() or "\n" in text.strip() or len(text) > most:
        found = f"is no text of one line with {most} characters at most"
        raise FieldError(found, "Shorten it; longer text may stand in `note`.")
    return text


def _no_range_word(name: str) -> str:
    """A name that would be taken for the end of a range."""
    if name in ("low", "likely", "high"):
        raise FieldError("is a word for the end of a range", "Choose another name.")
    return name


#: Text on one line.
Title = Annotated[str, AfterValidator(partial(_one_line, MOST_TITLE))]
Label = Annotated[str, AfterValidator(partial(_one_line, MOST_NAME))]
#: Name of a class or role.
Name = Annotated[Label, AfterValidator(_no_range_word)]
