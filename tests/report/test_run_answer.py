"""The answer of a run: what was asked first, then numbers, confidence, warnings, the caution."""

import dataclasses

import pytest

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.equipment.stock import Stock
from surge_sim.report.document import Answer, Document, Heading, Remark, Rows, Table
from surge_sim.report.phrases import target_words
from surge_sim.report.run_answer import run_answer
from surge_sim.report.run_folder import run_json
from surge_sim.report.terminal import render
from surge_sim.statistics.result import RunResult
from tests.engine.tiny import settings
from tests.statistics.hand_run import rich_run, run_of_waits


def block(document: Document, kind: type):
    """The first block of a kind."""
    return next(one for one in document.blocks if isinstance(one, kind))


def answer(result: RunResult) -> str:
    return block(run_answer(result), Answer).text


def table(result: RunResult) -> dict[str, tuple[str, ...]]:
    """Cells by the name of the row."""
    return {name: tuple(cells) for name, *cells in block(run_answer(result), Table).rows}


def rows(result: RunResult) -> dict[str, str]:
    return dict(block(run_answer(result), Rows).rows)


def test_the_order_is_answer_numbers_confidence_warnings_caution():
    result = dataclasses.replace(rich_run(), notes=("One.",))
    kinds = [type(one) for one in run_answer(result).blocks]
    assert kinds[:4] == [Heading, Answer, Table, Rows]
    assert set(kinds[4:]) == {Remark}
    assert list(rows(result))[-1] == "Confidence"
    remarks = run_answer(result).blocks[4:]
    assert remarks[0] == Remark("warning", "One.")
    assert remarks[-1] == Remark("caution", CAUTION_IN_SHORT)


def test_stock_and_verdict_are_said_first():
    """Two surges of two entries and one late each."""
    assert answer(rich_run()) == (
        "With 3 kits, 5 batteries and 2 charger bays, the service target is NOT met: 95 % of "
        "entries wait 5 min or less in 0 of 2 simulated surges; 90 % of surges are asked for."
    )


def test_numbers_waits_and_causes_are_those_of_the_run():
    result = rich_run()
    assert table(result)["Kit within 5 min (%)"][0] == "50.0"
    assert table(result)["Kit within 5 min (%)"][-1] == "50.0"
    assert table(result)["the same, worst day (%)"][0] == "50.0"
    assert table(result)["Left the queue, per surge"][0] == "1"
    said = rows(result)
    assert (
        said["Wait for a kit"] == "half 3.0 min; 9 of 10 at most 10 min; longest 10 min (surge 0)"
    )
    assert said["Cause of waiting"] == (
        "kit in use 38 %, kit in contact or drying time (fixed) 33 %, "
        "battery waiting for a bay 29 %"
    )
    assert said["Supplies used"] == "in 9 of 10 surges no more than 2 hoods and 8 wipes"


@pytest.mark.usefixtures("limits_however_few_surges")
def test_alarms_stand_with_their_limits():
    """Surges with 1 and 2 alarms in 4 entries: 375 per 1,000, Student's limits 0 to 1,963. Half of
    that is some 980, so tens are all that is worth printing of the limits.
    """
    assert table(rich_run())["Exits by alarm, per 1,000"][:2] == ("375", "0 to 1,960")
    assert table(run_of_waits([0], [0]))["Exits by alarm, per 1,000"][0] == "0"
    assert "Supplies used" not in rows(run_of_waits([0], [0]))


@pytest.mark.parametrize(
    ("surges", "words", "confidence"),
    [
        ([[0]] * 60, "the service target is met: ", "94.0 to 100 % of such surges"),
        ([[9]] * 60, "the service target is NOT met: ", "0 to 6.0 % of such surges"),
        ([[0]] * 10, "it is undecided whether the service target is met: ", "69 to 100 %"),
    ],
)
def test_the_verdict_is_said_with_its_reason(surges, words, confidence):
    """Limits by Clopper and Pearson: 1 - 0.025 ** (1 / n) of none in n."""
    result = run_of_waits(*surges)
    assert words in answer(result)
    assert f"in {result.passes} of {len(surges)} simulated surges" in answer(result)
    assert rows(result)["Confidence"].startswith(confidence)


def test_of_no_entries_no_numbers_are_shown():
    document = run_answer(run_of_waits([], []))
    assert not any(isinstance(one, Table) for one in document.blocks)
    assert any(
        "No surge had any entry: this says nothing about the stock." in one.text
        for one in document.blocks[-2:]
    )


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
    said = " ".join(render(run_answer(result)).split())
    assert note in said
    assert ("The stock has no" in said) is bool(note)
    warned = run_json(result)["warnings"]
    assert warned == list(result.warnings)
    assert warned[0].startswith(note)
    # the file's own warning says it already
    noted = dataclasses.replace(result, notes=("x.yaml:9: stock.bays is 0: no battery ...",))
    assert "no charger bays" not in render(run_answer(noted))


def test_a_target_is_said_with_all_its_parts():
    urgent = {"wait": "1 min", "service_level": "99 %"}
    target = settings(
        target={"urgent": urgent, "most_alarms_per_1000": "12.5", "most_stock_outs": "0"}
    ).target
    said = (
        "in 90 % of surges, 95 % of entries wait 5 min or less; 99 % of urgent ones 1 min or less; "
        "at most 12.5 alarms per 1,000 entries; at most 0 stock-outs"
    )
    assert target_words(target) == said
    result = dataclasses.replace(rich_run(), target=target)
    assert rows(result)["Service target"] == said
    assert "it was met in 0 of 2 simulated surges" in answer(result)


def test_nothing_is_said_of_protection_but_that_nothing_is_said_of_it():
    said = " ".join(render(run_answer(rich_run())).split()).replace(CAUTION_IN_SHORT, "").lower()
    assert "protect" not in said
    assert "safe" not in said


def test_events_of_the_file_are_said():
    events = settings(
        timeline=[
            {"what": "kits recalled", "kits": "2", "at": "3 d", "lasts": "36 h"},
            {"what": "power outage", "at": "12 h", "lasts": "4 h"},
        ]
    ).timeline
    said = rows(dataclasses.replace(rich_run(), timeline=tuple(events)))
    assert said["Timeline"].startswith(
        "kits recalled (2 kits) from day 4 (Thu 2031-01-09 00:00), for 36 h; power outage"
    )
    assert "Timeline" not in rows(rich_run())
