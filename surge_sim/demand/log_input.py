"""A unit's own log as a table of entries."""

from __future__ import annotations

import numpy as np

from surge_sim.demand.blocks import Kind
from surge_sim.demand.entries import Columns, Visits, in_order, joined, with_details
from surge_sim.demand.plan import Plan
from surge_sim.randomness import Streams
from surge_sim.scenario.patients import LoggedEntries


def logged_entries(plan: Plan, streams: Streams, rows: LoggedEntries) -> Columns:
    """Return the entries of a log, in the order of the demand, with their wearers.

    Times of need, room times, roles, urgency and wearers are the log's. What a log does not
    hold is drawn as usual: donning, doffing, torn hoods and tubes. A role that the scenario
    describes too lends its donning, doffing and patience.
    """
    by_role = [np.flatnonzero(rows.role == number) for number in range(len(plan.roles))]
    tables = []
    for number, those in enumerate(by_role):
        nobody = np.full(len(those), -1, dtype=np.int64)
        visits = Visits(Kind.LOGGED, number, rows.due_s[those], nobody, rows.room_s[those])
        tables.append(with_details(plan, streams, visits))
    in_order_of_log = np.concatenate(by_role).argsort()
    columns = {name: column[in_order_of_log] for name, column in joined(tables).items()}
    columns["urgent"], columns["wearer"] = rows.urgent, rows.wearer
    columns["patience_s"] = np.where(rows.urgent, plan.urgent_patience_s, columns["patience_s"])
    return in_order(columns)
