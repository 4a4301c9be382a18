"""Everything that an engine knows of a unit, a stock, a start and a timeline: whole numbers."""

from __future__ import annotations

from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from surge_sim.demand.table import Demand
from surge_sim.equipment.crews import calendar_rows
from surge_sim.equipment.start import Start
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import HOODS, TUBES
from surge_sim.equipment.timeline import InForce, Timeline, Whole
from surge_sim.equipment.unit import Calendar, Rules


class Counts(NamedTuple):
    """How much there is in one play."""

    horizon_s: int
    closing_s: int
    #: filters have run for some of their life when the surge begins
    part_worn: int
    # stock, with what may be borrowed
    kits: int
    batteries: int
    bays: int
    #: hoods and tubes owned when the surge begins, borrowed kits' included
    hoods: int
    tubes: int
    #: of the battery that holds most
    most_capacity: int
    #: of the kits, and of the batteries beside theirs, those that come only as a loan
    kits_come: int
    batteries_come: int
    #: whether any come or go
    moves: int
    #: capacity, charge and time of the knee, charge time of each battery, shape (batteries, 4)
    cells: Whole
    #: spare parts, and when they are ordered again, by number of the supply
    spares: Whole
    reorder_at: Whole
    #: changes after second 0, see `rows_of`
    rows: Whole


class Numbers(NamedTuple):
    """Rules, counts and changes, side by side."""

    rules: Rules
    counts: Counts
    timeline: Timeline
    #: at second 0
    in_force: InForce

    def plain(self) -> Plain:
        """Return all of them by name, with lists for arrays, quicker to read from Python."""
        rules, counts, timeline, in_force = (part._asdict() for part in self)
        names = ("capacity", "knee_charge", "knee_s", "charge_s")
        cells = dict(zip(names, self.counts.cells.T, strict=True))
        # counts last: spare parts of the stock stand for those of the rules
        together = rules | timeline | counts | cells | in_force
        return Plain(
            **{k: v.tolist() if isinstance(v, np.ndarray) else v for k, v in together.items()}
        )


class Plain(SimpleNamespace):
    """The fields of `Rules`, `Counts` and `Timeline`, and of cells, by name."""


def numbers_of(
    rules: Rules, stock: Stock, start: Start, timeline: Timeline, demand: Demand
) -> Numbers:
    """Bring what a play needs to whole numbers.

    Parameters
    ----------
    rules : Rules
        Of the unit.
    stock : Stock
        Counts of equipment.
    start : Start
        How things stand.
    timeline : Timeline
        What changes.
    demand : Demand
        Tells how long the surge is.

    Returns
    -------
    Numbers
        Read-only arrays.
    """
    kits = stock.kits + timeline.kits_come
    batteries = stock.batteries + timeline.kits_come + timeline.batteries_come
    extra = stock.extra_parts
    spares, reorder_at = rules.spares, rules.reorder_at
    if any(extra):
        spares = spares + extra
        # ordered as early as without the extra ones, which are there for the lead time
        reorder_at = np.where(reorder_at < 0, reorder_at, reorder_at + extra)
    cells = rules.fleet[np.arange(batteries) % len(rules.fleet)]
    rows = _rows(rules.calendar, stock, timeline)
    later = int(rows[:, 0].searchsorted(0, side="right"))
    counts = Counts(
        demand.horizon_s, demand.closing_s, int(start.filters_part_worn),
        kits, batteries, stock.bays, kits + int(spares[HOODS]), kits + int(spares[TUBES]),
        int(cells[: len(rules.fleet), 0].max(initial=0)), timeline.kits_come,
        timeline.batteries_come, timeline.moves, cells, spares, reorder_at, rows[later:],
    )  # fmt: skip
    in_force = rules.usual
    for _, place, value in rows[:later].tolist():
        in_force = in_force._replace(**{InForce._fields[place]: value})
    return Numbers(rules, counts, timeline, in_force)


def _rows(calendar: Calendar, stock: Stock, timeline: Timeline) -> Whole:
    """Return all changes, also those of the clock, with the stock's extra cleaners."""
    rows, extra = calendar.rows, stock.extra_cleaners
    if timeline.of_cleaners:
        rows = calendar_rows(
            calendar.cleaning, timeline.of_cleaners, extra, calendar.start, calendar.closing_s
        )
    elif extra:
        rows = rows.copy()
        rows[:, 2] += extra * calendar.more
    if not len(timeline.rows):
        return rows
    together = np.concatenate((timeline.rows, rows))
    return together[together[:, 0].argsort(kind="stable")]
