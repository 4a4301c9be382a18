"""The study of choices: each shows in a check, and the table says what was run."""

from __future__ import annotations

import pytest

from surge_sim.report.check_answer import check_answer
from surge_sim.report.document import Rows
from surge_sim.scenario.load import load_scenario
from tests.conftest import ROOT
from tests.studies.choices import AS_SHIPPED, SCENARIOS, choices, table


@pytest.mark.parametrize("name", SCENARIOS)
def test_a_check_tells_each_choice_from_the_scenario_as_it_is_shipped(name):
    """Among the rows of the whole answer: its screen leaves the rules out."""
    scenario = load_scenario(ROOT / "scenarios" / f"{name}.yaml")

    def rows(changed):
        return [
            block.rows
            for block in check_answer(changed, full=True).blocks
            if isinstance(block, Rows)
        ]

    shipped = rows(scenario)
    for choice, changes in choices(scenario).items():
        changed = scenario.changed(changes) if changes else scenario
        alike = changed.settings == scenario.settings
        assert (rows(changed) == shipped) == alike, choice


def test_the_table_has_stock_price_and_change_and_says_what_was_not_run():
    rows = [
        {"scenario": "rule_out_unit", "choice": AS_SHIPPED, "surges": 60, "stock": [7, 21, 15],
         "price": 17_540.0},
        {"scenario": "winter_wave", "choice": AS_SHIPPED, "surges": 20, "stock": [9, 9, 9],
         "price": 1_000.0},
        {"scenario": "rule_out_unit", "choice": "a", "surges": 60, "stock": [7, 21, 15],
         "price": 17_540.0},
        {"scenario": "winter_wave", "choice": "a", "surges": 20, "stock": [9, 8, 9],
         "price": 950.0},
        {"scenario": "rule_out_unit", "choice": "b", "surges": 60, "stock": None, "price": None},
    ]  # fmt: skip
    assert list(table(rows)) == [
        "| choice | rule_out_unit (60 surges) | winter_wave (20 surges) |",
        "| --- | --- | --- |",
        "| as shipped | 7-21-15: 17,540 | 9-9-9: 1,000 |",
        "| a | 7-21-15: 17,540, the same | 9-8-9: 950, **-5 %** |",
        "| b | out of reach within the search limits | not run |",
    ]
