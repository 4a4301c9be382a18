"""A run of hand-made surges, for tests of results and reports."""

from __future__ import annotations

from typing import Any

from surge_sim.engine.log import Count, Use
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.schema import Settings
from surge_sim.statistics.result import RunResult
from surge_sim.statistics.summary import Layout, Summary, joined, summarise
from tests.engine.tiny import settings
from tests.statistics.by_hand import RENEGED, Need, layout_of, log_of, trace_of


def surge_of(number: int, waits: list[float], changed: Settings, **more: Any) -> Summary:
    """One surge with these waits [min], an entry every ten minutes; for a battery if at all."""
    due = [10.0 * place for place in range(len(waits))]
    trace = trace_of(due, surge=number, changed=changed, **more)
    needs = [Need(at, wait) for at, wait in zip(due, waits, strict=True)]
    return summarise(trace, log_of(needs), layout_of(trace, changed))


def result_of(
    summaries: list[Summary],
    changed: Settings | None = None,
    layout: Layout | None = None,
    **more: Any,
) -> RunResult:
    """Add surges up as a run does."""
    changed = changed or settings()
    said: dict[str, Any] = {
        "name": "by_hand",
        "title": changed.title,
        "question": changed.question,
        "seed": 1,
        "engine": "reference",
        "stock": Stock(3, 5, 2),
        "target": changed.target,
        "wipes_per_clean": 2,
        "start": changed.start,
        "summary": joined(summaries),
        "layout": layout or layout_of(trace_of([]), changed),
    }
    return RunResult(**{**said, **more})


def run_of_waits(*surges: list[float], **more: Any) -> RunResult:
    """Surges by their waits [min]."""
    changed = settings()
    summaries = [surge_of(number, waits, changed) for number, waits in enumerate(surges)]
    return result_of(summaries, **more)


def rich_run(surges: int = 2) -> RunResult:
    """Surges with two roles and classes, urgent ones, alarms, work and use.

    Each has four entries: nurse/ward 0 min, nurse/ward 10 min (6 for a battery that waits for a
    bay, 4 for a kit that dries), physician/intensive 3 min (kit that dries), urgent physician/ward
    who gave up after 8 (kit in use).
    """
    changed = settings()
    summaries = []
    for number in range(surges):
        trace = trace_of(
            [0, 60, 120, 180],
            surge=number,
            urgent=[False, False, False, True],
            role=[0, 0, 1, 1],
            roles=("nurse", "physician"),
            patient_class=[0, 0, 1, 0],
            classes=("ward", "intensive"),
        )
        needs = [
            Need(0),
            Need(60, 10, waited={Cause.BATTERY_WAITING_FOR_BAY: 6, Cause.KIT_DRYING: 4}),
            Need(120, 3, waited={Cause.KIT_DRYING: 3}),
            Need(180, 8, RENEGED, waited={Cause.KIT_IN_USE: 8}),
        ]
        log = log_of(
            needs,
            counts={
                Count.ALARMS_BATTERY: 1 + number, Count.WIPE_DOWNS: 3, Count.SHORT_WIPES: 1,
                Count.HOODS_USED: 2, Count.STOCK_OUTS_HOODS: number,
            },
            use={Use.KITS_IN_USE: [30, 60 + 60 * number]},
            peaks={Use.KITS_IN_USE: 2 + number},
        )  # fmt: skip
        layout = layout_of(trace, changed)
        summaries.append(summarise(trace, log, layout))
    return result_of(summaries, changed, layout)
