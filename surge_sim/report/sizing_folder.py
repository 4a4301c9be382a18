"""Everything that a sizing leaves in its folder."""

from __future__ import annotations

from surge_sim.report import figures, sizing_figures
from surge_sim.report.folder import ResultFolder
from surge_sim.report.replay_words import replay_words
from surge_sim.report.sizing_json import size_json, size_tables
from surge_sim.report.sizing_text import size_text
from surge_sim.sizing.result import SizeResult


def fill_size_folder(folder: ResultFolder, result: SizeResult) -> None:
    """Write answer, summary, tables and figures of a sizing.

    A figure has the name of the table that it shows, and that table lies beside it too.
    """
    replay = result.replay
    if replay is not None:
        folder.covers = replay_words(replay, result.chain.surges)
    folder.write_text("answer.txt", size_text(result))
    folder.write_json("summary.json", size_json(result))
    tables = size_tables(result)
    for name, table in tables.items():
        folder.write_table(name, table)
    if result.choice.space.axes:
        figure = figures.new_figure(height=6.0)
        sizing_figures.draw_frontier(result, figure.axes[0])
        folder.write_figure("band", figure, tables["band"])
    if replay is not None and replay.alike:
        return  # one play has no shares of plays
    figure = figures.new_figure(height=4.8)
    sizing_figures.draw_needed(result, figure.axes[0])
    folder.write_figure("needed", figure, tables["needed"])
    figure = figures.new_figure(height=5.0)
    sizing_figures.draw_evidence(result, figure.axes[0])
    folder.write_figure("evidence", figure, tables["evidence"])
