"""Compare what the two engines left behind of one surge, to the last bit."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

import numpy as np

from surge_sim.engine.log import Count, Outcome, RunLog, Score, Use
from surge_sim.engine.play import play, score
from surge_sim.equipment.case import Case
from surge_sim.equipment.causes import Cause
from surge_sim.units import HOUR_S

#: known when a need becomes one; when a kit comes to hand or patience ends; when the visit ends
_AT_NEED = ("entry", "part", "need_s")
_AT_ANSWER = ("outcome", "wait_s", "in_hand_s", "blower", "battery", "level", "failed_checks")
_AT_END = ("end_s", "alarm", "worn_s")
ROWS = (*_AT_NEED, *_AT_ANSWER, *_AT_END)
#: moment of a difference that belongs to the surge as a whole: after all others
AFTER_ALL_S = 2**62


@dataclass(frozen=True)
class Difference:
    """One value that the engines do not agree on."""

    #: moment of the surge that the value tells of [s], or `AFTER_ALL_S`
    at_s: int
    #: column of the log or field of the score, and which of its values
    what: str
    where: str
    reference: str
    compiled: str
    #: entry that the value belongs to, with the kit and battery of the reference, or -1
    entry: int = -1
    kit: int = -1
    battery: int = -1


@dataclass(frozen=True)
class Comparison:
    """Both engines on one surge."""

    entries: int
    rows: int
    #: values that were compared
    values: int
    #: time to play the surge for its log [s]
    reference_s: float
    compiled_s: float
    #: names of what differs, and the first event where the engines part
    differing: tuple[str, ...] = ()
    first: Difference | None = None


def differing_columns(reference: RunLog, compiled: RunLog) -> list[str]:
    """Return the names of the columns in which two logs differ: in shape, type or value."""
    names = []
    for name in RunLog.COLUMNS:
        one, other = getattr(reference, name), getattr(compiled, name)
        if one.dtype != other.dtype or not np.array_equal(one, other):
            names.append(name)
    if reference.given_up != compiled.given_up:
        names.append("given_up")
    return names


def compare_engines(case: Case) -> Comparison:
    """Play one surge in both engines, for the log and for the score, and compare everything.

    Parameters
    ----------
    case : Case
        What is played.

    Returns
    -------
    Comparison
    """
    reference, reference_s = _timed(lambda: play(*case, engine="reference"))
    compiled, compiled_s = _timed(lambda: play(*case, engine="compiled"))
    scores = score(*case, engine="reference"), score(*case, engine="compiled")
    names = [*differing_columns(reference, compiled), *_differing_counts(*scores)]
    sizes = [getattr(reference, name).size for name in RunLog.COLUMNS]
    return Comparison(
        entries=case.demand.entries,
        rows=len(reference.entry),
        values=sum(sizes) + 1 + len(Score._fields),
        reference_s=reference_s,
        compiled_s=compiled_s,
        differing=tuple(names),
        first=first_difference(reference, compiled, *scores) if names else None,
    )


def _timed(played: Callable[[], RunLog]) -> tuple[RunLog, float]:
    start = time.perf_counter()
    log = played()
    return log, time.perf_counter() - start


def _differing_counts(reference: Score, compiled: Score) -> list[str]:
    return [
        f"score.{name}"
        for name, one, other in zip(Score._fields, reference, compiled, strict=True)
        if one != other
    ]


def first_difference(
    reference: RunLog, compiled: RunLog, score_one: Score, score_other: Score
) -> Difference | None:
    """Return the earliest event on which two logs do not agree, or None.

    At the same moment rows come before tables, and rows in their order. What belongs to the
    surge as a whole (counts, peaks, the score) is named only when nothing earlier differs.
    """
    found = [
        *_rows(reference, compiled),
        *_causes(reference, compiled),
        *_lacks(reference, compiled),
        *_use_by_hour(reference, compiled),
        *_totals(reference, compiled, score_one, score_other),
    ]
    return min(found, key=lambda one: one.at_s, default=None)


def _rows(reference: RunLog, compiled: RunLog) -> Iterator[Difference]:
    """For each row that differs, the earliest value; the rows by which one log is longer."""
    common = min(len(reference.entry), len(compiled.entry))
    unlike = np.zeros(common, dtype=np.bool_)
    for name in ROWS:
        unlike |= getattr(reference, name)[:common] != getattr(compiled, name)[:common]
    for row in np.flatnonzero(unlike).tolist():
        values = [
            (min(_moment(log, name, row) for log in (reference, compiled)), place, name)
            for place, name in enumerate(ROWS)
            if getattr(reference, name)[row] != getattr(compiled, name)[row]
        ]
        at_s, _, name = min(values)
        ours, theirs = (_value(log, name, row) for log in (reference, compiled))
        yield _of_row(reference, row, at_s, name, ours, theirs)
    longer = max(reference, compiled, key=lambda log: len(log.entry))
    for row in range(common, len(longer.entry)):
        there = f"need at {longer.need_s[row]} s"
        ours, theirs = (there if len(log.entry) > row else "no such need" for log in
                        (reference, compiled))  # fmt: skip
        yield _of_row(longer, row, int(longer.need_s[row]), "needs", ours, theirs)


def _of_row(
    log: RunLog, row: int, at_s: int, name: str, reference: str, compiled: str
) -> Difference:
    entry, part = int(log.entry[row]), int(log.part[row])
    where = f"entry {entry}" + (f", need {part + 1}" if part else "")
    kit, battery = int(log.blower[row]), int(log.battery[row])
    return Difference(at_s, name, where, reference, compiled, entry, kit, battery)


def _moment(log: RunLog, name: str, row: int) -> int:
    """When the value came to be [s]."""
    need_s, end_s = int(log.need_s[row]), int(log.end_s[row])
    if name in _AT_NEED:
        return need_s
    answer_s = need_s + int(log.wait_s[row])
    return end_s if name in _AT_END and end_s >= 0 else answer_s


def _value(log: RunLog, name: str, row: int) -> str:
    value = int(getattr(log, name)[row])
    if name == "outcome" and value in {int(outcome) for outcome in Outcome}:
        return Outcome(value).name.lower().replace("_", " ")
    return "none" if value == -1 else str(value)


def _causes(reference: RunLog, compiled: RunLog) -> Iterator[Difference]:
    """For each row whose wait is put down to other causes, the first such cause."""
    common = min(len(reference.waited_s), len(compiled.waited_s))
    unlike = reference.waited_s[:common] != compiled.waited_s[:common]
    for row in np.flatnonzero(unlike.any(axis=1)).tolist():
        cause = int(np.argmax(unlike[row]))
        at_s = min(_moment(log, "wait_s", row) for log in (reference, compiled))
        ours, theirs = (
            f"{log.waited_s[row, cause]} s: {_named(Cause, cause)}" for log in (reference, compiled)
        )
        yield _of_row(reference, row, at_s, "waited_s", ours, theirs)


def _lacks(reference: RunLog, compiled: RunLog) -> Iterator[Difference]:
    """The first moment at which the first in line lacks something else."""
    before, after = (
        list(zip(log.missing_at_s.tolist(), log.missing_mask.tolist(), strict=False))
        for log in (reference, compiled)
    )
    for one, other in zip_longest(before, after):
        if one != other:
            at_s = min(pair[0] for pair in (one, other) if pair is not None)
            ours, theirs = (
                "no change" if p is None else f"{p[1]} from {p[0]} s" for p in (one, other)
            )
            yield Difference(at_s, "missing_mask", "what the first in line lacks", ours, theirs)
            return


def _use_by_hour(reference: RunLog, compiled: RunLog) -> Iterator[Difference]:
    if reference.use_area.shape != compiled.use_area.shape:
        shapes = str(reference.use_area.shape), str(compiled.use_area.shape)
        yield Difference(AFTER_ALL_S, "use_area", "shape", *shapes)
        return
    states, hours = np.nonzero(reference.use_area != compiled.use_area)
    if len(hours):
        first = int(np.argmin(hours))
        state, hour = int(states[first]), int(hours[first])
        one, other = (f"{log.use_area[state, hour]} item-seconds" for log in (reference, compiled))
        # known at the end of the hour only: what went wrong in it comes first
        yield Difference((hour + 1) * HOUR_S, "use_area", _named(Use, state), one, other)


def _totals(
    reference: RunLog, compiled: RunLog, score_one: Score, score_other: Score
) -> Iterator[Difference]:
    for column, kind in (("counts", Count), ("use_peak", Use)):
        ours, theirs = (getattr(log, column).tolist() for log in (reference, compiled))
        for place, (one, other) in enumerate(zip(ours, theirs, strict=False)):
            if one != other:
                yield Difference(AFTER_ALL_S, column, _named(kind, place), str(one), str(other))
        if len(ours) != len(theirs):
            yield Difference(AFTER_ALL_S, column, "length", str(len(ours)), str(len(theirs)))
    if reference.given_up != compiled.given_up:
        said = str(reference.given_up), str(compiled.given_up)
        yield Difference(AFTER_ALL_S, "given_up", "whole surge", *said)
    for name in _differing_counts(score_one, score_other):
        field = name.removeprefix("score.")
        said = str(getattr(score_one, field)), str(getattr(score_other, field))
        yield Difference(AFTER_ALL_S, name, "whole surge", *said)
    for name in RunLog.COLUMNS:
        one, other = (str(getattr(log, name).dtype) for log in (reference, compiled))
        if one != other:
            yield Difference(AFTER_ALL_S, name, "type of numbers", one, other)


def _named(kind: Any, place: int) -> str:
    known = {int(one): one.name.lower().replace("_", " ") for one in kind}
    return str(known.get(place, place))
