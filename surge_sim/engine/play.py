"""Play a surge with either engine."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from surge_sim.demand.trace import DemandTrace
from surge_sim.engine.draws import Exhausted, NoEnd, first_sizes, refuse_slow, too_many
from surge_sim.engine.endless import without_end
from surge_sim.engine.log import RunLog, Score
from surge_sim.engine.reference.play import play_reference
from surge_sim.engine.reference.ward import Listener
from surge_sim.equipment.numbers import numbers_of
from surge_sim.equipment.stock import Stock

Engine = Literal["compiled", "reference"]


def _play(
    trace: DemandTrace,
    stock: Stock,
    engine: Engine,
    record: bool,
    late_limit: int | None,
    listener: Listener | None = None,
    begin: Callable[[], object] | None = None,
) -> tuple[RunLog | None, Score]:
    """Play, again with more draws as long as they did not suffice."""
    if engine == "reference":
        refuse_slow(trace)
    numbers = numbers_of(trace.settings, stock)
    sizes = first_sizes(trace, numbers)
    while True:
        if begin is not None:
            begin()
        work = sizes.arrays(trace)
        try:
            if engine == "reference":
                return play_reference(
                    trace, numbers, work, sizes.new_needs, late_limit, record, listener
                )
            from surge_sim.engine.compiled.play import play_compiled

            return play_compiled(trace, numbers, work, sizes.new_needs, late_limit, record)
        except Exhausted:
            larger = sizes.grown()
            if larger == sizes:
                raise too_many(trace) from None
            sizes = larger
        except NoEnd as found:
            raise without_end(trace, stock, numbers, found) from None


def play(trace: DemandTrace, stock: Stock, engine: Engine = "compiled") -> RunLog:
    """Play one surge with one stock and keep the whole log.

    Parameters
    ----------
    trace : DemandTrace
        The surge's demand; never changed.
    stock : Stock
        How much equipment there is.
    engine : {"compiled", "reference"}
        Both give the same log to the last bit.

    Returns
    -------
    RunLog
    """
    log, _ = _play(trace, stock, engine, record=True, late_limit=None)
    assert log is not None
    return log


def score(
    trace: DemandTrace,
    stock: Stock,
    late_limit: int | None = None,
    engine: Engine = "compiled",
) -> Score:
    """Play one surge and count what a search needs to know.

    Parameters
    ----------
    trace : DemandTrace
        The surge's demand; never changed.
    stock : Stock
        How much equipment there is.
    late_limit : int, optional
        The play is given up when more entries than this are late.
    engine : {"compiled", "reference"}
        Both give the same score.

    Returns
    -------
    Score
        Entries of the trace, late ones (an entry is late unless each of its needs was served
        within the target's wait), alarms, stock-outs.
    """
    return _play(trace, stock, engine, record=False, late_limit=late_limit)[1]


def narrate(
    trace: DemandTrace,
    stock: Stock,
    listener: Listener,
    begin: Callable[[], object] | None = None,
) -> RunLog:
    """Play one surge in the reference engine and tell `listener` everything that happens.

    `begin` is called before the play, and again when it begins anew because its draws did not
    suffice: what was told until then is void.
    """
    log, _ = _play(trace, stock, "reference", True, None, listener, begin)
    assert log is not None
    return log
