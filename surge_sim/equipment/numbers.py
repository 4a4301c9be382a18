"""Everything that an engine knows of a unit, a stock, a start and a timeline: whole numbers."""

from __future__ import annotations

from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from surge_sim.demand.trace import Demand
from surge_sim.equipment.start import Start
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import HOODS, TUBES
from surge_sim.equipment.timeline import Timeline, Whole, crew_steps, round_times, whole
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
    #: capacity, charge and time of the knee, charge time of each battery, shape (batteries, 4)
    cells: Whole
    #: spare parts, and when they are ordered again, by number of the supply
    spares: Whole
    reorder_at: Whole
    #: kits away from the unit over time: not yet borrowed, gone back, withdrawn
    away_kits: Whole
    #: wipe-downs that can go on at once over time
    wipers_s: Whole
    wipers: Whole
    round_s: Whole
    round_return_s: Whole
    #: moments at which something steps: settle then
    tick_s: Whole


class Numbers(NamedTuple):
    """Rules, counts and changes, side by side."""

    rules: Rules
    counts: Counts
    timeline: Timeline

    def plain(self) -> Plain:
        """Return all of them by name, with lists for arrays, quicker to read from Python."""
        rules, counts, timeline = (part._asdict() for part in self)
        names = ("capacity", "knee_charge", "knee_s", "charge_s")
        cells = dict(zip(names, self.counts.cells.T, strict=True))
        # counts last: spare parts of the stock stand for those of the rules
        together = rules | timeline | counts | cells
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
    kits, batteries = stock.kits + timeline.can_come, stock.batteries + timeline.can_come
    extra = stock.extra_parts
    spares, reorder_at = rules.spares, rules.reorder_at
    if any(extra):
        spares = spares + extra
        # ordered as early as without the extra ones, which are there for the lead time
        reorder_at = np.where(reorder_at < 0, reorder_at, reorder_at + extra)
    cells = rules.fleet[np.arange(batteries) % len(rules.fleet)]
    wipers_s, wipers, round_s, round_return_s = _calendar(rules.calendar, stock, timeline)
    moments = np.concatenate((timeline.change_s, wipers_s, round_s))
    moments.sort()
    counts = Counts(
        demand.horizon_s, demand.closing_s, int(start.filters_part_worn),
        kits, batteries, stock.bays, kits + int(spares[HOODS]), kits + int(spares[TUBES]),
        int(cells[: len(rules.fleet), 0].max(initial=0)), cells, spares, reorder_at,
        np.minimum(timeline.withdrawn, stock.kits) + timeline.away_not_lent,
        wipers_s, wipers, round_s, round_return_s, moments,
    )  # fmt: skip
    return Numbers(rules, counts, timeline)


def _calendar(
    calendar: Calendar, stock: Stock, timeline: Timeline
) -> tuple[Whole, Whole, Whole, Whole]:
    """Cleaners and rounds over time, with the stock's extra cleaners and the changes."""
    known, extra, changes = calendar, stock.extra_cleaners, timeline.of_cleaners
    if not changes:
        wipers = known.wipers + extra * known.wipers_more if extra else known.wipers
        return known.wipers_s, wipers, known.round_s, known.round_return_s
    when = known.start, known.closing_s
    times, values = crew_steps(known.cleaning, changes, extra, *when)
    rounds, returns = round_times(known.cleaning, changes, *when)
    return whole(times), whole(values), whole(rounds), whole(returns)
