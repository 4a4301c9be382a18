"""Types of the numbers in a scenario: text with a unit outside, plain numbers inside."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WithJsonSchema,
    field_validator,
    model_validator,
)

from surge_sim import units


class NotUnderstoodError(ValueError):
    """What was looked at is already told as a fault."""


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


@dataclass(frozen=True)
class AsFarAsKnown:
    """Context of a reading that puts UNKNOWN in the place of what is wrong.

    ``lost`` are names on lines of the file that could not be read.
    """

    lost: frozenset[str] = frozenset()


class Section(BaseModel):
    """A section of the scenario: frozen, and unknown fields are faults."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", allow_inf_nan=False, populate_by_name=True
    )

    @model_validator(mode="before")
    @classmethod
    def _known_fields(cls, raw: Any, info: ValidationInfo) -> Any:
        if not isinstance(info.context, AsFarAsKnown) or not isinstance(raw, dict):
            return raw
        fields = {field.alias or name: field for name, field in cls.model_fields.items()}
        return {
            key: raw.get(key, UNKNOWN)
            for key, field in fields.items()
            if key in raw or field.is_required() or key in info.context.lost
        }

    @field_validator("*", mode="wrap")
    @classmethod
    def _understood(cls, raw: Any, read: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
        if not isinstance(info.context, AsFarAsKnown):
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


def _quantity(kind: str, read: Callable[[Any], Any]) -> tuple[BeforeValidator, WithJsonSchema]:
    # the mark is replaced by patterns and examples in scenario/json_schema.py
    return BeforeValidator(read), WithJsonSchema({"quantity": kind})


def one_or_more(raw: Any) -> Any:
    """Take a single value for a list of one."""
    return (raw,) if isinstance(raw, str | int | float | units.Quantity) else raw


_DURATION, _DURATION_SCHEMA = _quantity("duration", units.parse_duration)
_WHEN, _WHEN_SCHEMA = _quantity("when", units.parse_when)
_SHARE, _SHARE_SCHEMA = _quantity("share", units.parse_share)
_PERCENT, _PERCENT_SCHEMA = _quantity("percent", units.parse_percent)
_FACTOR, _FACTOR_SCHEMA = _quantity("factor", units.parse_factor)
_INCREASE, _INCREASE_SCHEMA = _quantity("factor", units.parse_increase)
_PER_DAY, _PER_DAY_SCHEMA = _quantity("per_day", units.parse_rate_per_day)
_PER_HOUR, _PER_HOUR_SCHEMA = _quantity("per_hour", units.parse_rate_per_hour)
_CLOCK, _CLOCK_SCHEMA = _quantity("clock", units.parse_clock)
_FLOW, _FLOW_SCHEMA = _quantity("flow", units.parse_flow)
_MOMENT, _MOMENT_SCHEMA = _quantity("moment", units.parse_moment)
_YES_NO, _YES_NO_SCHEMA = _quantity("yes_no", units.parse_yes_no)
_COUNT, _COUNT_SCHEMA = _quantity("count", units.parse_count)
_NUMBER, _NUMBER_SCHEMA = _quantity("number", units.parse_number)
_MONEY, _MONEY_SCHEMA = _quantity("money", units.parse_money)

#: Whole seconds [s], written like ``25 min``, ``3 h``, ``1 h 30 min``, ``2 d``.
Duration = Annotated[int, _DURATION, _DURATION_SCHEMA]
#: Time after the start [s]; the loader brings ``day 6, 18:00`` and ``2031-01-11 18:00`` to it.
When = Annotated[int, _WHEN, _WHEN_SCHEMA]
#: Share 0..1, written like ``95 %``.
Share = Annotated[float, _SHARE, _SHARE_SCHEMA]
#: Share that may exceed 1, written like ``150 %``.
Percent = Annotated[float, _PERCENT, _PERCENT_SCHEMA]
#: Factor of something usual: ``150 %`` and ``+50 %`` are 1.5, ``50 %`` and ``-50 %`` are 0.5.
Factor = Annotated[float, _FACTOR, _FACTOR_SCHEMA]
#: The same, 1 or more.
Increase = Annotated[float, _INCREASE, _INCREASE_SCHEMA]
#: Events per day, written like ``4 per day``, ``0.5 per h``, ``3 per week``.
PerDay = Annotated[float, _PER_DAY, _PER_DAY_SCHEMA]
#: Events per hour, written like ``12 per h``.
PerHour = Annotated[float, _PER_HOUR, _PER_HOUR_SCHEMA]
#: Second of the day 0..86400, written like ``07:00``.
ClockTime = Annotated[int, _CLOCK, _CLOCK_SCHEMA]
#: Flow [L/min], written like ``170 L/min``.
Flow = Annotated[float, _FLOW, _FLOW_SCHEMA]
#: Date and time of day without zone, written like ``2031-01-06 07:00``.
Moment = Annotated[datetime, _MOMENT, _MOMENT_SCHEMA]
#: Yes or no.
YesNo = Annotated[bool, _YES_NO, _YES_NO_SCHEMA]
#: Whole number, 0 or more.
Count = Annotated[int, _COUNT, _COUNT_SCHEMA]
#: Plain number without unit.
Number = Annotated[float, _NUMBER, _NUMBER_SCHEMA]
#: Amount of money in the scenario's currency.
Money = Annotated[float, _MONEY, _MONEY_SCHEMA]

#: How each type is written back to text.
WRITERS: dict[Any, Callable[[Any], str]] = {
    units.parse_duration: units.duration_text,
    units.parse_when: units.duration_text,
    units.parse_share: units.share_text,
    units.parse_percent: units.share_text,
    units.parse_factor: units.share_text,
    units.parse_increase: units.share_text,
    units.parse_rate_per_day: units.rate_text,
    units.parse_rate_per_hour: units.hourly_rate_text,
    units.parse_clock: units.clock_text,
    units.parse_flow: units.flow_text,
    units.parse_moment: units.moment_text,
    units.parse_yes_no: units.yes_no_text,
    units.parse_count: str,
    units.parse_number: units.number_text,
    units.parse_money: units.number_text,
}
