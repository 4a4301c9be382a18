"""From a scenario to one surge's table of requests."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from surge_sim.demand.entries import Columns, draw_entries, name_wearers
from surge_sim.demand.hood_sizes import large_hoods
from surge_sim.demand.patients import Patients, draw_patients, too_large
from surge_sim.demand.plan import Plan, plan_of
from surge_sim.demand.replay import logged_entries
from surge_sim.demand.rooms import BOARDED, places_of, rooms_of
from surge_sim.demand.rounds import in_rounds
from surge_sim.demand.table import MARKS, BoolArray, Demand, IntArray, PatientTable, with_changes
from surge_sim.randomness import Purpose, Sample, Streams
from surge_sim.scenario.limits import MOST_REQUESTS
from surge_sim.scenario.patients import LoggedEntries
from surge_sim.units import NEVER_S

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario


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
    return draw(plan_of(settings), Streams(seed, sample, surge))


def draw(plan: Plan, streams: Streams) -> Demand:
    """Draw one surge: who comes, who lies where, who has to go in and when, who wears the kit.

    Parameters
    ----------
    plan : Plan
        See `plan_of`: the same for all surges of the same settings.
    streams : Streams
        Of the surge.
    """
    logged = plan.settings.entries
    if logged is not None and logged.rows is not None:
        return _logged(plan, streams, logged.rows)
    patients = draw_patients(plan, streams)
    if patients.left_out is None:
        room = rooms_of(plan.settings.rooms, patients)
        entries = draw_entries(plan, streams, patients, room)
    else:
        patients, room, entries = _without_some(plan, streams, patients, ~patients.left_out)
    named = name_wearers(plan, places_of(room, patients), entries)
    entries["wearer"] = named.wearer
    entries["patient_class"] = patients.patient_class[entries["patient"]]
    if any(role.rooms_per_round > 1 for role in plan.roles):
        entries = in_rounds(plan, patients, entries)
    table = PatientTable(patients.arrive_s, patients.leave_s, patients.patient_class, room)
    demand = _demand(plan, streams, entries, named.shift_end_s, table, named.wearers)
    if plan.run_in is None:
        return demand
    before = draw(plan.run_in, streams.before())
    if demand.entries + before.entries > MOST_REQUESTS:
        found = f"`run_in` would bring {before.entries:,} entries beside {demand.entries:,}."
        right = f"A simulated surge has {MOST_REQUESTS:,} with those of its run-in at most."
        raise too_large(streams, found, right)
    return replace(demand, before=before)


def _without_some(
    plan: Plan, streams: Streams, patients: Patients, come: BoolArray
) -> tuple[Patients, IntArray, Columns]:
    """Draw the entries of patients of whom some do not come, and leave out what is theirs.

    Their visits are drawn, too, so that those of the others stay as they are.
    """
    arrive_s, leave_s, classes, clean_s = (column[come] for column in patients[:4])
    here = Patients(arrive_s, leave_s, classes, clean_s, np.arange(len(arrive_s)))
    room = rooms_of(plan.settings.rooms, here)
    of_all = np.full(len(come), BOARDED, dtype=np.int64)
    of_all[come] = room
    entries = draw_entries(plan, streams, patients, of_all)
    those = come[entries["patient"]]
    entries = {name: column[those] for name, column in entries.items()}
    entries["patient"] = (np.cumsum(come) - 1)[entries["patient"]]
    return here, room, entries


def _logged(plan: Plan, streams: Streams, rows: LoggedEntries) -> Demand:
    """Return a recorded log as the demand of one surge; it says nothing of patients and shifts."""
    entries = logged_entries(plan, streams, rows)
    entries["patient_class"] = np.full(len(rows), -1, dtype=np.int64)
    shift_end_s = np.full(len(rows.wearer_names), NEVER_S, dtype=np.int64)
    none = np.zeros(0, dtype=np.int64)
    return _demand(plan, streams, entries, shift_end_s, PatientTable(none, none, none, none))


def _demand(
    plan: Plan,
    streams: Streams,
    entries: Columns,
    shift_end_s: IntArray,
    patients: PatientTable,
    wearers: IntArray | None = None,
) -> Demand:
    """Put all together, read-only, with the changes of the timeline that concern entries."""
    mark = streams.stream(Purpose.MARKS).integers(0, MARKS, len(entries["due_s"]))
    if len(patients.leave_s):
        # a terminal clean is due once its patient has left
        mark += MARKS * (entries["due_s"] >= patients.leave_s[entries["patient"]])
    large = large_hoods(plan, streams, entries["wearer"], shift_end_s, wearers)
    of_patients = patients.arrive_s, patients.leave_s, patients.patient_class, patients.room
    for array in (*entries.values(), shift_end_s, mark, large, *of_patients):
        array.setflags(write=False)
    settings = plan.settings
    demand = Demand(
        seed=streams.seed,
        sample=streams.sample,
        surge=streams.surge,
        start=settings.start,
        horizon_s=settings.horizon,
        closing_s=settings.horizon + settings.run_out,
        shift_end_s=shift_end_s,
        mark=mark,
        large_hood=large,
        role_names=plan.role_names,
        class_names=plan.class_names,
        patients=patients,
        wearers=wearers,
        before=None,
        **entries,
    )
    return with_changes(demand, settings.timeline)
