"""The figures of a run: what is drawn in them."""

from __future__ import annotations

import pytest

from surge_sim.report.run_figures import run_figures
from surge_sim.scenario.load import scenario_from_text
from surge_sim.statistics.run import run
from tests.scenario.base import BASE

WITHDRAWN = """
timeline:
  - {what: kits recalled, kits: 1, at: 2 h, lasts: 5 h}
"""


@pytest.mark.parametrize("away", [True, False])
def test_what_is_away_has_a_line_only_where_something_is(away: bool) -> None:
    result = run(scenario_from_text(BASE + WITHDRAWN * away), surges=2, processes=1)
    figures = {name: figure for name, figure, _ in run_figures(result)}
    kits, batteries, _ = figures["use_over_time"].axes
    for ax in (kits, batteries):
        names = [text.get_text() for text in ax.get_legend().get_texts()]
        assert any(name.startswith("in the unit; ") for name in names) == away
