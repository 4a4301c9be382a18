"""Compare what the two engines left behind of one surge, to the last bit."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from surge_sim.engine.events import EventLog
from surge_sim.engine.log import RunLog, Score
from surge_sim.engine.play import play, score
from surge_sim.equipment.case import Case


@dataclass(frozen=True)
class Parting:
    """Where the engines part: the first event that is not the same in both."""

    #: events that are the same before it
    same: int
    #: all events of each engine
    reference: EventLog
    compiled: EventLog


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
    #: names of the columns of the log and fields of the score that differ
    differing: tuple[str, ...] = ()
    #: where the events part, if they do
    parting: Parting | None = None


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


def parting(reference: EventLog, compiled: EventLog) -> Parting | None:
    """Find the first event that is not the same in both; None when all are."""
    common = min(len(reference), len(compiled))
    unlike = np.flatnonzero((reference[:common] != compiled[:common]).any(axis=1))
    if len(unlike) == 0 and len(reference) == len(compiled):
        return None
    return Parting(int(unlike[0]) if len(unlike) else common, reference, compiled)


def compare_engines(case: Case) -> Comparison:
    """Play one surge in both engines, for the log, the events and the score; compare everything.

    Parameters
    ----------
    case : Case
        What is played.

    Returns
    -------
    Comparison
    """
    reference, reference_s = _timed(lambda: play(*case, engine="reference", events=True))
    compiled, compiled_s = _timed(lambda: play(*case, engine="compiled"))
    ours, theirs = reference.events, play(*case, engine="compiled", events=True).events
    assert ours is not None and theirs is not None
    scores = score(*case, engine="reference"), score(*case, engine="compiled")
    parted = parting(ours, theirs)
    sizes = [getattr(reference, name).size for name in RunLog.COLUMNS]
    return Comparison(
        entries=case.demand.entries,
        rows=len(reference.entry),
        values=sum(sizes) + 1 + len(Score._fields) + ours.size,
        reference_s=reference_s,
        compiled_s=compiled_s,
        differing=(
            *differing_columns(reference, compiled),
            *_differing_counts(*scores),
            *(["events"] if parted else []),
        ),
        parting=parted,
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
