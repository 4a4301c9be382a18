"""One decision of a path beside the choices that were not taken: in sentences and in numbers."""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

from surge_sim.drill.compare import Comparison, Worth, column
from surge_sim.report.document import Column, Table
from surge_sim.report.exercise_picture import Against
from surge_sim.report.exercise_rules import conditions_words
from surge_sim.report.exercise_words import decision_named
from surge_sim.report.rounding import NONE, about, interval_numbers, number
from surge_sim.scenario.exercise import Choices
from surge_sim.scenario.exercise_file import Moment
from surge_sim.scenario.timeline import CareBundled
from surge_sim.statistics.intervals import Interval

#: where all choices but the one taken were struck out; and of each that was
ALONE = "All but “{}” were struck out."
STRUCK = "Struck out by your own rules and not compared: “{}”."


class Decision(NamedTuple):
    """One decision of a path beside the choices that were not taken, with none struck out."""

    name: str
    chosen: str
    #: who allows the choices, of which some need it
    conditions: tuple[str, ...]
    against: tuple[Against, ...]
    #: one for each choice that was not taken
    sentences: tuple[str, ...]
    tables: tuple[Table, ...]
    #: of the choices that the group's own rules forbid
    struck: tuple[str, ...]


def decision(
    comparison: Comparison, choices: Choices, place: int, struck: Collection[int] = ()
) -> Decision:
    """Return one decision of a path beside the choices that were not taken.

    Parameters
    ----------
    comparison : Comparison
        Every path on the played surge and on others.
    choices : Choices
        The path that was taken.
    place : int
        Which decision.
    struck : collection of int
        Choices that the group's own rules forbid: nothing is said of them.
    """
    exercise = comparison.exercise
    moment, chosen = exercise.moments[place], choices[place]
    left = [one for one in range(len(moment.choices)) if one not in struck]
    others = [one for one in left if one != chosen]
    name = moment.choices[chosen].name
    against, sentences, tables = [], [], []
    for one in others:
        other = moment.choices[one]
        row = Against(other.name, comparison.worth(choices, place, one))
        visits = comparison.worth(choices, place, one, "entries")
        against.append(row)
        sentences.append(decision_sentence(name, row) + _visits_words(moment, chosen, one, visits))
        tables.append(_worth_table(comparison, choices, place, one))
    return Decision(
        decision_named(exercise, place),
        name,
        conditions_words([moment.choices[one] for one in left]),
        tuple(against),
        tuple(sentences) or (ALONE.format(name),),
        tuple(tables),
        tuple(STRUCK.format(moment.choices[one].name) for one in sorted(struck)),
    )


def decision_sentence(taken: str, row: Against) -> str:
    """Say what a choice was worth on average, what it came to here, and what was variation."""
    name, worth = row
    variation = _variation(worth).removeprefix("-")
    return (
        f"“{taken}” brought {_on_average(worth)} “{name}”; here {_here(worth)}. What differs from "
        f"the average, {variation} entries, is random variation of this surge, not your decision."
    )


def _visits_words(moment: Moment, chosen: int, other: int, visits: Worth) -> str:
    """Say which of two choices leaves visits out of the count, and how many."""
    average = visits.on_average.estimate or 0.0
    if not visits.here and not average:
        return ""
    fewer = moment.choices[chosen if (average or visits.here) < 0 else other]
    if not isinstance(fewer.does, CareBundled):
        return f" With “{fewer.name}” {abs(visits.here):,} fewer entries are counted here."
    return (
        f" With “{fewer.name}” {abs(visits.here):,} fewer visits are made separately and counted "
        f"here, {number(abs(average))} on average; licensed staff choose them so that no care is "
        "left out."
    )


def _on_average(worth: Worth) -> str:
    """Say an average difference: ``17.1 (15.5 to 18.9) fewer late entries on average than``."""
    estimate, low, high = worth.on_average
    if not estimate or (low is not None and high is not None and low <= 0.0 <= high):
        return "no clear difference on average from"
    fewer = estimate < 0
    size = Interval(-estimate, _minus(high), _minus(low)) if fewer else worth.on_average
    middle, limits = interval_numbers(size)
    said = f"{middle} ({limits})" if limits else middle
    return f"{said} {'fewer' if fewer else 'more'} late entries on average than"


def _variation(worth: Worth) -> str:
    """Write what was random variation, with the decimals of the average."""
    middle, _ = interval_numbers(worth.on_average)
    digits = len(middle.partition(".")[2])
    shown = f"{worth.variation:,.{digits}f}"
    return shown if _size(shown) else "0"


def _size(shown: str) -> float:
    return abs(float(shown.replace(",", "")))


def _minus(limit: float | None) -> float | None:
    return None if limit is None else -limit


def _here(worth: Worth) -> str:
    if not worth.here:
        return "as many"
    return f"{abs(worth.here):,} {'fewer' if worth.here < 0 else 'more'}"


def _fewer(shown: str) -> str:
    """Write a difference in words: ``22 fewer``, ``3 more``, ``as many``."""
    if shown == "0":
        return "as many"
    return f"{shown[1:]} fewer" if shown.startswith("-") else f"{shown} more"


def _average_words(average: Interval) -> str:
    """Write an average difference: ``33.0 fewer (29.4 to 36.9)``, ``1 more (1 fewer to 3)``."""
    middle, limits = interval_numbers(average)
    if not limits:
        return _fewer(middle)
    low, high = limits.split(" to ")
    if low.startswith("-") and high.startswith("-"):
        return f"{_fewer(middle)} ({high[1:]} to {low[1:]})"
    if low.startswith("-"):
        return f"{_fewer(middle)} ({_fewer(low)} to {_fewer(high)})"
    return f"{_fewer(middle)} ({limits})"


def _worth_table(comparison: Comparison, choices: Choices, place: int, other: int) -> Table:
    """Return what a choice is worth beside another one: in late entries, visits and hours."""
    name = comparison.exercise.moments[place].choices[other].name
    late, urgent, visits = (
        comparison.worth(choices, place, other, of) for of in ("late", "urgent_late", "entries")
    )
    rows = [_worth_row("late entries", late)]
    if urgent.here or urgent.differences.any():
        rows.append(_worth_row("urgent late", urgent))
    if visits.here or visits.differences.any():
        rows.append(_worth_row("visits counted", visits))
    instead = (*choices[:place], other, *choices[place + 1 :])
    mine, theirs = (
        about(int(column(comparison.here[comparison.place_of(one)], "delayed_s")), longest="h")
        for one in (choices, instead)
    )
    hours = f"{mine} against {theirs}" if mine != theirs else f"{mine} in both"
    rows.append(("wearer hours", hours, NONE, NONE))
    columns = (
        Column(f"Than with “{name}”", align="left"),
        Column("here"),
        Column("on average (95 % interval)"),
        Column("random variation here"),
    )
    return Table(columns, tuple(rows))


def _worth_row(name: str, worth: Worth) -> tuple[str, ...]:
    return (
        name,
        _fewer(f"{worth.here:,}"),
        _average_words(worth.on_average),
        _fewer(_variation(worth)),
    )
