"""Everything that a run leaves in its folder: the answer, also for programs, tables, figures."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from surge_sim.cautions import CAUTION
from surge_sim.demand.replay import Replay
from surge_sim.equipment.stock import Stock
from surge_sim.report.folder import ResultFolder
from surge_sim.report.phrases import change_words, replay_words
from surge_sim.report.rounding import for_json
from surge_sim.report.run_answer import run_answer, whole_period
from surge_sim.report.terminal import render
from surge_sim.scenario.schema import Target
from surge_sim.statistics.intervals import CONFIDENCE, Interval
from surge_sim.statistics.result import TABLES, RunResult

if TYPE_CHECKING:
    import pandas as pd

SHARE_DIGITS, MINUTE_DIGITS, COUNT_DIGITS = 5, 3, 4


def fill_run_folder(folder: ResultFolder, result: RunResult) -> None:
    """Write answer, summary, tables and figures of a run."""
    if result.replay is not None:
        folder.covers = replay_words(result.replay, result.surges_played)
    folder.write_text("answer.txt", render(run_answer(result)))
    folder.write_json("summary.json", run_json(result))
    for name in TABLES:
        folder.write_table(name, getattr(result, name))
    for name, table in recorded_tables(result).items():
        folder.write_table(name, table)
    if result.entries:
        from surge_sim.report.run_figures import run_figures  # here: it takes a second to load

        for name, figure, table in run_figures(result):
            folder.write_figure(name, figure, table)


def recorded_tables(result: RunResult) -> dict[str, pd.DataFrame]:
    """Return the tables of a log that recorded waits."""
    tables = {
        "recorded_waits": result.recorded_waits,
        "recorded_waits_by_entry": result.recorded_waits_by_entry,
    }
    return {name: table for name, table in tables.items() if table is not None}


def stock_json(stock: Stock) -> dict[str, int]:
    """Return the counts of a stock; extras only where there are any."""
    extras = {
        name: count for name, count in asdict(stock).items() if name.startswith("extra_") and count
    }
    return {
        "kits": stock.kits,
        "batteries": stock.batteries,
        "spare_batteries": stock.spare_batteries,
        "bays": stock.bays,
        **extras,
    }


def target_json(target: Target) -> dict[str, Any]:
    """Return a target; its further parts only where it has them."""
    said: dict[str, Any] = {
        "wait_minutes": for_json(target.wait / 60, 4),
        "service_level": target.service_level,
        "share_of_surges": target.share_of_surges,
    }
    if target.late_by != "wait":
        said["late_by"] = target.late_by
    if target.urgent is not None:
        said["urgent"] = {
            "wait_minutes": for_json(target.urgent.wait / 60, 4),
            "service_level": target.urgent.service_level,
        }
    if target.most_alarms_per_1000 is not None:
        said["most_alarms_per_1000"] = target.most_alarms_per_1000
    if target.most_stock_outs is not None:
        said["most_stock_outs"] = target.most_stock_outs
    return said


def interval_json(interval: Interval, digits: int) -> dict[str, float | None]:
    """Return an estimate with its limits; null where there is none."""
    return {
        name: for_json(value, digits)
        for name, value in zip(("estimate", "low", "high"), interval, strict=True)
    }


def run_json(result: RunResult) -> dict[str, Any]:
    """Return a run as plain values.

    Returns
    -------
    dict
        Shares from 0 to 1, waits in minutes, the rest per surge. ``service_level`` is the share
        of all entries of all surges, ``service_level_by_surge`` the mean of the surges' shares.
        A recorded period adds ``replay``; surges are its plays then, and nothing has limits.
    """
    per_surge = result.per_surge
    answer: dict[str, Any] = {
        "scenario": result.name,
        "title": result.title,
        "seed": result.seed,
        "surges": result.surges_played,
        "engine": result.engine,
        "stock": stock_json(result.stock),
        "target": target_json(result.target),
        "verdict": result.verdict,
        "confidence": CONFIDENCE if result.replay is None else None,
        "entries_per_surge": for_json(per_surge("entries").estimate, COUNT_DIGITS),
        "service_level": interval_json(result.service_level, SHARE_DIGITS),
        "service_level_by_surge": interval_json(result.service_level_by_surge, SHARE_DIGITS),
        "service_level_by_wait": interval_json(result.service_level_by_wait, SHARE_DIGITS),
        "service_level_by_delay": interval_json(result.service_level_by_delay, SHARE_DIGITS),
        "share_on_target": interval_json(result.share_on_target, SHARE_DIGITS),
        "surges_on_target": result.passes,
        "wait_minutes": {
            name: interval_json(interval, MINUTE_DIGITS)
            for name, interval in result.wait_minutes.items()
        },
        "cause_of_waiting": _column(
            result.cause_of_waiting, "cause_of_waiting", "share", SHARE_DIGITS
        ),
        "unserved_per_surge": for_json(per_surge("unserved").estimate, COUNT_DIGITS),
        "unserved": {
            "per_surge": interval_json(per_surge("unserved"), COUNT_DIGITS),
            "reached_maximum_wait_per_surge": for_json(
                per_surge("reached_maximum_wait").estimate, COUNT_DIGITS
            ),
            "waiting_at_end_per_surge": for_json(
                per_surge("waiting_at_end").estimate, COUNT_DIGITS
            ),
        },
        "hours_waited_per_surge": interval_json(per_surge("hours_waited"), COUNT_DIGITS),
        "worst_day_service_level": interval_json(
            per_surge("worst_day_service_level", 1.0), SHARE_DIGITS
        ),
        "alarms_per_1000": _column(result.alarms, "cause", "per_1000_entries", COUNT_DIGITS),
        "used": {
            str(row["what"]): {
                "enough": for_json(row["enough"], COUNT_DIGITS),
                "enough_low": for_json(row["enough_low"], COUNT_DIGITS),
                "enough_high": for_json(row["enough_high"], COUNT_DIGITS),
                "mean": for_json(row["per_surge"], COUNT_DIGITS),
            }
            for row in result.consumables.to_dict("records")
        },
        "work_per_surge": _column(result.work, "what", "per_surge", COUNT_DIGITS),
        "use": {
            str(row["state"]): {
                "mean": for_json(row["mean"], COUNT_DIGITS),
                "peak_mean": for_json(row["peak_mean"], COUNT_DIGITS),
                "peak_highest": int(row["peak_highest"]),
            }
            for row in result.use.to_dict("records")
        },
        "patients_per_surge": {
            name: for_json(per_surge(name).estimate, COUNT_DIGITS)
            for name in ("patients", "boarded", "diverted")
        },
        "spread_over_surges": _spread(result),
        "timeline": [change_words(event, result.start) for event in result.timeline],
        "warnings": list(result.warnings),
        "caution": CAUTION,
    }
    if result.replay is not None:
        answer["replay"] = replay_json(result.replay, result.surges_played)
    if result.recorded_reading is not None:
        answer["recorded_waits"] = recorded_json(result)
    urgent = result.urgent_service_level
    if urgent.estimate is not None:
        answer["urgent_service_level"] = interval_json(urgent, SHARE_DIGITS)
    return answer


def _column(table: pd.DataFrame, key: str, value: str, digits: int) -> dict[str, float | None]:
    return {
        str(name): for_json(number, digits)
        for name, number in zip(table[key], table[value], strict=True)
    }


def _spread(result: RunResult) -> dict[str, dict[str, float | None]]:
    """Quantiles over surges: random variation between surges, not uncertainty of an estimate."""
    spread: dict[str, dict[str, float | None]] = {}
    for row in result.spread.to_dict("records"):
        mine = spread.setdefault(str(row["quantity"]), {})
        mine[f"p{round(100 * row['share_of_surges'])}"] = for_json(row["estimate"], SHARE_DIGITS)
    return spread


def replay_json(replay: Replay, plays: int) -> dict[str, Any]:
    """Return the same for programs."""
    return {
        "log": replay.file,
        "recorded_periods": 1,
        "replications": plays,
        "drawn_for_each_replication": list(replay.drawn),
        "covers": replay_words(replay, plays),
    }


def recorded_json(result: RunResult) -> dict[str, Any]:
    """Return the same for programs; waits in minutes."""
    reading = result.recorded_reading
    assert reading is not None
    return {
        "entries": reading.entries,
        "reproduced": reading.reproduced,
        "apart": list(reading.apart),
        "whole_period": {
            measure.replace(" ", "_"): {name: for_json(value, 5) for name, value in row.items()}
            for measure, row in whole_period(result).items()
        },
        "entry_by_entry": {
            "median_difference_minutes": for_json(reading.typical_difference_min, 3),
            "late_in_record_and_replications": reading.late_in_both,
            "late_in_record_only": reading.late_in_record_only,
            "late_in_replications_only": reading.late_in_replications_only,
        },
    }
