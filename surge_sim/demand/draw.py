"""From a scenario to one surge's table of needs."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import MOMENT_BITS
from surge_sim.demand.draws import SurgeStreams
from surge_sim.demand.entries import SurgeDraw, draw_entries, surge_draws
from surge_sim.demand.log_input import log_columns
from surge_sim.demand.plan import SurgeStart, plan_of
from surge_sim.demand.trace import BoolArray, Demand, IntArray, PatientTable
from surge_sim.demand.wearers import named_wearers
from surge_sim.randomness import Sample, streams_of_several
from surge_sim.scenario.schema import Settings

if TYPE_CHECKING:
    from surge_sim.scenario.scenario import Scenario

Columns = dict[str, NDArray[Any]]


def draw_demand(
    scenario: Scenario, seed: int = 1, surge: int = 0, sample: Sample = Sample.RUN
) -> Demand:
    """Draw one surge's demand, complete before any equipment runs.

    Parameters
    ----------
    scenario : Scenario
        A loaded scenario.
    seed : int
        The user's seed, 0 or more.
    surge : int
        Number of the surge, from 0.
    sample : Sample
        Set of surges; sets share no draws.

    Returns
    -------
    Demand
        The same arguments always give the same table.
    """
    settings = scenario.settings_for(seed, sample, surge)
    return draw_from_settings(settings, seed, surge, sample)


def draw_surges(
    settings: Sequence[Settings], surges: Sequence[int], seed: int = 1, sample: Sample = Sample.RUN
) -> list[Demand]:
    """Draw the demand of some surges; small ones take two fifths of the time when drawn together.

    Parameters
    ----------
    settings : sequence of Settings
        Of each surge, ranges drawn.
    surges : sequence of int
        Numbers of the surges, from 0.
    seed, sample
        As in `draw_demand`.

    Returns
    -------
    list of Demand
        The same as from `draw_from_settings` for each.
    """
    streams_of_several(seed, int(sample), surges)
    if any(one.entries is not None for one in settings):
        return [
            draw_from_settings(one, seed, surge, sample)
            for one, surge in zip(settings, surges, strict=True)
        ]
    starts = (
        _start(one, SurgeStreams(seed, int(sample), surge))
        for one, surge in zip(settings, surges, strict=True)
    )
    traces: list[Demand] = []
    for _, alike in groupby(surge_draws(starts), key=lambda one: one.plan.entries_alike):
        traces += _traces(list(alike))
    return traces


def draw_from_settings(
    settings: Settings, seed: int = 1, surge: int = 0, sample: Sample = Sample.RUN
) -> Demand:
    """Draw the demand of settings in which no range is left; see :func:`draw_demand`."""
    streams = SurgeStreams(seed, int(sample), surge)
    rows = None if settings.entries is None else settings.entries.rows
    if rows is None:
        return _traces(list(surge_draws([_start(settings, streams)])))[0]
    logged, shift_end_s = log_columns(settings, streams, rows)
    logged["surge"] = np.zeros(len(rows), dtype=np.int64)
    columns = _in_order(logged, np.ones(len(rows), dtype=np.bool_))
    del columns["surge"]
    for column in columns.values():
        column.setflags(write=False)
    return _trace(settings, streams, columns, shift_end_s, rows.role_names, (), _nobody())


def _start(settings: Settings, streams: SurgeStreams) -> SurgeStart:
    return SurgeStart(settings, plan_of(settings), streams)


def _traces(surges: Sequence[SurgeDraw]) -> list[Demand]:
    """Draw the entries of surges whose patients are drawn."""
    visits, with_kit = draw_entries(surges)
    ordered = _in_order(visits, with_kit)
    place = ordered.pop("surge")
    ends = place.searchsorted(np.arange(len(surges) + 1)).tolist()
    tables = [surge.patients.table for surge in surges]
    counts = np.array([len(table.room) for table in tables])
    # places of the patients of all surges side by side
    who = (counts.cumsum() - counts)[place]
    who += ordered["patient"]
    ordered["patient_class"] = np.concatenate([table.patient_class for table in tables])[who]
    ordered["wearer"], shift_ends_s = named_wearers(
        surges[0].plan.wearer_rules, surges[0].settings.start, tables, place, who,
        *(ordered[name] for name in ("due_s", "role", "urgent")),
    )  # fmt: skip
    for column in ordered.values():
        # here: whatever is cut out of it cannot be written to either
        column.setflags(write=False)
    traces = []
    for surge, (start, end), shift_end_s in zip(surges, pairwise(ends), shift_ends_s, strict=True):
        columns = {name: column[start:end] for name, column in ordered.items()}
        settings, patients = surge.settings, surge.patients.table
        names = tuple(settings.roles), tuple(settings.classes)
        traces.append(_trace(settings, surge.streams, columns, shift_end_s, *names, patients))
    return traces


def _trace(
    settings: Settings,
    streams: SurgeStreams,
    columns: Columns,
    shift_end_s: IntArray,
    role_names: tuple[str, ...],
    class_names: tuple[str, ...],
    patients: PatientTable,
) -> Demand:
    shift_end_s.setflags(write=False)
    seed, sample, surge = streams.key
    return Demand(
        seed=seed,
        sample=sample,
        surge=surge,
        start=settings.start,
        horizon_s=settings.horizon,
        closing_s=settings.horizon + settings.run_off,
        shift_end_s=shift_end_s,
        role_names=role_names,
        class_names=class_names,
        patients=patients,
        **columns,  # type: ignore[arg-type]
    )


def _nobody() -> PatientTable:
    none = np.zeros(0, dtype=np.int64)
    none.setflags(write=False)
    return PatientTable(none, none, none, none)


def _in_order(columns: Columns, chosen: BoolArray) -> Columns:
    """Take the chosen rows, by surge, moment, urgent before routine, then order of drawing."""
    rows = len(chosen)
    bits = rows.bit_length()
    # all of it in one number: sorting numbers is quicker than sorting positions
    packed = columns["surge"] << MOMENT_BITS
    packed |= columns["due_s"]
    packed <<= 1
    packed += ~columns["urgent"]
    packed <<= bits
    packed |= np.arange(rows)
    packed = packed[chosen]
    packed.sort()
    row = packed & ((1 << bits) - 1)
    # all in one piece of memory: many small ones cost more to come by than to fill
    whole = np.empty((len(columns), len(row)), dtype=np.int64)
    ordered: Columns = {}
    for number, (name, column) in enumerate(columns.items()):
        if column.dtype == np.bool_:
            ordered[name] = column[row]
        else:
            ordered[name] = np.take(column, row, out=whole[number], mode="clip")
    return ordered
