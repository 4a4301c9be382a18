"""Patients: when they come, of which class, for how long, and in which room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import MOMENT_BITS
from surge_sim.demand.curve import moments_in_slots, moments_of_counts
from surge_sim.demand.draws import Kind, Source, SurgeStreams
from surge_sim.demand.plan import SurgeStart
from surge_sim.demand.residual import residual_stays
from surge_sim.demand.rooms import BOARDED, DIVERTED, give_rooms, shut_s
from surge_sim.demand.size import refuse_patients
from surge_sim.demand.spread import quantile, whole_seconds
from surge_sim.demand.trace import PatientTable
from surge_sim.randomness import Purpose
from surge_sim.scenario.schema import Settings

IntArray = NDArray[np.int64]


class Stays(NamedTuple):
    """Visited part of each patient's stay; arrays of shape (patients,).

    In the order of drawing: source by source, so that a source added at the end (a cluster, a
    disruption) moves no draw of the patients before it.
    """

    #: number of the patient
    number: IntArray
    patient_class: IntArray
    from_s: IntArray
    to_s: IntArray


class Patients(NamedTuple):
    """Patients and what the drawing of their entries needs to know."""

    table: PatientTable
    stays: Stays
    #: patients whose room is cleaned by somebody in a kit, and when and how long [s], each of
    #: shape (cleans,)
    cleaned: IntArray
    clean_due_s: IntArray
    clean_room_s: IntArray


#: moments of arrival [s] of a surge's patients, source by source, in the order of drawing
Arrived = list[tuple[int, IntArray]]


def _arrivals(surges: Sequence[SurgeStart]) -> list[Arrived]:
    """Draw when the patients of each surge come."""
    curve = surges[0].plan.undisturbed
    if curve is None:
        return [[] for _ in surges]
    for one in surges:
        refuse_patients(one.streams, _expected(one))
    rngs = [one.streams.of_source(Purpose.ARRIVALS, Source.CURVE) for one in surges]
    by_curve = moments_in_slots(rngs, curve.edges_s, curve.drawn)
    return [_all_sources(one, moments) for one, moments in zip(surges, by_curve, strict=True)]


def _expected(surge: SurgeStart) -> float:
    """Patients to expect in a surge."""
    arrivals, curve = surge.settings.arrivals, surge.plan.curve
    if arrivals is None or curve is None:
        return 0.0
    in_clusters = sum(cluster.patients for cluster in arrivals.clusters)
    return float(curve.expected.sum()) + arrivals.present_at_start + in_clusters


def _all_sources(surge: SurgeStart, by_curve: IntArray) -> Arrived:
    """Draw the patients of one surge who do not come by the curve, and put all together."""
    settings, streams, curve = surge.settings, surge.streams, surge.plan.curve
    arrivals, horizon_s = settings.arrivals, settings.horizon
    assert arrivals is not None and curve is not None, "whoever comes by the curve has one"
    drawn = [(int(Source.CURVE), by_curve)]
    if arrivals.daily_counts is not None and arrivals.daily_counts.exact:
        rng = streams.of_source(Purpose.ARRIVALS, Source.COUNTS)
        counted_s = moments_of_counts(rng, arrivals, settings.start, horizon_s)
        drawn.append((int(Source.COUNTS), counted_s))
    if curve.rises:
        more = (curve.drawn + curve.exact) * (curve.factor - 1)
        rng = streams.of_source(Purpose.ARRIVALS, Source.EXTRA)
        (extra,) = moments_in_slots([rng], curve.edges_s, more)
        drawn.append((int(Source.EXTRA), extra))
    if arrivals.present_at_start:
        here = np.zeros(arrivals.present_at_start, dtype=np.int64)
        drawn.insert(0, (int(Source.PRESENT), here))
    for number, cluster in enumerate(arrivals.clusters):
        source = Source.CLUSTERS + number
        share = streams.of_source(Purpose.CLUSTERS, source).random(cluster.patients)
        moments = cluster.at + (share * (cluster.within + 1)).astype(np.int64)
        drawn.append((source, moments[moments < horizon_s]))
    return drawn


def _class_of_source(settings: Settings, source: int) -> int | None:
    """Number of the class that a cluster names, if it does."""
    if source < Source.CLUSTERS or settings.arrivals is None:
        return None
    name = settings.arrivals.clusters[source - Source.CLUSTERS].patient_class
    return None if name is None else list(settings.classes).index(name)


def _source_by_source(
    surges: Sequence[SurgeStart], arrived: Sequence[Arrived]
) -> Iterator[tuple[SurgeStreams, int, slice]]:
    """Yield the sources of each surge, and where their patients stand among all."""
    end = 0
    for one, own in zip(surges, arrived, strict=True):
        for source, moments in own:
            end += len(moments)
            yield one.streams, source, slice(end - len(moments), end)


def _classes_and_stays(
    surges: Sequence[SurgeStart], arrived: Sequence[Arrived], patients: int
) -> tuple[IntArray, IntArray]:
    """Draw the class and the stay [s] of each patient in the order of drawing."""
    settings, plan = surges[0].settings, surges[0].plan
    share, luck, part = np.zeros(patients), np.empty(patients), np.zeros(patients)
    found = np.zeros(patients, dtype=np.bool_)
    named = []
    for streams, source, those in _source_by_source(surges, arrived):
        number = 0 if len(plan.isolation) == 1 else _class_of_source(settings, source)
        if number is None:
            streams.of_source(Purpose.CLASSES, source).random(out=share[those])
        else:
            named.append((those, number))
        streams.of_source(Purpose.STAYS, source).random(out=luck[those])
        if source == Source.PRESENT and plan.found_below is not None:
            streams.of_source(Purpose.RESIDUAL_STAYS, source).random(out=part[those])
            found[those] = True
    classes = plan.classes_below.searchsorted(share, side="right")
    if plan.found_below is not None:
        classes[found] = plan.found_below.searchsorted(share[found], side="right")
    for those, number in named:
        classes[those] = number
    stay_s = np.ones(patients, dtype=np.int64)
    for number, isolation in enumerate(plan.isolation):
        theirs = (classes == number) & ~found
        if theirs.any():
            stay_s[theirs] = whole_seconds(quantile(isolation, luck[theirs]), 1)
        theirs = (classes == number) & found
        if theirs.any():
            stay_s[theirs] = residual_stays(isolation, luck[theirs], part[theirs])
    return classes, stay_s


def _clean_times(
    surges: Sequence[SurgeStart], arrived: Sequence[Arrived], patients: int
) -> IntArray:
    """Draw how long the terminal clean after each patient takes [s], in the order of drawing."""
    luck, fit = np.zeros(patients), surges[0].plan.clean
    if fit is None:
        return luck.astype(np.int64)
    if fit.shape != "fixed":
        for streams, source, those in _source_by_source(surges, arrived):
            rng = streams.of_entries(Purpose.TERMINAL_CLEAN, Kind.CLEAN, source)
            rng.random(out=luck[those])
    return whole_seconds(quantile(fit, luck), 0)


def draw_patients(surges: Sequence[SurgeStart]) -> list[Patients]:
    """Draw the patients of some surges side by side.

    Parameters
    ----------
    surges : sequence of SurgeStart
        Surges of one scenario with the same ``plan.patients_alike``.

    Returns
    -------
    list of Patients
        Those of each surge in order of arrival; at the same second in the order of drawing: those
        present at the start, the curve, exact counts, extra patients, clusters. A patient for whom
        no room is free boards elsewhere for the whole stay and is still visited, or is diverted.
        The terminal clean is planned as if its wearer never waits for a kit, for demand does not
        depend on stock; only isolation rooms get one.
    """
    arrived = _arrivals(surges)
    counts = [sum(len(moments) for _, moments in own) for own in arrived]
    bounds = [0, *accumulate(counts)]
    everybody = [moments for own in arrived for _, moments in own]
    drawn_s = np.concatenate(everybody or [np.zeros(0, dtype=np.int64)])
    classes, stay_s = _classes_and_stays(surges, arrived, len(drawn_s))
    place = np.arange(len(surges)).repeat(counts)
    order = (place << MOMENT_BITS | drawn_s).argsort(kind="stable")
    drawing = np.empty_like(order)
    drawing[order] = np.arange(len(order))
    arrive_s, leave_s = drawn_s[order], (drawn_s + stay_s)[order]
    clean_s = _clean_times(surges, arrived, len(order))[order]
    from_s, to_s = arrive_s.tolist(), leave_s.tolist()
    given: list[int] = []
    for surge, (start, end) in zip(surges, pairwise(bounds), strict=True):
        rooms = surge.settings.rooms
        given += give_rooms(
            from_s[start:end],
            to_s[start:end],
            shut_s(surge.plan.clearance_s, rooms, clean_s[start:end]),
            None if rooms is None else rooms.count,
            DIVERTED if rooms is not None and rooms.when_full == "divert" else BOARDED,
        )
    table = PatientTable(arrive_s, leave_s, classes[order], np.array(given, dtype=np.int64))
    return _apart(surges, table, drawing, clean_s, place, bounds)


def _apart(
    surges: Sequence[SurgeStart],
    table: PatientTable,
    drawing: IntArray,
    clean_s: IntArray,
    place: IntArray,
    bounds: Sequence[int],
) -> list[Patients]:
    """Part the patients of surges that were drawn side by side."""
    columns = table.arrive_s, table.leave_s, table.patient_class, table.room
    for array in columns:
        array.setflags(write=False)
    settings = surges[0].settings
    stays = _visited_stays(settings.horizon, table, drawing)
    cleaned = due_s = room_s = np.zeros(0, dtype=np.int64)
    in_kits = [one.plan.cleaned_in_a_kit for one in surges]
    if any(in_kits):
        assert settings.rooms is not None and settings.rooms.terminal_clean is not None
        due = table.leave_s + settings.rooms.terminal_clean.delay
        wanted = (table.room >= 0) & (due < settings.horizon) & np.array(in_kits)[place]
        # in the order of drawing, like every other table of entries before it is sorted
        cleaned = drawing[wanted[drawing]]
        due_s, room_s = due[cleaned], clean_s[cleaned]
    cleans = place[cleaned].searchsorted(np.arange(len(bounds))).tolist()
    return [
        Patients(
            PatientTable(*(column[start:end] for column in columns)),
            Stays(drawing[start:end] - start, *(column[start:end] for column in stays)),
            cleaned[first:last] - start,
            due_s[first:last],
            room_s[first:last],
        )
        for (start, end), (first, last) in zip(pairwise(bounds), pairwise(cleans), strict=True)
    ]


def _visited_stays(
    horizon_s: int, table: PatientTable, drawing: IntArray
) -> tuple[IntArray, IntArray, IntArray]:
    """Cut the stays at the horizon; diverted patients are not visited."""
    from_s = np.minimum(table.arrive_s, horizon_s)
    to_s = np.minimum(table.leave_s, horizon_s)
    to_s = np.where(table.room == DIVERTED, from_s, to_s)
    return table.patient_class[drawing], from_s[drawing], to_s[drawing]
