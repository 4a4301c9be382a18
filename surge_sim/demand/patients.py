"""Patients of one surge: of which class, for how long, and in which room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.arrivals import Arrivals
from surge_sim.demand.blocks import Kind, Source, block_of
from surge_sim.demand.plan import Plan
from surge_sim.demand.residual import residual_stays
from surge_sim.demand.spread import whole_seconds
from surge_sim.randomness import Purpose, Streams

IntArray = NDArray[np.int64]


class Patients(NamedTuple):
    """Patients of one surge in the order of arrival; arrays of shape (patients,)."""

    arrive_s: IntArray
    #: end of isolation [s]; may lie past the horizon
    leave_s: IntArray
    patient_class: IntArray
    #: how long the terminal clean after each takes [s]; 0 where there is none
    clean_s: IntArray
    #: numbers of the patients in the order of drawing, which keeps the order of the sources
    drawn: IntArray


def draw_patients(plan: Plan, streams: Streams, arrivals: Sequence[Arrivals]) -> Patients:
    """Draw the class, the stay and the terminal clean of each patient.

    At the same second patients come in the order of drawing: those present at the start, the
    curve, exact counts, extra patients, clusters.
    """
    none = np.zeros(0, dtype=np.int64)
    drawn = [(none, none, none, none), *(_of_source(plan, streams, one) for one in arrivals)]
    at_s, classes, stay_s, clean_s = (np.concatenate(column) for column in zip(*drawn, strict=True))
    order = at_s.argsort(kind="stable")
    number = np.empty_like(order)
    number[order] = np.arange(len(order))
    return Patients(at_s[order], (at_s + stay_s)[order], classes[order], clean_s[order], number)


def _of_source(
    plan: Plan, streams: Streams, arrivals: Arrivals
) -> tuple[IntArray, IntArray, IntArray, IntArray]:
    """Return when the patients of a source come, their classes, stays [s] and cleans [s]."""
    source, at_s = arrivals
    count = len(at_s)
    found_there = source == Source.PRESENT and plan.found_below is not None
    luck = streams.stream(Purpose.STAYS, source).random(count)
    classes = _classes(plan, streams, source, count)
    part = streams.stream(Purpose.RESIDUAL_STAYS, source).random(count) if found_there else None
    stay_s = np.ones(count, dtype=np.int64)
    for number, isolation in enumerate(plan.isolation):
        theirs = np.flatnonzero(classes == number)
        if part is not None:
            stay_s[theirs] = residual_stays(isolation, luck[theirs], part[theirs])
        else:
            stay_s[theirs] = whole_seconds(isolation.quantile(luck[theirs]), 1)
    if plan.clean is None:
        return at_s, classes, stay_s, np.zeros(count, dtype=np.int64)
    clean = streams.stream(Purpose.TERMINAL_CLEAN, block_of(Kind.CLEAN, source)).random(count)
    return at_s, classes, stay_s, whole_seconds(plan.clean.quantile(clean), 0)


def _classes(plan: Plan, streams: Streams, source: int, count: int) -> IntArray:
    """Draw the class of each patient, unless a cluster names it."""
    if source >= Source.CLUSTERS:
        named = plan.cluster_classes[source - Source.CLUSTERS]
        if named is not None:
            return np.full(count, named, dtype=np.int64)
    below = plan.classes_below
    if source == Source.PRESENT and plan.found_below is not None:
        below = plan.found_below
    share = streams.stream(Purpose.CLASSES, source).random(count)
    return below.searchsorted(share, side="right")
