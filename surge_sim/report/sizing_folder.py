"""Everything that a sizing leaves in its folder."""

from __future__ import annotations

from surge_sim.report.folder import ResultFolder
from surge_sim.report.phrases import replay_words
from surge_sim.report.sizing_answer import size_document
from surge_sim.report.sizing_json import size_json, size_tables
from surge_sim.report.terminal import render
from surge_sim.sizing.result import SizeResult


def fill_size_folder(folder: ResultFolder, result: SizeResult) -> None:
    """Write answer, summary, tables and the figure of a sizing."""
    replay = result.replay
    if replay is not None:
        folder.covers = replay_words(replay, result.surges)
    folder.write_text("answer.txt", render(size_document(result)))
    folder.write_json("summary.json", size_json(result))
    tables = size_tables(result)
    for name, table in tables.items():
        folder.write_table(name, table)
    # here: they take a second to load
    from surge_sim.report.figures import new_figure
    from surge_sim.report.sizing_figures import draw_stages

    figure = new_figure(height=4.8)
    asked, currency = result.target.share_of_surges, result.prices.currency
    draw_stages(tables["stages"], asked, currency, replay, figure.axes[0])
    folder.write_figure("stages", figure, tables["stages"])
