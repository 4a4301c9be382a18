"""What can be wrong with a user's input, said for the person at the keyboard."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from itertools import groupby, islice
from operator import index

#: more faults of one kind than this are told as one
MOST_ALIKE = 5
#: what was found is told with this many characters at most
LONGEST_ECHO = 60
_LONGEST_PART = 4_500


def echo(found: object, most: int = LONGEST_ECHO) -> str:
    """Write text from a file as it may stand in a message: short, one line, all of it visible."""
    text = str(found)
    if len(text) > most:
        kept = text[: most - 3]
        # at the end of a word, where there is one not far back
        whole = kept.rpartition(" ")[0]
        text = (whole if len(whole) > most // 2 else kept) + "..."
    return "".join(one if one.isprintable() or one == "\u00a0" else repr(one)[1:-1] for one in text)


def whole_number(name: str, given: object, least: int = 0) -> int:
    """Return a whole number that was given in Python.

    Parameters
    ----------
    name : str
        What it is, for the message.
    given : object
        What was given.
    least : int
        The smallest that can be used.

    Raises
    ------
    TypeError
        If it is no whole number.
    ValueError
        If it is smaller.
    """
    try:
        number = index(given)  # type: ignore[arg-type]
    except TypeError:
        said = f"{name} is {echo(repr(given))}: it must be a whole number, {least} or more."
        raise TypeError(said) from None
    if number < least:
        raise ValueError(f"{name} is {number}: it must be {least} or more.")
    return number


@dataclass(frozen=True, order=True)
class Fault:
    """One thing that is wrong: where, what was found, what would be right.

    ``kind`` says what is alike, where ``right`` differs: many faults of one kind are told as one.
    """

    file: str
    line: int
    found: str
    right: str
    kind: str = field(default="", compare=False)

    def __str__(self) -> str:
        # whatever a message was made of, it cannot flood a terminal or steer it
        file, found = echo(self.file, _LONGEST_PART), echo(self.found, _LONGEST_PART)
        right = "\n".join(echo(line, _LONGEST_PART) for line in self.right.split("\n"))
        place = f"{file}:{self.line}" if self.line else file
        return f"{place}: {found}\n  {right}"


def more_like_this(count: int, lines: Iterable[int]) -> str:
    """Say how many more faults of a kind there are, and on which lines the first ones are.

    Lines that are 0 are none.
    """
    first = list(islice(dict.fromkeys(line for line in lines if line), 6))
    if not first:
        return f"\n  {count:,} more like this."
    where = ", ".join(str(line) for line in first[:5])
    others = " and others" if len(first) > 5 else ""
    return f"\n  {count:,} more like this, on line{'s' * (len(first) > 1)} {where}{others}."


def _alike_as_one(faults: list[Fault]) -> list[Fault]:
    def kind(fault: Fault) -> tuple[str, str]:
        return fault.file, fault.kind or fault.right

    told: list[Fault] = []
    for _, group in groupby(sorted(faults, key=lambda one: (kind(one), one.line)), key=kind):
        alike = list(group)
        if len(alike) > MOST_ALIKE:
            first, *others = alike
            more = more_like_this(len(others), (one.line for one in others))
            alike = [replace(first, right=first.right + more)]
        told += alike
    return sorted(told)


class ScenarioError(ValueError):
    """A scenario, log or option cannot be used; carries every fault that was found."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = _alike_as_one(list(dict.fromkeys(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[ScenarioError], tuple[list[Fault]]]:
        # from a worker process it comes back with its faults, not with their text
        return type(self), (self.faults,)


class OutOfReach(Exception):
    """No stock within the limits keeps the target; says why and which limit to widen."""


class NotFinished(Exception):
    """The computer did not let the work finish: memory ran out, or a worker process was killed."""
