"""Everything that a run leaves in its folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from surge_sim.report.folder import ResultFolder
from surge_sim.report.replay_words import per_play, plays_name, replay_words
from surge_sim.report.run_answer import run_answer
from surge_sim.report.run_json import run_json
from surge_sim.report.terminal import render
from surge_sim.statistics.result import RunResult

if TYPE_CHECKING:
    import pandas as pd

#: tables of a run, by the names of their files
TABLES = (
    "surges", "waits", "wait_curve", "by_urgency", "by_class", "by_role", "by_day", "by_hour",
    "waiting_for", "use", "use_over_time", "alarms", "consumables", "work", "spread",
)  # fmt: skip


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
        draw_run_figures(folder, result)


def recorded_tables(result: RunResult) -> dict[str, pd.DataFrame]:
    """Return the tables of a log that recorded waits."""
    tables = {
        "recorded_waits": result.recorded_waits,
        "recorded_waits_by_entry": result.recorded_waits_by_entry,
    }
    return {name: table for name, table in tables.items() if table is not None}


def _draw_recorded(folder: ResultFolder, result: RunResult) -> None:
    from surge_sim.report import figures, recorded_figures

    recorded = recorded_tables(result)
    if not recorded:
        return
    name = "recorded_waits"
    figure = figures.new_figure(panels=2, width=8.5, height=5.5)
    top, bottom = figure.axes
    recorded_figures.draw_recorded_by_day(recorded[name], top, bottom, result.start.date())
    folder.write_figure(name, figure, recorded[name])
    name = "recorded_waits_by_entry"
    figure = figures.new_figure(height=5.0)
    wait_min = result.target.wait / 60
    recorded_figures.draw_recorded_by_entry(recorded[name], wait_min, figure.axes[0])
    folder.write_figure(name, figure, recorded[name])


def draw_run_figures(folder: ResultFolder, result: RunResult) -> None:
    """Draw the figures of a run that had entries."""
    from surge_sim.report import figures, use_figures

    target, stock = result.target, result.stock
    plays, per = plays_name(result.replay), per_play(result.replay)
    period = "surge" if result.replay is None else "recorded period"
    for by in ("day", "hour"):
        figure = figures.new_figure()
        table = result.by_day if by == "day" else result.by_hour
        figures.draw_share_in_time(table, by, target.share_of_entries, figure.axes[0], period)
        folder.write_figure(f"share_in_time_by_{by}", figure, table)

    figure = figures.new_figure()
    figures.draw_wait_curve(
        result.wait_curve, target.wait / 60, target.share_of_entries, figure.axes[0]
    )
    folder.write_figure("wait_curve", figure, result.wait_curve)

    figure = figures.new_figure(height=max(3.2, 1.2 + 0.25 * len(result.waiting_for)))
    figures.draw_waiting_for(result.waiting_for, figure.axes[0], per)
    folder.write_figure("waiting_for", figure, result.waiting_for)

    figure = figures.new_figure(panels=3, width=8.5, height=6.5)
    use, (top, middle, bottom) = result.use_over_time, figure.axes
    kits = {
        "kits in use": "in use",
        "kits drying": "contact or drying time",
        "kits in wipe-down": "in wipe-down",
        "kits waiting for wipe-down": "waiting for a wipe-down",
        "kits out": "in repair or for a filter",
    }
    batteries = {
        "batteries in use": "in use",
        "batteries in bay": "in a bay",
        "batteries waiting for bay": "waiting for a bay",
    }
    bays = {"batteries in bay": "in use"}
    peaks = dict(zip(result.use["state"], result.use["peak_mean"], strict=True))
    for states, free, have, what, axes in (
        (kits, "kits ready", stock.kits, "kits", top),
        (batteries, "batteries on shelf", stock.batteries, "batteries", middle),
        (bays, None, stock.bays, "bays", bottom),
    ):
        use_figures.draw_use(use, states, free, have, what, axes, peaks, plays)
    title, meaning = use_figures.use_title(use, plays).split("\n")
    top.set_title(title, loc="left", pad=20)
    top.annotate(
        meaning, (0, 1), xycoords="axes fraction", textcoords="offset points", xytext=(0, 6),
        fontsize=9,
    )  # fmt: skip
    bottom.set_xlabel(f"days since the {period} began, and the date")
    figures.show_dates(bottom, result.start.date())
    folder.write_figure("use_over_time", figure, use)

    _draw_recorded(folder, result)
    if result.replay is not None and result.replay.alike:
        return  # one play has no spread
    figure = figures.new_figure()
    figures.draw_spread(result.surges, target.share_of_entries, figure.axes[0], plays)
    folder.write_figure("spread_of_surges", figure, result.surges)
