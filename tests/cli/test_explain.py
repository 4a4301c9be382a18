"""explain, as a user runs it: one story, its outcome, the cautions; wrong numbers are refused."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner, Result

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.cli.main import cli
from surge_sim.demand.draw import draw_demand
from surge_sim.scenario.load import load_scenario
from tests.scenario.base import BASE


@pytest.fixture
def explain(tmp_path):
    path = tmp_path / "ward.yaml"
    path.write_text(BASE)

    def invoke(*arguments: object) -> Result:
        return CliRunner().invoke(cli, ["explain", str(path), *map(str, arguments)])

    invoke.entries = draw_demand(load_scenario(path)).entries  # type: ignore[attr-defined]
    return invoke


def test_without_options_the_entry_that_waited_longest_is_told(explain):
    answer = explain("--kits", 1)
    assert answer.exit_code == 0
    text = " ".join(answer.output.split())
    assert "Simulated surge 0 of seed 1" in text
    assert "Stock 1 kit, 6 batteries and 2 charger bays" in text
    assert "(longest wait in simulated surge" in text
    assert "requests a kit" in text
    assert text.endswith(CAUTION_IN_SHORT)


@pytest.mark.parametrize(
    ("what", "words"),
    [
        ("--entry", "and took kit "),
        ("--kit", "h of running"),
        ("--battery", "(state of health 100 %) had "),
    ],
)
def test_one_thing_is_told_with_its_outcome(explain, what, words):
    answer = explain(what, 0, "--surge", 2, "--seed", 7)
    assert answer.exit_code == 0
    assert words in " ".join(answer.output.split())
    assert "Simulated surge  2 of seed 7" in answer.output
    assert max(len(line) for line in answer.output.splitlines()) <= 80


@pytest.mark.parametrize(("what", "there"), [("kit", 4), ("battery", 6)])
def test_a_number_out_of_range_is_refused_with_the_range(explain, what, there):
    answer = explain(f"--{what}", there)
    assert answer.exit_code == 2
    assert f"there is no {what} {there}" in answer.output
    assert f"are 0 to {there - 1}" in answer.output
    assert explain(f"--{what}", there - 1).exit_code == 0


def test_an_entry_out_of_range_is_refused_with_the_range(explain):
    answer = explain("--entry", explain.entries)
    assert answer.exit_code == 2
    assert f"are 0 to {explain.entries - 1}" in " ".join(answer.output.split())


def test_two_stories_at_once_are_refused(explain):
    answer = explain("--kit", 0, "--battery", 0)
    assert answer.exit_code == 2
    assert "Give one of --entry, --kit and --battery" in answer.output


def test_no_kits_no_story(explain):
    answer = explain("--kit", 0, "--kits", 0)
    assert answer.exit_code == 2
    assert "there are no kits in this surge" in answer.output


def test_a_long_story_is_cut_and_says_what_is_left_out(explain):
    answer = explain("--kit", 0, "--lines", 3)
    assert "Shown are 3 of " in answer.output
    assert "come later, the next on day 1" in " ".join(answer.output.split())
    whole = explain("--kit", 0, "--lines", 10**6)
    assert "Shown are" not in whole.output


@pytest.mark.slow
def test_sentences_that_are_left_out_are_counted_and_found(explain):
    """Those of the same second as the last one shown are left out too; the hint leads to them."""
    total = None
    for lines in range(1, 40):
        said = " ".join(explain("--kit", 0, "--lines", lines).output.split())
        found = re.search(
            r"Shown are (\d+) of ([\d,]+) sentences; ([\d,]+) come later, the next on day 1 "
            r"[(]2031-01-06[)][.] --lines N shows more lines, --day N shows one day[.]",
            said,
        )
        if found is None:
            assert "the next on day 2 (2031-01-07)." in said
            break
        shown, total, later = (int(number.replace(",", "")) for number in found.groups())
        assert shown == lines and shown + later == total
    assert total is not None


def test_a_day_without_a_sentence_says_where_there_are_some(explain):
    """An entry of day 2 or later, asked of on days before and after it."""
    whole = explain("--entry", explain.entries - 1, "--lines", 10**6).output
    days = [int(day) for day in re.findall(r"^Day (\d+), ", whole, re.MULTILINE)]
    before = " ".join(explain("--entry", explain.entries - 1, "--day", 1).output.split())
    assert days[0] > 1
    assert re.search(
        rf"Shown are 0 of (\d+) sentences; \1 come later, the next on day {days[0]} "
        r"[(]2031-01-\d\d[)][.] --day N shows another day[.]",
        before,
    )
    first = " ".join(explain("--entry", 0, "--day", 3).output.split())
    assert re.search(
        r"Shown are 0 of (\d+) sentences; \1 come earlier, the last on day 1 [(]2031-01-06[)][.]",
        first,
    )


def test_one_day_can_be_picked(explain):
    answer = explain("--kit", 0, "--day", 3, "--lines", 10**6)
    days = [line for line in answer.output.splitlines() if line.startswith("Day ")]
    assert len(days) == 1
    assert days[0].startswith("Day 3, ")
    late = explain("--kit", 0, "--day", 9_999)
    assert late.exit_code == 2
    assert "have the days 1 to" in " ".join(late.output.split())
