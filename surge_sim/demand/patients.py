"""Patients of one surge: when they come, of which class, for how long, and in which room."""

from __future__ import annotations

import heapq
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.air import air_clearance_s
from surge_sim.demand.curve import moments_in_slots, moments_of_counts
from surge_sim.demand.draws import THINNING, Kind, Source, SurgeStreams
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.demand.spread import from_uniforms, quantile, whole_seconds
from surge_sim.demand.trace import PatientTable
from surge_sim.randomness import Purpose
from surge_sim.scenario.care import Rooms
from surge_sim.scenario.schema import Settings

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

BOARDED = -1
DIVERTED = -2


class Patients(NamedTuple):
    """Patients and what the drawing of their entries needs to know."""

    table: PatientTable
    #: numbers of the patients in the order of drawing: source by source, so that a source
    #: added at the end (a cluster, a disruption) moves no draw of the patients before it
    drawing: IntArray
    #: patients whose room is cleaned by somebody in a kit, and when and how long [s]
    cleaned: IntArray
    clean_due_s: IntArray
    clean_room_s: IntArray


#: moments of arrival [s] of the patients of each source, in the order of drawing
Arrived = list[tuple[int, IntArray]]


def _arrivals(settings: Settings, plan: Plan, streams: SurgeStreams) -> Arrived:
    arrivals, horizon_s = settings.arrivals, settings.horizon
    curve, undisturbed = plan.curve, plan.undisturbed
    if arrivals is None or curve is None or undisturbed is None:
        return []
    rng = streams.of_source(Purpose.ARRIVALS, Source.CURVE)
    drawn = [(int(Source.CURVE), moments_in_slots(rng, undisturbed.edges_s, undisturbed.drawn))]
    if arrivals.daily_counts is not None and arrivals.daily_counts.exact:
        rng = streams.of_source(Purpose.ARRIVALS, Source.COUNTS)
        counted_s = moments_of_counts(rng, arrivals, settings.start, horizon_s)
        drawn.append((int(Source.COUNTS), counted_s))
    if (curve.factor < 1).any():
        drawn = [
            (
                source,
                moments[_who_still_comes(source, moments, curve.edges_s, curve.factor, streams)],
            )
            for source, moments in drawn
        ]
    if (curve.factor > 1).any():
        more = (curve.drawn + curve.exact) * np.maximum(curve.factor - 1, 0)
        rng = streams.of_source(Purpose.ARRIVALS, Source.EXTRA)
        drawn.append((int(Source.EXTRA), moments_in_slots(rng, curve.edges_s, more)))
    if arrivals.present_at_start:
        here = np.zeros(arrivals.present_at_start, dtype=np.int64)
        drawn.insert(0, (int(Source.PRESENT), here))
    for number, cluster in enumerate(arrivals.clusters):
        source = Source.CLUSTERS + number
        share = streams.of_source(Purpose.CLUSTERS, source).random(cluster.patients)
        moments = cluster.at + (share * (cluster.within + 1)).astype(np.int64)
        drawn.append((source, moments[moments < horizon_s]))
    return drawn


def _who_still_comes(
    source: int, moments: IntArray, edges_s: IntArray, factor: NDArray, streams: SurgeStreams
) -> BoolArray:
    slot = np.searchsorted(edges_s, moments, side="right") - 1
    luck = streams.of_source(Purpose.ARRIVALS, THINNING + source).random(len(moments))
    return np.asarray(luck < factor[slot])


def _class_of_source(settings: Settings, source: int) -> int | None:
    """Number of the class that a cluster names, if it does."""
    if source < Source.CLUSTERS or settings.arrivals is None:
        return None
    name = settings.arrivals.clusters[source - Source.CLUSTERS].patient_class
    return None if name is None else list(settings.classes).index(name)


def _classes_and_stays(
    settings: Settings, plan: Plan, streams: SurgeStreams, arrived: Arrived
) -> tuple[IntArray, IntArray]:
    """Draw the class and the stay [s] of each patient in the order of drawing."""
    patients = sum(len(moments) for _, moments in arrived)
    luck, classes = np.empty(patients), np.empty(patients, dtype=np.int64)
    end = 0
    for source, moments in arrived:
        those = slice(end, end + len(moments))
        end += len(moments)
        named = _class_of_source(settings, source)
        if named is None:
            share = streams.of_source(Purpose.CLASSES, source).random(len(moments))
            classes[those] = plan.classes_below.searchsorted(share, side="right")
        else:
            classes[those] = named
        streams.of_source(Purpose.STAYS, source).random(out=luck[those])
    stay_s = np.ones(patients)
    for number, isolation in enumerate(plan.isolation):
        theirs = classes == number
        if theirs.any():
            stay_s[theirs] = quantile(isolation, luck[theirs])
    return classes, whole_seconds(stay_s, 1)


class _Clean(NamedTuple):
    """The terminal clean of each patient's room, as the demand plans it."""

    delay_s: int
    room_s: IntArray
    #: somebody in a kit cleans while the air is not yet cleared
    with_kit: bool


def _terminal_clean(
    rooms: Rooms | None, cleared_s: int, streams: SurgeStreams, arrived: Arrived
) -> _Clean | None:
    if rooms is None or rooms.terminal_clean is None:
        return None
    clean = rooms.terminal_clean
    luck = [
        streams.of_entries(Purpose.TERMINAL_CLEAN, Kind.CLEAN, source).random(len(moments))
        for source, moments in arrived
    ]
    return _Clean(
        delay_s=clean.delay,
        room_s=from_uniforms(clean.room_time, np.concatenate(luck or [np.zeros(0)])),
        with_kit=clean.when == "with a kit" and clean.delay < cleared_s,
    )


def _room_shut_s(clean: _Clean | None, cleared_s: int, count: int) -> list[int]:
    """From each patient's leaving to the opening of the room [s].

    A clean with a kit runs inside the clearance time; any other begins when the air is cleared.
    """
    if clean is None:
        return [cleared_s] * count
    if clean.with_kit:
        return [max(cleared_s, clean.delay_s + room_s) for room_s in clean.room_s.tolist()]
    return [max(cleared_s, clean.delay_s) + room_s for room_s in clean.room_s.tolist()]


def give_rooms(
    arrive_s: list[int], leave_s: list[int], shut_s: list[int], rooms: int | None, when_full: int
) -> list[int]:
    """Give the rooms to patients first come first served, the lowest number first.

    Parameters
    ----------
    arrive_s, leave_s : list of int
        Stays in order of arrival [s].
    shut_s : list of int
        From the leaving of each patient to the opening of the room [s].
    rooms : int or None
        How many; None: one for everybody.
    when_full : int
        `BOARDED` or `DIVERTED`.

    Returns
    -------
    list of int
        Number of the room, or ``when_full``, for the whole stay.
    """
    free = list(range(rooms or 0))
    taken: list[tuple[int, int]] = []
    given = []
    known = 0
    for arrive, leave, shut in zip(arrive_s, leave_s, shut_s, strict=True):
        while taken and taken[0][0] <= arrive:
            heapq.heappush(free, heapq.heappop(taken)[1])
        if free:
            room = heapq.heappop(free)
        elif rooms is None:
            room, known = known, known + 1
        else:
            given.append(when_full)
            continue
        heapq.heappush(taken, (leave + shut, room))
        given.append(room)
    return given


def draw_patients(settings: Settings, streams: SurgeStreams) -> Patients:
    """Draw the patients of one surge.

    Parameters
    ----------
    settings : Settings
        One surge's settings.
    streams : SurgeStreams
        Streams of the surge.

    Returns
    -------
    Patients
        In order of arrival; at the same second in the order of drawing: those present at the
        start, the curve, exact counts, extra patients, clusters. A patient for whom no room is
        free boards elsewhere for the whole stay and is still visited, or is diverted. The
        terminal clean is planned as if its wearer never waits for a kit, for demand does
        not depend on stock; only isolation rooms get one.
    """
    plan, rooms = plan_of(settings), settings.rooms
    arrived = _arrivals(settings, plan, streams)
    drawn_s = np.concatenate([moments for _, moments in arrived] or [np.zeros(0, dtype=np.int64)])
    classes, stay_s = _classes_and_stays(settings, plan, streams, arrived)
    order = drawn_s.argsort(kind="stable")
    drawing = np.empty_like(order)
    drawing[order] = np.arange(len(order))
    arrive_s, leave_s = drawn_s[order], (drawn_s + stay_s)[order]
    cleared_s = 0
    if rooms is not None:
        cleared_s = air_clearance_s(rooms.air_changes, rooms.clearance, rooms.mixing_factor)
    clean = _terminal_clean(rooms, cleared_s, streams, arrived)
    if clean is not None:
        clean = clean._replace(room_s=clean.room_s[order])
    room = np.array(
        give_rooms(
            arrive_s.tolist(),
            leave_s.tolist(),
            _room_shut_s(clean, cleared_s, len(order)),
            None if rooms is None else rooms.count,
            DIVERTED if rooms is not None and rooms.when_full == "divert" else BOARDED,
        ),
        dtype=np.int64,
    )
    table = PatientTable(arrive_s, leave_s, classes[order], room)
    for array in (table.arrive_s, table.leave_s, table.patient_class, table.room):
        array.setflags(write=False)
    cleaned = due_s = room_s = np.zeros(0, dtype=np.int64)
    if clean is not None and clean.with_kit:
        wanted = (room >= 0) & (leave_s + clean.delay_s < settings.horizon)
        # in the order of drawing, like every other table of entries before it is sorted
        cleaned = drawing[wanted[drawing]]
        due_s = leave_s[cleaned] + clean.delay_s
        room_s = clean.room_s[cleaned]
    return Patients(table, drawing.astype(np.int64), cleaned, due_s, room_s)
