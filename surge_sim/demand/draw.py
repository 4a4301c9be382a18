"""From a scenario to one surge's table of needs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.draws import SurgeStreams
from surge_sim.demand.entries import draw_entries
from surge_sim.demand.log_input import log_columns
from surge_sim.demand.patients import draw_patients
from surge_sim.demand.trace import DemandTrace, IntArray, PatientTable
from surge_sim.demand.wearers import named_wearers
from surge_sim.demand.work import WorkDraws
from surge_sim.randomness import Sample
from surge_sim.scenario.schema import Settings

if TYPE_CHECKING:
    from surge_sim.scenario.scenario import Scenario

Columns = dict[str, NDArray[Any]]


def draw_demand(
    scenario: Scenario, seed: int = 1, surge: int = 0, sample: Sample = Sample.RUN
) -> DemandTrace:
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
    DemandTrace
        The same arguments always give the same table.
    """
    settings = scenario.settings_for(seed, sample, surge)
    return draw_from_settings(settings, seed, surge, sample)


def draw_from_settings(
    settings: Settings, seed: int = 1, surge: int = 0, sample: Sample = Sample.RUN
) -> DemandTrace:
    """Draw the demand of settings in which no range is left; see :func:`draw_demand`."""
    streams = SurgeStreams(seed, int(sample), surge)
    rows = None if settings.entries is None else settings.entries.rows
    role_names: tuple[str, ...] = tuple(settings.roles)
    class_names: tuple[str, ...] = tuple(settings.classes)
    if rows is not None:
        logged, shift_end_s = log_columns(settings, streams, rows)
        columns = _in_order(logged, np.arange(len(rows)))
        role_names, class_names = rows.role_names, ()
        patients = _nobody()
    else:
        drawn = draw_patients(settings, streams)
        patients = drawn.table
        visits, with_kit = draw_entries(settings, streams, drawn)
        columns = _in_order(visits, with_kit.nonzero()[0])
        columns["patient_class"] = patients.patient_class[columns["patient"]]
        columns["wearer"], shift_end_s = named_wearers(
            settings, patients, columns["due_s"], columns["role"], columns["patient"],
            columns["urgent"],
        )  # fmt: skip
    for array in (*columns.values(), shift_end_s):
        array.setflags(write=False)
    return DemandTrace(
        seed=seed,
        sample=int(sample),
        surge=surge,
        settings=settings,
        horizon_s=settings.horizon,
        closing_s=settings.horizon + settings.run_off,
        shift_end_s=shift_end_s,
        role_names=role_names,
        class_names=class_names,
        patients=patients,
        work=WorkDraws(seed, int(sample), surge, settings),
        **columns,  # type: ignore[arg-type]
    )


def _nobody() -> PatientTable:
    none = np.zeros(0, dtype=np.int64)
    none.setflags(write=False)
    return PatientTable(none, none, none, none)


def _in_order(columns: Columns, rows: IntArray) -> Columns:
    """Take these rows, sorted by moment, urgent before routine, then the order of drawing."""
    bits = len(columns["due_s"]).bit_length()
    # moment, urgency and row in one number: sorting numbers is quicker than sorting positions
    packed = columns["due_s"][rows] * 2 + ~columns["urgent"][rows]
    packed <<= bits
    packed |= rows
    packed.sort()
    packed &= (1 << bits) - 1
    # all in one piece of memory: many small ones cost more to come by than to fill
    whole = np.empty((len(columns), len(packed)), dtype=np.int64)
    ordered: Columns = {}
    for row, (name, column) in enumerate(columns.items()):
        if column.dtype == np.bool_:
            ordered[name] = column[packed]
        else:
            ordered[name] = np.take(column, packed, out=whole[row], mode="clip")
    return ordered
