"""The answer of a run: one screen that says what was asked, and what it does not say."""

import dataclasses

import pytest

from surge_sim.cautions import CAUTION
from surge_sim.equipment.stock import Stock
from surge_sim.report.run_json import run_json
from surge_sim.report.run_notes import run_notes
from surge_sim.report.run_text import run_text
from surge_sim.report.target_words import target_words
from surge_sim.statistics.result import RunResult
from tests.engine.tiny import settings
from tests.statistics.hand_run import rich_run, run_of_waits


def assert_one_screen(text: str) -> None:
    lines = text.splitlines()
    assert len(lines) <= 28, f"{len(lines)} lines\n{text}"
    assert max(map(len, lines)) <= 80


LONG = "How many kits, batteries, bays and cleaners keep every single wait at the door short? " * 4
NOTES = tuple(f"Something number {n} that a planner ought to look at. " * 3 for n in range(9))


@pytest.mark.parametrize(
    "result",
    [
        rich_run(),
        rich_run(1),
        run_of_waits([0] * 5, [0]),
        run_of_waits([], []),
        run_of_waits(*[[0, 3000.0, 0.5]] * 40),
        rich_run(),
    ],
)
@pytest.mark.parametrize(("question", "notes"), [("", ()), ("Short?", ("One.",)), (LONG, NOTES)])
def test_the_answer_fits_one_screen_and_ends_with_the_whole_caution(result, question, notes):
    urgent = {"wait": "1 min", "share_of_entries": "99 %"}
    target = settings(
        target={"urgent": urgent, "most_alarms_per_1000": "12.5", "most_stock_outs": "10"}
    ).target
    said = RunResult(
        **{
            **{
                name: getattr(result, name)
                for name in (
                    "name",
                    "title",
                    "seed",
                    "engine",
                    "stock",
                    "start",
                    "summary",
                    "layout",
                )
            },
            "question": question,
            "target": target if notes else result.target,
            "notes": notes,
        }
    )
    text = run_text(said)
    assert_one_screen(text)
    assert text.endswith(CAUTION)


def test_the_screen_test_can_fail():
    with pytest.raises(AssertionError):
        assert_one_screen("line\n" * 29)
    with pytest.raises(AssertionError):
        assert_one_screen("x" * 81)


def test_the_answer_says_stock_target_verdict_waits_and_reasons():
    text = run_text(rich_run())
    flat = " ".join(text.split())
    assert "3 kits, 5 batteries (2 spare), 2 charger bays" in flat
    assert "in 90 % of surges, 95 % of entries wait 5 min or less" in flat
    assert "0 of 2 surges were on target" in flat
    assert "Entries in time 50.0 %" in flat
    assert "mean 5.2 min, median 3.0 min, 95 % 10 min, longest 10 min" in flat
    assert "kits 71.4 % (in use 38.1 %, wet or drying 33.3 %); batteries waiting" in flat
    assert "batteries waiting for a bay 28.6 %" in flat
    assert "4 per surge; unmet: 1" in flat
    assert "in one of ten at most 50.0 %; mean worst day 50.0 %" in flat
    assert "Entries in time 50.0 % of all entries" in flat
    assert "large and small ones counted alike" in flat


@pytest.mark.parametrize("notes", [(), NOTES[:1]])
def test_a_question_is_said_whole_before_limits_are(notes):
    question = LONG[: len(LONG) // 2].strip()
    result = dataclasses.replace(rich_run(), question=question, notes=notes)
    text = run_text(result)
    assert_one_screen(text)
    assert question in " ".join(text.split())


@pytest.mark.usefixtures("limits_however_few_surges")
def test_alarms_are_said_by_cause_and_consumables_by_sort_with_their_limits():
    """Surges with 1 and 2 alarms in 4 entries: 375 per 1,000, Student's limits 0 to 1,963. Half of
    that is some 980, so tens are all that is worth printing.
    """
    flat = " ".join(run_text(rich_run()).split())
    assert "Alarms 380 (0 to 1,960) per 1,000 entries: battery 380 (0 to 1,960)" in flat
    used = "Used in 9 of 10 surges no more than 2 hoods and 8 wipes "
    assert used in flat, "nothing that was not used is named"
    quiet = " ".join(run_text(run_of_waits([0], [0])).split())
    assert "Alarms 0 per 1,000 entries" in quiet
    assert "Used nothing" in quiet


def test_title_seed_and_what_brackets_mean_are_said():
    result = rich_run()
    lines = run_text(result).splitlines()
    assert lines[0] == f"{result.title}; seed {result.seed}"
    assert "In brackets: 95 % interval of the average; single surges differ more." in lines


@pytest.mark.parametrize(
    ("stock", "note"),
    [
        (Stock(0, 10, 4), "The stock has no kits, so nobody is ever served"),
        (Stock(7, 0, 4), "The stock has no batteries, so nobody is ever served"),
        (Stock(7, 10, 0), "The stock has no charger bays, so no battery is ever charged again."),
        (Stock(1, 1, 1), ""),
    ],
)
def test_a_stock_that_serves_nobody_is_said(stock, note):
    result = dataclasses.replace(rich_run(), stock=stock)
    said = " ".join(run_text(result).split())
    assert note in said
    assert ("The stock has no" in said) is bool(note)
    assert run_json(result)["warnings"][:1] == [w for w in run_notes(result)][:1]
    assert ("spare" in said) is bool(stock.kits)
    # the file's own warning says it already
    noted = dataclasses.replace(result, notes=("x.yaml:9: stock.bays is 0: no battery ...",))
    assert "no charger bays" not in run_text(noted)


def test_a_note_is_said_whole_before_limits_are():
    """Notes of six lines: limits, which the tables have too, make room for them."""
    result = dataclasses.replace(rich_run(), question=LONG, notes=NOTES[:2])
    text = run_text(result)
    assert all(f"Note: Something number {n} that" in text for n in (0, 1))
    assert "summary.json" not in text


def test_where_the_screen_is_full_limits_go_before_numbers():
    """A long question and notes: the parts used are still said, their limits are in the tables."""
    result = dataclasses.replace(rich_run(), question=LONG, notes=NOTES)
    used = "Used               in 9 of 10 surges no more than 2 hoods and 8 wipes"
    assert used in run_text(result)


@pytest.mark.parametrize(
    ("surges", "words"),
    [
        ([[0]] * 60, "The target is kept: 60 of 60"),
        ([[9]] * 60, "The target is NOT kept: 0 of 60"),
        ([[0]] * 10, "Whether the target is kept cannot be told yet: 10 of 10"),
        ([[0]] * 1200, "The target is kept: 1,200 of 1,200"),
    ],
)
def test_the_verdict_is_said_in_words(surges, words):
    assert words in run_text(run_of_waits(*surges))


def test_a_target_is_said_with_all_its_promises():
    urgent = {"wait": "1 min", "share_of_entries": "99 %"}
    target = settings(
        target={"urgent": urgent, "most_alarms_per_1000": "12.5", "most_stock_outs": "0"}
    ).target
    assert target_words(target) == (
        "in 90 % of surges, 95 % of entries wait 5 min or less; 99 % of urgent ones 1 min or less; "
        "at most 12.5 alarms per 1,000 entries; at most 0 stock-outs"
    )


def test_nothing_is_said_of_protection():
    said = run_text(rich_run()).replace(CAUTION, "").lower()
    assert "protect" not in said
    assert "safe" not in said


def test_disruptions_are_said_with_the_stock():
    events = settings(
        disruptions=[
            {"what": "kits withdrawn", "kits": "2", "at": "3 d", "lasts": "36 h"},
            {"what": "power cut", "at": "12 h", "lasts": "4 h"},
        ]
    ).disruptions
    text = run_text(dataclasses.replace(rich_run(), disruptions=tuple(events)))
    said = " ".join(text.split())
    assert "Disruptions: kits withdrawn (2) from day 4 (Thu 2031-01-09 00:00), for 36 h; " in said
    assert said.index("Stock:") < said.index("Disruptions:") < said.index("The target is")
    assert_one_screen(text)
    assert "Disruptions" not in run_text(rich_run())
    many = dataclasses.replace(rich_run(), disruptions=tuple(events) * 9, question=LONG)
    assert_one_screen(run_text(many))
