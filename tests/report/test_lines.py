"""Sentences broken into lines: what belongs together stays together."""

import pytest

from surge_sim.report.lines import broken, held_together


@pytest.mark.parametrize("held", ["95 %", "30 min", "2 h", "28.3 L/min", "12 kits", "3 per day"])
def test_a_number_stays_with_its_unit_wherever_the_line_would_end(held):
    for room in range(1, 60):
        text = "x" * room + f" {held.replace(' per day', ' per')} and more words"
        lines = broken(text, 60)
        assert any(held.removesuffix(" day") in line for line in lines)
        assert " ".join(lines) == text


@pytest.mark.parametrize("behind", [",", ";", ")"])
def test_a_share_stays_with_the_last_word_of_what_it_is_a_share_of(behind):
    for room in range(1, 60):
        text = "x" * room + f" waiting for a bay 0.7 %{behind} others"
        assert any("bay 0.7 %" in line for line in broken(text, 60))


def test_a_number_and_a_word_that_is_no_unit_may_part():
    assert held_together("20 surges, 7 days") == "20 surges, 7 days"


def test_what_has_no_room_is_left_out_with_dots():
    assert broken("one two three four", 9, most=1) == ["one ..."]
    assert broken("one two", 9, first="- ", rest="  ") == ["- one two"]
    assert broken("  ", 9) == []
