"""The figures of a run: what is drawn in them."""

from __future__ import annotations

from typing import Any

import pytest

from surge_sim.report.folder import ResultFolder
from surge_sim.report.run_folder import draw_run_figures
from surge_sim.scenario.load import scenario_from_text
from surge_sim.statistics.run import run
from tests.scenario.base import BASE

WITHDRAWN = """
timeline:
  - {what: kits recalled, kits: 1, at: 2 h, lasts: 5 h}
"""


class Drawn(ResultFolder):
    """Keeps the figures."""

    def __init__(self) -> None:
        self.figures: dict[str, Any] = {}

    def write_figure(self, name: str, figure: Any, table: Any) -> None:
        self.figures[name] = figure


@pytest.mark.parametrize("away", [True, False])
def test_what_is_away_has_a_line_only_where_something_is(away: bool) -> None:
    result = run(scenario_from_text(BASE + WITHDRAWN * away), surges=2, processes=1)
    folder = Drawn()
    draw_run_figures(folder, result)
    kits, batteries, _ = folder.figures["use_over_time"].axes
    for ax in (kits, batteries):
        names = [text.get_text() for text in ax.get_legend().get_texts()]
        assert any(name.startswith("in the unit; ") for name in names) == away
