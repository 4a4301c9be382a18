"""Everything that a sizing leaves in its folder."""

from __future__ import annotations

from surge_sim.report import figures, sizing_figures
from surge_sim.report.folder import ResultFolder
from surge_sim.report.sizing_json import size_json, size_tables
from surge_sim.report.sizing_text import size_text
from surge_sim.sizing.result import SizeResult


def fill_size_folder(folder: ResultFolder, result: SizeResult) -> None:
    """Write answer, summary, tables and figures of a sizing."""
    folder.write_text("answer.txt", size_text(result))
    folder.write_json("summary.json", size_json(result))
    for name, table in size_tables(result).items():
        folder.write_table(name, table)
    if result.choice.space.axes:
        figure = figures.new_figure(height=6.0)
        sizing_figures.draw_frontier(result, figure.axes[0])
        folder.write_figure("frontier", figure, result.band_table)
    figure = figures.new_figure(height=4.8)
    sizing_figures.draw_needed(result, figure.axes[0])
    folder.write_figure("needed", figure, result.needed_table)
    figure = figures.new_figure(height=5.0)
    sizing_figures.draw_evidence(result, figure.axes[0])
    folder.write_figure("evidence", figure, result.evidence_table)
