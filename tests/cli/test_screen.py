"""On a narrow terminal sentences are wrapped anew; nothing is lost, and wide ones see no change."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from surge_sim.cautions import CAUTION
from surge_sim.cli.main import cli
from surge_sim.cli.screen import narrowed
from surge_sim.report.readback import read_back
from surge_sim.report.run_text import run_text
from surge_sim.scenario.load import load_scenario
from tests.statistics.hand_run import rich_run

ROOT = Path(__file__).parents[2]
SHIPPED = sorted((ROOT / "scenarios").glob("*.yaml"))
ANSWERS = [CAUTION, run_text(rich_run()), *(read_back(load_scenario(path)) for path in SHIPPED)]


@pytest.mark.parametrize("columns", [40, 55, 60, 72])
@pytest.mark.parametrize("text", ANSWERS)
def test_sentences_fit_a_narrow_screen_and_every_word_stays(text: str, columns: int) -> None:
    lines = narrowed(text, columns).split("\n")
    assert " ".join(" ".join(lines).split()) == " ".join(text.split())
    # rows of tables are left as they are
    long = [line for line in lines if len(line) > columns and line not in text.split("\n")]
    assert [line for line in long if len(line.split()) > 2] == []


@pytest.mark.parametrize("text", ANSWERS)
def test_a_screen_of_80_columns_gets_the_answer_as_it_is(text: str) -> None:
    assert narrowed(text, 80) == narrowed(text, 200) == text


def test_the_caution_breaks_evenly() -> None:
    """None of its lines but the last is left half empty."""
    lines = narrowed(CAUTION, 60).split("\n")
    assert all(45 <= len(line) <= 60 for line in lines[:-1])


def test_a_label_keeps_its_place_and_what_belongs_to_it_its_column() -> None:
    text = (
        "How sure      it kept the target in 282 of 300 fresh surges; at least 90 % of\n"
        "              such surges keep it, with 95 % confidence.\n"
        "One less      one kit      168 of 200 (84.0 %)  fails\n"
        "Next step     from the stock in hand, one thing at a time: buy 1 bay next.\n"
        "Average rates of the peak day, rounded up, ask for 2 kits, 3 batteries, 2 bays:\n"
        "              that kept the target in 0 of 64 surges."
    )
    assert narrowed(text, 60) == (
        "How sure      it kept the target in 282 of 300 fresh surges;\n"
        "              at least 90 % of such surges keep it, with\n"
        "              95 % confidence.\n"
        "One less      one kit      168 of 200 (84.0 %)  fails\n"
        "Next step     from the stock in hand, one thing at a time:\n"
        "              buy 1 bay next.\n"
        "Average rates of the peak day, rounded up, ask for 2 kits, 3\n"
        "              batteries, 2 bays: that kept the target in 0\n"
        "              of 64 surges."
    )


def test_commands_heed_the_width_of_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    shown = CliRunner().invoke(cli, ["check", str(SHIPPED[0])]).output
    assert narrowed(CAUTION, 60) in shown
