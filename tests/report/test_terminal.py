"""A document on the terminal: nothing lost at any width; text stays text; colours add nothing."""

from __future__ import annotations

import re

import pytest
from rich.cells import cell_len

from surge_sim.report.document import (
    Answer,
    Column,
    Figure,
    Heading,
    Paragraph,
    Remark,
    Rows,
    Sentences,
    Table,
    document,
)
from surge_sim.report.terminal import render

COUNTS = Table(
    (
        Column("", align="left"), Column("in hand"), Column("wait", "min"),
        Column("95 % interval", "min"),
    ),
    (
        ("entries within the target wait", "28", "1,610", "170 to 1,930"),
        ("hours of waiting", "", "0.5", "0.1 to 1"),
    ),
)  # fmt: skip
EVERY_BLOCK = document(
    Heading("Winter wave on a ward of eighteen rooms", 1),
    Answer("The stock does not meet the target: it was met in 12 of 30 simulated surges (40 %)."),
    Paragraph("A surge begins on day 1. It lasts 56 d, and the run-out period another 12 h."),
    Rows((("Stock", "28 kits, 36 batteries, 20 charger bays"), ("Target", "5 min or less"))),
    Heading("Average workload"),
    COUNTS,
    Sentences(("Entries have no maximum wait and stay until they are served.", "A second one.")),
    Figure("figures/use.png", "Kits in use over time, mean of all simulated surges."),
    Remark("note", "A note explains."),
    Remark("warning", "The busiest hour needs more than is in stock: 31 kits."),
    Remark("caution", "A planning aid; local rules come first."),
)  # fmt: skip
WIDTHS = range(40, 201, 7)


def words(text: str) -> list[str]:
    return sorted(re.sub(r"[;:]", " ", text).split())


def without_colours(text: str) -> str:
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


@pytest.mark.parametrize("columns", WIDTHS)
def test_no_line_is_wider_than_the_terminal_and_every_word_is_there(columns: int) -> None:
    text = render(EVERY_BLOCK, columns)
    assert max(map(cell_len, text.split("\n"))) <= columns
    assert set(words(render(EVERY_BLOCK, 80))) <= set(words(text))


@pytest.mark.parametrize("columns", WIDTHS)
def test_colours_change_neither_words_nor_lines(columns: int) -> None:
    coloured = render(EVERY_BLOCK, columns, colour=True)
    assert "\x1b[" in coloured
    lines = [line.rstrip() for line in without_colours(coloured).split("\n")]
    assert lines == render(EVERY_BLOCK, columns).split("\n")


@pytest.mark.parametrize("columns", WIDTHS)
def test_a_number_in_a_table_is_never_broken(columns: int) -> None:
    lines = render(document(COUNTS), columns).split("\n")
    assert any("1,610" in line for line in lines)
    assert any("170 to 1,930" in line for line in lines)


@pytest.mark.parametrize("held", ["95 %", "30 min", "2 h", "28.3 L/min", "12 kits", "3 of 10"])
def test_a_number_stays_with_its_unit_wherever_the_line_would_end(held: str) -> None:
    for room in range(1, 60):
        text = render(document(Paragraph("x" * room + f" {held} and more words")), 60)
        assert any(held in line for line in text.split("\n"))


def test_numbers_stand_at_the_right_below_their_head_with_its_unit() -> None:
    assert render(document(COUNTS), 80) == (
        "                                in hand  wait (min)  95 % interval (min)\n"
        "entries within the target wait       28       1,610         170 to 1,930\n"
        "hours of waiting                                0.5             0.1 to 1"
    )


def test_heads_are_broken_before_the_names_of_rows() -> None:
    assert render(document(COUNTS), 64) == (
        "                                  in   wait  95 % interval\n"
        "                                hand  (min)          (min)\n"
        "entries within the target wait    28  1,610   170 to 1,930\n"
        "hours of waiting                        0.5       0.1 to 1"
    )


def test_a_table_without_room_stands_row_below_row_with_its_heads() -> None:
    wider = Table(
        (*COUNTS.columns, Column("99 % interval", "min")),
        tuple((*row, more) for row, more in zip(COUNTS.rows, ("90 to 2,480", ""), strict=True)),
    )
    assert render(document(wider), 40) == (
        "entries within the target wait\n"
        "  in hand: 28; wait (min): 1,610; 95 %\n"
        "  interval (min): 170 to 1,930; 99 %\n"
        "  interval (min): 90 to 2,480\n"
        "hours of waiting\n"
        "  wait (min): 0.5; 95 % interval (min):\n"
        "  0.1 to 1"
    )


def test_what_is_said_of_a_label_keeps_its_column() -> None:
    rows = Rows((("Stock", "28 kits, 36 batteries and 20 charger bays in hand"), ("", "and more")))
    assert render(document(rows), 40) == (
        "Stock  28 kits, 36 batteries and 20\n"
        "       charger bays in hand\n"
        "       and more"
    )  # fmt: skip


HOSTILE = "[bold]no[/bold] :smile: \x1b[31mred\x07 \u202ereversed \r\n <b> \ud800 [/] {x}"


@pytest.mark.parametrize("colour", [False, True])
@pytest.mark.parametrize(
    "block",
    [
        Heading(HOSTILE), Answer(HOSTILE), Paragraph(HOSTILE), Sentences((HOSTILE,)),
        Rows(((HOSTILE, HOSTILE),)), Table((Column(HOSTILE), Column(HOSTILE)), ((HOSTILE, "1"),)),
        Figure(HOSTILE, HOSTILE), Remark("warning", HOSTILE), Remark("caution", HOSTILE),
    ],
    ids=lambda block: type(block).__name__,
)  # fmt: skip
def test_hostile_text_is_shown_as_text(block: object, colour: bool) -> None:
    shown = render(document(block), 100, colour)  # type: ignore[arg-type]
    plain = without_colours(shown)
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e\ud800]", plain)
    flat = "".join(plain.split())
    assert "[bold]no[/bold]:smile:" in flat
    assert r"\x1b[31mred\x07" in flat
    assert "\x1b[31m" not in shown


def test_blocks_that_say_nothing_are_left_out() -> None:
    empty = document(None, Paragraph(""), Sentences(()), Rows(()), Table((Column("x"),), ()))
    assert empty.blocks == ()
    assert render(empty) == ""


def test_a_row_with_a_cell_too_few_is_refused() -> None:
    with pytest.raises(ValueError, match="one cell for each column"):
        Table((Column("a"), Column("b")), (("1",),))


def test_a_name_without_blanks_is_broken_and_not_cut() -> None:
    name = "n" * 130
    table = Table((Column("", align="left"), Column("Hours")), ((name, "1"),))
    for block in (table, Rows(((name, "text"),)), Sentences((name,))):
        assert render(document(block), 80).count("n") == 130


def test_a_command_that_is_too_long_for_the_screen_is_not_cut():
    file = f"{'x' * 90}.yaml"
    shown = render(document(Rows((("alternatives", f"surge-sim compare {file} --usual"),))), 60)
    assert file in shown
