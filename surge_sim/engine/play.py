"""Play a surge with either engine."""

from __future__ import annotations

from typing import Literal

from surge_sim.demand.table import Demand
from surge_sim.engine.draws import Exhausted, NoEnd, first_sizes, refuse_slow, too_many
from surge_sim.engine.endless import without_end
from surge_sim.engine.log import RunLog, Score
from surge_sim.engine.reference.play import play_reference
from surge_sim.equipment.case import Unit
from surge_sim.equipment.numbers import numbers_of
from surge_sim.equipment.stock import Start, Stock
from surge_sim.equipment.timeline import NOTHING_CHANGES, Timeline

Engine = Literal["compiled", "reference"]
ALL_READY = Start()


def _play(
    demand: Demand,
    unit: Unit,
    stock: Stock,
    start: Start,
    timeline: Timeline,
    engine: Engine,
    record: bool,
    late_limit: int | None,
    events: bool = False,
) -> tuple[RunLog | None, Score]:
    """Play, again with more draws as long as they did not suffice."""
    if engine == "reference":
        refuse_slow(demand)
    numbers = numbers_of(unit.rules, stock, start, timeline, demand)
    sizes = first_sizes(demand, numbers.counts.kits)
    while True:
        work = sizes.arrays(unit)
        try:
            if engine == "reference":
                return play_reference(
                    demand, numbers, work, sizes.new_needs, late_limit, record, events
                )
            from surge_sim.engine.compiled.play import play_compiled

            return play_compiled(demand, numbers, work, sizes.new_needs, late_limit, record, events)
        except Exhausted:
            larger = sizes.grown()
            if larger == sizes:
                raise too_many(demand, unit.rules) from None
            sizes = larger
        except NoEnd as found:
            raise without_end(demand, stock, numbers, found) from None


def play(
    demand: Demand,
    unit: Unit,
    stock: Stock,
    start: Start = ALL_READY,
    timeline: Timeline = NOTHING_CHANGES,
    engine: Engine = "compiled",
    events: bool = False,
) -> RunLog:
    """Play one surge and keep the whole log.

    Parameters
    ----------
    demand : Demand
        Who comes.
    unit : Unit
        Equipment numbers and rules, with the chance that belongs to things.
    stock : Stock
        How much equipment there is.
    start : Start
        How things stand at second 0.
    timeline : Timeline
        What changes at which second.
    engine : {"compiled", "reference"}
        Both give the same log to the last bit.
    events : bool
        Keep all that happens, too; see :mod:`surge_sim.engine.events`.

    Returns
    -------
    RunLog
    """
    log, _ = _play(demand, unit, stock, start, timeline, engine, True, None, events)
    assert log is not None
    return log


def score(
    demand: Demand,
    unit: Unit,
    stock: Stock,
    start: Start = ALL_READY,
    timeline: Timeline = NOTHING_CHANGES,
    late_limit: int | None = None,
    engine: Engine = "compiled",
) -> Score:
    """Play one surge and count what a search needs to know.

    Parameters
    ----------
    demand, unit, stock, start, timeline, engine
        As in `play`.
    late_limit : int, optional
        The play is given up when more entries than this are late.

    Returns
    -------
    Score
        Entries, late ones (an entry is late unless each of its needs was served within the
        target's wait), alarms, stock-outs.
    """
    return _play(demand, unit, stock, start, timeline, engine, False, late_limit)[1]
