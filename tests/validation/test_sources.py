"""``surge-sim sources`` shows the table that the tests wrote."""

from __future__ import annotations

import json
from typing import Any

import pytest

from surge_sim.report.sources import checks, checks_text, checks_with
from tests.validation.check import FALSE_ALARM, Found


def test_every_check_stands_in_the_list_with_its_source() -> None:
    """Nothing is lost in the text: each id once, each source at least once."""
    text = checks_text(checks())
    for check in checks():
        assert text.count(f"    {check['id']:<5}") == 1
        assert check["source"].split()[0] in text


def test_what_a_check_would_not_notice_stands_above_it() -> None:
    """Also in a narrowed list; once for all checks below it, and only for these."""
    first, second, third = checks()[:3]
    table = [
        {**first, "would_not_notice": "a fault of batteries"},
        {**second, "would_not_notice": "a fault of batteries"},
        {**third, "would_not_notice": "a fault of bays"},
    ]
    lines = checks_text(table).splitlines()
    places = [
        next(n for n, line in enumerate(lines) if line.startswith(start))
        for start in (
            "  Would not notice: a fault of batteries", f"    {first['id']}",
            f"    {second['id']}", "  Would not notice: a fault of bays", f"    {third['id']}",
        )
    ]  # fmt: skip
    assert places == sorted(places)
    assert sum("Would not notice" in line for line in lines) == 2


def test_text_is_no_wider_than_80_columns() -> None:
    assert max(map(len, checks_text(checks()).splitlines())) <= 80


@pytest.mark.parametrize("words", [("erlang",), ("42 CFR",), ("FROM MEMORY", "erlang"), ("Ciw",)])
def test_words_narrow_the_list_whatever_their_case(words: tuple[str, ...]) -> None:
    found = checks_with(words)
    assert 0 < len(found) < len(checks())
    for check in found:
        whole = " ".join(check.values()).lower()
        assert all(word.lower() in whole for word in words)


def test_a_word_of_what_a_check_would_not_notice_does_not_find_it() -> None:
    assert any("misread" in check["would_not_notice"] for check in checks())
    assert checks_with(("misread",)) == []


def test_the_command_prints_text_json_or_says_that_there_is_nothing(program: Any) -> None:
    done = program("sources", "niosh")
    assert done.returncode == 0
    assert "DHHS Publication 2013-146" in done.stdout
    answer = json.loads(program("sources", "--json").stdout)
    assert answer["checks"] == checks()
    assert program("sources", "zebra").stdout == "No check speaks of zebra.\n"


def test_columns_have_headings_in_every_group() -> None:
    lines = checks_text(checks()).splitlines()
    groups = [place for place, line in enumerate(lines) if line.isupper()]
    heading = ["id", "quantity", "reference", "computed", "off"]
    assert len(groups) > 5
    for place in groups:
        assert lines[place + 1].split() == heading


def test_the_text_says_that_checks_agree_and_how_far_a_simulated_one_is_off() -> None:
    """0.049983 with standard error 0.001 lies 2.5 of them above 0.047445; exact values none."""
    table = [
        {**checks()[0], "id": "A1", "reference_value": "0.047445", "computed": "0.049983 ± 0.001"},
        {**checks()[0], "id": "A2", "reference_value": "1,000", "computed": "1000"},
    ]
    text = checks_text(table)
    flat = " ".join(text.split())
    assert "All of them agree: a computed value differs by at most half a unit" in flat
    assert f"exceeds {FALSE_ALARM * 1e6:g} times in 1,000,000: {Found(0, 1).margin:.1f} s" in flat
    rows = {line.split()[0]: line.split() for line in text.splitlines() if line.startswith("    A")}
    assert rows["A1"][-5:] == ["0.047445", "0.049983", "±", "0.001", "2.5"]
    assert rows["A2"][-2:] == ["1,000", "1000"]


def test_one_kit_is_no_kits() -> None:
    assert not any(" 1 kits" in f" {check['quantity']}" for check in checks())
